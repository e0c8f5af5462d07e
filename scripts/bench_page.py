"""The student's page: how large it is and of what, how long writing takes, what it costs a browser."""

from __future__ import annotations

import base64
import shutil
import tempfile
import time
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

from bench_common import DATA, SETTINGS, Row

_KB = 1000.0


def _story() -> Any:
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.page import story_of

    return story_of(*(analyse(DATA / f"{name}.c3d", SETTINGS) for name in ("careless", "careful")))


def sizes() -> list[Row]:
    """The page of the demo takes without pictures (these need Blender), what it is made of, and the processor's time."""
    from in_the_round.analysis_core.page import Pictures, write_page
    from in_the_round.analysis_core.page.dancer import glb_for
    from in_the_round.analysis_core.page.write import VIEWER

    story = _story()
    with tempfile.TemporaryDirectory() as folder:
        write_page(story, Path(folder) / "page.html", Pictures())
        used = time.process_time()
        told = write_page(story, Path(folder) / "page.html", Pictures(), overwrite=True)
        used = time.process_time() - used
    dancer = len(base64.b64encode(zlib.compress(glb_for(story), 9)))
    alone = len(base64.b64encode(zlib.compress(glb_for(replace(story, earlier=None, comparison=None)), 9)))
    return [
        Row("page of two takes of 20 s, no pictures, no film", told["bytes"] / _KB, "kB", 1500.0),
        Row("library and script", VIEWER.stat().st_size / _KB, "kB", 700.0),
        Row("dancer, two takes", dancer / _KB, "kB", 650.0),
        Row("each 20 s of take more", (dancer - alone) / _KB, "kB", 300.0),
        Row("writing data and page, processor", used, "s", 1.5),
    ]


def _metrics(driver: Any) -> dict[str, float]:
    return {item["name"]: item["value"] for item in driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]}


def in_chromium() -> list[Row]:
    """Time of the main thread until the dancer stands and for each frame, memory of the script; by the browser's own counters."""
    from in_the_round.analysis_core.page import Pictures, write_page
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = shutil.which("chromium") or ""
    for word in ("--headless=new", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"):
        options.add_argument(word)
    driver = webdriver.Chrome(options=options, service=webdriver.ChromeService(shutil.which("chromedriver")))
    try:
        driver.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
        driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride", {"width": 390, "height": 844, "deviceScaleFactor": 1, "mobile": True}
        )
        with tempfile.TemporaryDirectory() as folder:
            page = Path(folder) / "page.html"
            write_page(_story(), page, Pictures())
            before = _metrics(driver)
            driver.get(page.as_uri())
            while not driver.execute_script("return document.getElementById('stage').dataset.eye"):
                time.sleep(0.05)
            stood = _metrics(driver)
            frames = driver.execute_async_script(
                "const done = arguments[0]; let frames = 0; const count = () => { frames += 1; requestAnimationFrame(count); };"
                "document.querySelector('.play').click(); count(); setTimeout(() => done(frames), 4000);"
            )
            played = _metrics(driver)
    finally:
        driver.quit()
    each = {name: 1000.0 * (played[name] - stood[name]) / frames for name in ("TaskDuration", "ScriptDuration")}
    return [
        Row("main thread until the dancer stands", 1000.0 * (stood["TaskDuration"] - before["TaskDuration"]), "ms", 400.0),
        Row("each frame, main thread", each["TaskDuration"], "ms", 4.0),
        Row("each frame, script", each["ScriptDuration"], "ms", 1.5),
        Row("memory of the script", played["JSHeapUsedSize"] / 1e6, "MB", 40.0),
    ]
