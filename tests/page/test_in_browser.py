"""The student's page in a real browser, from a file, offline: Chromium by its own protocol."""

from __future__ import annotations

import base64
import re
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow


def test_dancer_stands_in_three_d_and_goes_to_each_moment(browser: Any, page: Path) -> None:
    browser.open(page)
    assert browser.driver.get_log("browser") == []
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
    # Playing moves the time, and stops again.
    browser.run("document.querySelector('.play').click()")
    browser.until(lambda: browser.time != times[1])


def test_policy_is_in_force(browser: Any, page: Path) -> None:
    """Fetch, a foreign picture and an injected script are refused by the page itself."""
    browser.open(page, dancer=False)
    refused = browser.driver.execute_async_script(
        "const done = arguments[0]; const seen = [];"
        "addEventListener('securitypolicyviolation', (e) => seen.push(e.effectiveDirective));"
        "fetch('https://example.invalid/').catch(() => 0); new Image().src = 'https://example.invalid/x.png';"
        "const s = document.createElement('script'); s.textContent = 'window.broken = 1'; document.body.append(s);"
        "setTimeout(() => done([...seen, String(window.broken)]), 500);"
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
    browser.open(page, dancer=False)
    pdf = base64.b64decode(browser.tell("Page.printToPDF", preferCSSPageSize=True)["data"])
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1
