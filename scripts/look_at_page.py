"""Pictures of a student's page as it comes up on a phone, a tablet, a desk and paper, to be looked at. By hand, with Chromium:

.venv/bin/python scripts/look_at_page.py PAGE.html --out FOLDER
.venv/bin/python scripts/look_at_page.py PAGE.html --readme docs/pictures/page.jpg     (three phones side by side)
.venv/bin/python scripts/look_at_page.py LESSON.html --plan docs/pictures/plan.jpg     (a lesson's page as it is printed)
"""

from __future__ import annotations

import argparse
import base64
import io
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from PIL import Image
from selenium import webdriver

PORTRAIT, LANDSCAPE, TABLET, DESK = (390, 844), (844, 390), (820, 1180), (1280, 800)
#: Name: size, whole page (or only what is seen first), dark, scripts.
LOOKS = {
    "portrait": (PORTRAIT, False, False, True),
    "portrait_whole": (PORTRAIT, True, False, True),
    "landscape": (LANDSCAPE, False, False, True),
    "tablet": (TABLET, False, False, True),
    "desk": (DESK, False, False, True),
    "desk_whole": (DESK, True, False, True),
    "dark": (PORTRAIT, True, True, True),
    "no_scripts": (PORTRAIT, True, False, False),
}


@contextmanager
def chromium(sharp: float) -> Iterator[Any]:
    """A browser without a window; sharp: pixels of the picture for one of the page."""
    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium")
    for word in ("--headless=new", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--hide-scrollbars"):
        options.add_argument(word)
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(shutil.which("chromedriver")))
    driver.sharp = sharp
    try:
        yield driver
    finally:
        driver.quit()


def opened(driver: Any, page: Path, size: tuple[int, int], dark: bool, scripts: bool) -> None:
    """Open the page and wait for the dancer."""
    wide, high = size
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": wide, "height": high, "deviceScaleFactor": driver.sharp, "mobile": wide < 1000},
    )
    features = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    driver.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": not scripts})
    driver.get(page.resolve().as_uri())
    end = time.monotonic() + 30
    while scripts and time.monotonic() < end:
        if driver.execute_script("const s = document.getElementById('stage'); return !s || s.dataset.eye || s.dataset.failed"):
            break
        time.sleep(0.1)
    time.sleep(0.5)


def picture(driver: Any, *, whole: bool = False) -> Image.Image:
    """What is seen, or all of the page."""
    data = driver.execute_cdp_cmd("Page.captureScreenshot", {"captureBeyondViewport": whole, "format": "png"})["data"]
    return Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB")


def look(page: Path, out: Path) -> None:
    """Make all pictures of LOOKS, and the printed side as PDF."""
    out.mkdir(parents=True, exist_ok=True)
    with chromium(1.0) as driver:
        for name, (size, whole, dark, scripts) in LOOKS.items():
            opened(driver, page, size, dark, scripts)
            picture(driver, whole=whole).save(out / f"{name}.png")
        opened(driver, page, DESK, False, True)
        printed = driver.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": True})["data"]
        (out / "printed.pdf").write_bytes(base64.b64decode(printed))


def readme(page: Path, to: Path) -> None:
    """Three phones side by side: the dancer, a card with before and now, the same page where no scripts run."""
    with chromium(1.5) as driver:
        opened(driver, page, PORTRAIT, False, True)
        shots = [picture(driver)]
        driver.execute_script(
            "document.documentElement.style.scrollBehavior = 'auto'; document.querySelector('article').scrollIntoView();"
        )
        time.sleep(0.5)
        shots.append(picture(driver))
        opened(driver, page, PORTRAIT, True, True)
        driver.execute_script("document.querySelectorAll('.numbers a')[2].click()")
        time.sleep(1.0)
        shots.append(picture(driver))
    wide, high = shots[0].size
    gap = wide // 16
    sheet = Image.new("RGB", (3 * wide + 4 * gap, high + 2 * gap), (226, 221, 213))
    for place, shot in enumerate(shots):
        sheet.paste(shot, (gap + place * (wide + gap), gap))
    sheet.resize((1280, round(1280 * sheet.height / sheet.width)), Image.Resampling.LANCZOS).save(to, quality=86)


def plan(page: Path, to: Path) -> None:
    """The upper half of a lesson's first side as it is printed, with its margins."""
    wide, high = 760, 640
    with chromium(1.6) as driver:
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride", {"width": wide, "height": high, "deviceScaleFactor": 1.6, "mobile": False}
        )
        driver.get(page.resolve().as_uri())
        shot = picture(driver)
    margin = shot.width // 24
    paper = Image.new("RGB", (shot.width + 2 * margin, shot.height + margin), "white")
    paper.paste(shot, (margin, margin))
    paper.resize((1120, round(1120 * paper.height / paper.width)), Image.Resampling.LANCZOS).save(to, quality=80)


def main() -> None:
    """Make the pictures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("page", type=Path)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--readme", type=Path)
    parser.add_argument("--plan", type=Path)
    arguments = parser.parse_args()
    if arguments.out is not None:
        look(arguments.page, arguments.out)
    if arguments.readme is not None:
        readme(arguments.page, arguments.readme)
    if arguments.plan is not None:
        plan(arguments.page, arguments.plan)


if __name__ == "__main__":
    main()
