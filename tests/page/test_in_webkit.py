"""The student's page in the engine of the phones that open it with Safari: WebKit under a virtual screen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.page import write

pytestmark = pytest.mark.slow


def test_dancer_turns_and_goes_to_each_moment(webkit: Any, page: Path) -> None:
    if not write.VIEWER.is_file():
        pytest.skip("the viewer was not built: scripts/build_viewer.py")
    webkit.open(page)
    before = webkit.until(lambda: webkit.run("return document.getElementById('stage').dataset.eye") and webkit.eye)
    at = webkit.time
    webkit.run("document.querySelector('.left').click()")
    webkit.until(lambda: abs(webkit.eye[0] - before[0]) > 0.2)
    webkit.run("document.querySelectorAll('.numbers a')[1].click()")
    assert webkit.find(".said").text.startswith("2.")
    assert webkit.time != at
    assert webkit.run("return document.documentElement.scrollWidth <= innerWidth")
    assert webkit.run("return performance.getEntriesByType('resource').filter((e) => !e.name.startsWith('data:')).length") == 0


def test_policy_refuses_to_fetch(webkit: Any, page_without_scripts: Path) -> None:
    webkit.open(page_without_scripts, dancer=False)
    assert (
        webkit.driver.execute_async_script(
            "const done = arguments[0]; addEventListener('securitypolicyviolation', (e) => done(e.effectiveDirective));"
            "fetch('https://example.invalid/').then(() => done('fetched'), () => 0);"
        )
        == "connect-src"
    )


def test_dancer_turns_under_the_finger_without_scripts(webkit: Any, page_without_scripts: Path) -> None:
    """The page as a preview that runs no scripts has it: words, pictures, and a sheet of views that turns as it is swiped."""
    webkit.open(page_without_scripts, dancer=False)
    assert "How it feels when it works" in webkit.find("main").text
    assert not webkit.find("#stage").is_displayed()
    if not webkit.run("return CSS.supports('animation-timeline:scroll()')"):
        pytest.skip("this engine has no scroll timelines: the sheet is a strip to swipe")
    moved = webkit.driver.execute_async_script(
        "const done = arguments[0], round = document.querySelector('.round'), seen = [];"
        "const look = (share) => { round.scrollLeft = share * (round.scrollWidth - round.clientWidth);"
        " requestAnimationFrame(() => requestAnimationFrame(() => { const box = round.getBoundingClientRect(),"
        " image = round.querySelector('img').getBoundingClientRect(); seen.push((box.left - image.left) / box.width);"
        " if (share < 1) look(share + .5); else done(seen); })); }; look(0);"
    )
    # Twelve views side by side: the first, one of the middle, the last.
    assert moved == pytest.approx([0.0, 6.0, 11.0], abs=0.6)
