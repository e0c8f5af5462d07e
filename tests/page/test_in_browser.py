"""The student's page in a real browser, from a file, offline: Chromium by its own protocol."""

from __future__ import annotations

import base64
import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.page import Pictures, story_of, write_page
from in_the_round.analysis_core.page.write import VIEW_SIZE, VIEWS
from in_the_round.analysis_core.review import Review

pytestmark = pytest.mark.slow
#: What is seen of a sheet of twelve views, and the sheet.
PRINTED = (".opening .turn", ".opening img")


def test_dancer_stands_in_three_d_and_goes_to_each_moment(browser: Any, page: Path) -> None:
    browser.open(page)
    assert browser.said == []
    assert browser.run("return performance.getEntriesByType('resource').filter((e) => !e.name.startsWith('data:')).length") == 0
    said, times = [], []
    for number in (1, 2):
        browser.run(f"document.querySelectorAll('.numbers a')[{number - 1}].click()")
        said.append(browser.find(".said").text)
        times.append(browser.time)
        assert browser.run("return document.querySelectorAll('.numbers [aria-current]').length") == 1
    assert said[0].startswith("1.")
    assert said[1].startswith("2.")
    assert times[0] != times[1]


def test_policy_is_in_force(browser: Any, page: Path) -> None:
    """Fetch, a foreign picture and an injected script are refused by the page itself."""
    browser.open(page, dancer=False, first=browser.WITHOUT_3D)
    refused = browser.driver.execute_async_script(
        "const done = arguments[0], seen = [], told = () => done([...seen, String(window.broken)]);"
        "addEventListener('securitypolicyviolation', (e) => { if (seen.push(e.effectiveDirective) === 3) told(); });"
        "fetch('https://example.invalid/').catch(() => 0); new Image().src = 'https://example.invalid/x.png';"
        "const s = document.createElement('script'); s.textContent = 'window.broken = 1'; document.body.append(s);"
        "setTimeout(told, 5000);"
    )
    assert {"connect-src", "img-src", "script-src-elem"} <= set(refused)
    assert "undefined" in refused


def test_without_scripts_everything_but_the_stage_is_there(browser: Any, page: Path) -> None:
    browser.tell("Emulation.setScriptExecutionDisabled", value=True)
    browser.open(page, dancer=False)
    said = browser.find("main").text
    assert "hings to work on" in said
    assert "How it feels when it works" in said
    assert browser.find(".round").is_displayed()
    assert not browser.find("#stage").is_displayed()


def test_print_is_one_side(browser: Any, page: Path) -> None:
    browser.open(page, first=browser.UNDRAWN)
    pdf = base64.b64decode(browser.tell("Page.printToPDF", preferCSSPageSize=True)["data"])
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1


def test_print_of_nothing_to_correct_shows_the_dancer(browser: Any, takes: tuple[Review, Review], tmp_path: Path) -> None:
    """One of the twelve views, whole: the sheet is as wide as twelve of what is seen of it."""
    from PIL import Image

    story = story_of(replace(takes[1], analysed=()))
    assert story.opening is not None
    sheet = io.BytesIO()
    Image.new("RGB", (VIEWS * VIEW_SIZE[0], VIEW_SIZE[1])).save(sheet, "WEBP")
    write_page(story, tmp_path / "page.html", Pictures(sheets={story.opening.id: sheet.getvalue()}))
    browser.open(tmp_path / "page.html", dancer=False, first=browser.WITHOUT_3D)
    browser.media(media="print")
    seen, whole = (browser.run(f"return document.querySelector('{part}').getBoundingClientRect().toJSON()") for part in PRINTED)
    assert whole["width"] == pytest.approx(12 * seen["width"], abs=2)
    assert whole["left"] == pytest.approx(seen["left"], abs=1)
    assert whole["height"] == pytest.approx(seen["height"], abs=2)
    assert seen["height"] > 200
    pdf = base64.b64decode(browser.tell("Page.printToPDF", preferCSSPageSize=True)["data"])
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1
