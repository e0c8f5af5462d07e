"""One page and one browser for all tests of the student's page: making either takes seconds."""

from __future__ import annotations

import base64
import os
import shutil
import subprocess
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.page import Pictures, story_of, write, write_page
from in_the_round.analysis_core.page.things import things_of
from in_the_round.analysis_core.review import Review

CHROMIUM = {name: shutil.which(name) for name in ("chromium", "chromedriver")}
WEBKIT = {name: shutil.which(name) for name in ("WebKitWebDriver", "Xvfb")}
#: The small browser that comes with the engine: in no folder of the search path.
SMALL_BROWSER = next(iter(sorted(Path("/usr").glob("lib*/**/webkit2gtk-4.1/MiniBrowser"))), None)
#: A real picture of one pixel (WebP, lossless).
PIXEL = base64.b64decode("UklGRhoAAABXRUJQVlA4TA0AAAAvAAAAEAcQERGIiP4HAA==")
PHONE = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}


@pytest.fixture(scope="session")
def page(takes: tuple[Review, Review], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three cards, before and now, pictures and all sections."""
    names = [thing.finding.id for thing in things_of(takes[0])]
    pictures = Pictures(*({name: PIXEL for name in names} for _ in range(3)))
    path = tmp_path_factory.mktemp("page") / "page.html"
    write_page(story_of(*takes), path, pictures)
    return path


@dataclass(frozen=True)
class Browser:
    """Chromium by its own protocol, and what the tests ask of it."""

    driver: Any

    def tell(self, command: str, **what: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, what)

    def run(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    def screen(self, **what: Any) -> None:
        self.tell("Emulation.setDeviceMetricsOverride", **{**PHONE, **what})

    def media(self, **features: str) -> None:
        """Media features by name, with _ for -; a medium as ``media``."""
        medium = features.pop("media", "")
        told = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
        self.tell("Emulation.setEmulatedMedia", media=medium, features=told)

    def until(self, told: Callable[[], Any], seconds: float = 60.0) -> Any:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if value := told():
                return value
            time.sleep(0.05)
        pytest.fail("the page did not come to it")

    def open(self, page: Path, *, dancer: bool = True) -> None:
        self.driver.get(page.as_uri())
        if dancer:
            self.until(lambda: self.run("return document.getElementById('stage').dataset.ready"))

    def find(self, selector: str) -> Any:
        return self.driver.find_element("css selector", selector)

    @property
    def time(self) -> float:
        """Where the time line stands, 0 to 1."""
        return float(self.run("return document.querySelector('input[type=range]').value"))

    @property
    def eye(self) -> list[float]:
        """How far round, how far up and how far away the camera is."""
        return [float(part) for part in self.run("return document.getElementById('stage').dataset.eye").split()]


@contextmanager
def _started(*more: str) -> Iterator[Browser]:
    """Chromium without a window. more: words of its command line."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    if None in CHROMIUM.values():
        pytest.skip("needs the system packages chromium and chromium-driver")
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM["chromium"]
    for word in ("--headless=new", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", *more):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(CHROMIUM["chromedriver"]))
    try:
        yield Browser(driver)
    finally:
        driver.quit()


@pytest.fixture(scope="session")
def chromium() -> Callable[..., AbstractContextManager[Browser]]:
    """Starts another Chromium than that of most tests."""
    return _started


@pytest.fixture(scope="session")
def _chromium() -> Iterator[Browser]:
    with _started() as browser:
        yield browser


@pytest.fixture
def browser(_chromium: Browser) -> Iterator[Browser]:
    """A phone without a network."""
    if not write.VIEWER.is_file():
        pytest.skip("the viewer was not built: scripts/build_viewer.py")
    _chromium.tell("Network.enable")
    _chromium.tell("Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0, uploadThroughput=0)
    _chromium.screen()
    _chromium.driver.get_log("browser")
    yield _chromium
    _chromium.tell("Emulation.setScriptExecutionDisabled", value=False)
    _chromium.tell("Emulation.setTouchEmulationEnabled", enabled=False)
    _chromium.media()
    _chromium.driver.get("about:blank")


@pytest.fixture(scope="session")
def webkit() -> Iterator[Browser]:
    """WebKit under a virtual screen."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    if None in WEBKIT.values() or SMALL_BROWSER is None:
        pytest.skip("needs the system packages webkit2gtk-driver and xvfb")
    ours, its = os.pipe()
    screen = subprocess.Popen(
        [str(WEBKIT["Xvfb"]), "-displayfd", str(its), "-screen", "0", "1280x1024x24", "-nolisten", "tcp"],
        pass_fds=(its,),
        stderr=subprocess.DEVNULL,
    )
    os.close(its)
    try:
        display = os.read(ours, 20).decode().strip()
        options = webdriver.WebKitGTKOptions()
        options.binary_location = str(SMALL_BROWSER)
        options.add_argument("--automation")
        service = webdriver.WebKitGTKService(WEBKIT["WebKitWebDriver"], env={**os.environ, "DISPLAY": f":{display}"})
        with warnings.catch_warnings():
            # selenium 4.51 warns of its own way to start this driver.
            warnings.simplefilter("ignore", DeprecationWarning)
            driver = webdriver.WebKitGTK(options=options, service=service)
        try:
            # As wide and high as this browser's own parts let it be.
            driver.set_window_size(500, 900)
            yield Browser(driver)
        finally:
            driver.quit()
    finally:
        os.close(ours)
        screen.terminate()
        screen.wait()
