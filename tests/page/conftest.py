"""One page and one browser for all tests of the student's page: making either takes seconds."""

from __future__ import annotations

import base64
import os
import re
import shutil
import subprocess
import time
import warnings
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

import pytest
from in_the_round.analysis_core.page import Pictures, story_of, write, write_page
from in_the_round.analysis_core.page.story import Story
from in_the_round.analysis_core.review import Review

CHROMIUM = {name: shutil.which(name) for name in ("chromium", "chromedriver")}
WEBKIT = {name: shutil.which(name) for name in ("WebKitWebDriver", "Xvfb")}
#: The small browser that comes with the engine: in no folder of the search path.
SMALL_BROWSER = next(iter(sorted(Path("/usr").glob("lib*/**/webkit2gtk-4.1/MiniBrowser"))), None)
#: A real picture of one pixel (WebP, lossless).
PIXEL = base64.b64decode("UklGRhoAAABXRUJQVlA4TA0AAAAvAAAAEAcQERGIiP4HAA==")
#: 3-D is drawn by the processor, as for want of a graphics card. All else is drawn without that detour, which costs a third more.
COMMAND_LINE = (
    "--headless=new",
    "--no-sandbox",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-gpu-rasterization",
    "--disable-gpu-compositing",
)
#: What the browser says about itself when it is started so, not about the page.
OF_ITS_OWN = "GPU stall due to ReadPixels"
PHONE = {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}


@pytest.fixture(scope="session")
def story(takes: tuple[Review, Review]) -> Story:
    """What the page of the two takes tells. Nobody changes it."""
    return story_of(*takes)


@pytest.fixture(scope="session")
def page(story: Story, made_once: Callable[[str, Callable[[Path], object]], Path]) -> Path:
    """Three cards, before and now, pictures and all sections. Nobody changes it."""
    names = [card.thing.finding.id for card in story.cards]
    pictures = Pictures(*({name: PIXEL for name in names} for _ in range(3)))
    return made_once("page", lambda folder: write_page(story, folder / "page.html", pictures)) / "page.html"


@pytest.fixture(scope="session")
def page_without_scripts(page: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """As a preview has it that runs none."""
    without = tmp_path_factory.mktemp("page") / "without.html"
    without.write_text(re.sub(r"<script>.*?</script>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL), encoding="utf-8")
    return without


@dataclass(frozen=True)
class Browser:
    """Chromium by its own protocol, and what the tests ask of it."""

    driver: Any
    #: Run before the page's own script: the dancer is built, posed and turned as ever, and no pixel of her is drawn (most of what
    #: a page costs where the processor draws). Names: the WebGL 2.0 specification.
    UNDRAWN: ClassVar[str] = (
        "for (const name of ['clear', 'drawArrays', 'drawElements', 'drawRangeElements', 'drawArraysInstanced',"
        " 'drawElementsInstanced']) WebGL2RenderingContext.prototype[name] = () => {};"
    )
    #: As on a device that has no 3-D: the canvas gives no context (HTML standard), and the viewer ends where it asks for one.
    WITHOUT_3D: ClassVar[str] = "HTMLCanvasElement.prototype.getContext = () => null;"

    def tell(self, command: str, **what: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, what)

    def run(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    @property
    def said(self) -> list[dict[str, Any]]:
        """What it has said in its console about the page since it was last asked."""
        return [line for line in self.driver.get_log("browser") if OF_ITS_OWN not in line["message"]]

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

    def open(self, page: Path, *, dancer: bool = True, first: str = "") -> None:
        """dancer: wait until she stands; first: a script that runs before those of the page (Chromium only)."""
        told = self.tell("Page.addScriptToEvaluateOnNewDocument", source=first) if first else None
        try:
            self.driver.get(page.as_uri())
        finally:
            if told:
                self.tell("Page.removeScriptToEvaluateOnNewDocument", **told)
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


@pytest.fixture(scope="session")
def _chromium() -> Iterator[Browser]:
    """Chromium without a window, one for all tests of a process."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    if None in CHROMIUM.values():
        pytest.skip("needs the system packages chromium and chromium-driver")
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM["chromium"]
    for word in COMMAND_LINE:
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(CHROMIUM["chromedriver"]))
    try:
        yield Browser(driver)
    finally:
        driver.quit()


@contextmanager
def _as_a_phone(browser: Browser) -> Iterator[Browser]:
    if not write.VIEWER.is_file():
        pytest.skip("the viewer was not built: scripts/build_viewer.py")
    browser.tell("Network.enable")
    browser.tell("Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0, uploadThroughput=0)
    browser.screen()
    browser.driver.get_log("browser")
    try:
        yield browser
    finally:
        browser.tell("Emulation.setScriptExecutionDisabled", value=False)
        browser.tell("Emulation.setTouchEmulationEnabled", enabled=False)
        browser.media()
        browser.driver.get("about:blank")


@pytest.fixture(scope="session")
def phone() -> Callable[[Browser], AbstractContextManager[Browser]]:
    """Makes a phone of a browser for a while: for what is looked at once for several tests."""
    return _as_a_phone


@pytest.fixture
def browser(_chromium: Browser) -> Iterator[Browser]:
    """A phone without a network."""
    with _as_a_phone(_chromium) as made:
        yield made


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
