"""The student's page in a real browser, from a file, offline: Chromium by its own protocol."""

from __future__ import annotations

import base64
import re
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.page import Pictures, story_of, write, write_page
from in_the_round.analysis_core.page.things import things_of
from in_the_round.simulated_dancer import Fault
from in_the_round.simulated_dancer.trials import Recorded, record, review_of

webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
PROGRAMS = {name: shutil.which(name) for name in ("chromium", "chromedriver")}
pytestmark = [
    pytest.mark.skipif(None in PROGRAMS.values(), reason="needs the system packages chromium and chromium-driver"),
    pytest.mark.skipif(not write.VIEWER.is_file(), reason="the viewer was not built: scripts/build_viewer.py"),
    pytest.mark.slow,
]
#: A real picture of one pixel (WebP, lossless).
PIXEL = base64.b64decode("UklGRhoAAABXRUJQVlA4TA0AAAAvAAAAEAcQERGIiP4HAA==")
PHONE = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    faults = (Fault("axis-tilts", "turn-1", 8.0), Fault("heel-lifts-early", "turn-1", 30.0), Fault("arms-drop", "turn-1", 120.0))
    now, before = (review_of(record(Recorded(rate_hz=60.0), told)) for told in (faults, ()))
    names = [thing.finding.id for thing in things_of(now)]
    pictures = Pictures(*({name: PIXEL for name in names} for _ in range(3)))
    path = tmp_path_factory.mktemp("page") / "page.html"
    write_page(story_of(now, before), path, pictures)
    return path


@pytest.fixture
def browser() -> Iterator[Any]:
    options = webdriver.ChromeOptions()
    options.binary_location = PROGRAMS["chromium"]
    for word in ("--headless=new", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(PROGRAMS["chromedriver"]))
    driver.execute_cdp_cmd("Network.enable", {})
    driver.execute_cdp_cmd(
        "Network.emulateNetworkConditions", {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
    )
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", PHONE)
    yield driver
    driver.quit()


def until(told: Callable[[], Any], seconds: float = 60.0) -> Any:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if value := told():
            return value
        time.sleep(0.1)
    pytest.fail("the page did not come to it")


def opened(browser: Any, page: Path) -> None:
    browser.get(page.as_uri())
    until(lambda: browser.execute_script("return document.getElementById('stage').dataset.ready"))


def test_dancer_stands_in_three_d_and_goes_to_each_moment(browser: Any, page: Path) -> None:
    opened(browser, page)
    assert browser.get_log("browser") == []
    assert (
        browser.execute_script(
            "return performance.getEntriesByType('resource').filter((e) => !e.name.startsWith('data:')).length"
        )
        == 0
    )
    said, times = [], []
    for number in (1, 2):
        browser.execute_script(f"document.querySelectorAll('.numbers a')[{number - 1}].click()")
        said.append(browser.execute_script("return document.querySelector('.said').textContent"))
        times.append(browser.execute_script("return document.querySelector('input[type=range]').value"))
        assert browser.execute_script("return document.querySelectorAll('.numbers [aria-current]').length") == 1
    assert said[0].startswith("1.")
    assert said[1].startswith("2.")
    assert times[0] != times[1]
    # Playing moves the time, and stops again.
    browser.execute_script("document.querySelector('.play').click()")
    until(lambda: browser.execute_script("return document.querySelector('input[type=range]').value") != times[1])


def test_policy_is_in_force(browser: Any, page: Path) -> None:
    """Fetch, a foreign picture and an injected script are refused by the page itself."""
    opened(browser, page)
    refused = browser.execute_async_script(
        "const done = arguments[0]; const seen = [];"
        "addEventListener('securitypolicyviolation', (e) => seen.push(e.effectiveDirective));"
        "fetch('https://example.invalid/').catch(() => 0); new Image().src = 'https://example.invalid/x.png';"
        "const s = document.createElement('script'); s.textContent = 'window.broken = 1'; document.body.append(s);"
        "setTimeout(() => done([...seen, String(window.broken)]), 500);"
    )
    assert {"connect-src", "img-src", "script-src-elem"} <= set(refused)
    assert "undefined" in refused


def test_without_scripts_everything_but_the_stage_is_there(browser: Any, page: Path) -> None:
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    browser.get(page.as_uri())
    body = browser.find_element("css selector", "main")
    assert "Three things to work on" in body.text or "things to work on" in body.text
    assert "How it feels when it works" in body.text
    assert browser.find_element("css selector", ".round").is_displayed()
    assert not browser.find_element("id", "stage").is_displayed()


def test_small_screens_do_not_scroll_sideways(browser: Any, page: Path) -> None:
    for width in (320, 390, 768, 1280):
        browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {**PHONE, "width": width})
        opened(browser, page)
        assert browser.execute_script("return document.documentElement.scrollWidth") <= width


def test_print_is_one_side(browser: Any, page: Path) -> None:
    opened(browser, page)
    pdf = base64.b64decode(browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"])
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1
