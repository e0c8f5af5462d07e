"""The student's page: how large it is and of what, how long writing takes, what it costs a browser.

Measured without a graphics card: page 1306 kB (script 694, dancer 570), 20 s more 127 kB, ten minutes 1523 kB, the demo's page
with nine pictures 1573 kB; writing 0.9 s; thread 353 ms until the dancer stands, 1.9 ms a frame (script 0.9), 4.6 MB of memory.
"""

from __future__ import annotations

import base64
import shutil
import tempfile
import time
import zlib
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
from bench_common import DATA, SETTINGS, Row

_KB = 1000.0
#: A take so long is the longest that must still fit into a mail, 7 MB with library and pictures.
_LONG_S = 600.0
#: Frames are counted in the second so many seconds, when the script is compiled, and on a small stage: without a graphics card
#: the processor draws it beside the main thread, and few frames come (49 in 10 s on a phone's stage: 3.4 and 1.5 ms).
_WARM_S, _COUNTED_S, _SMALL = 6.0, 6.0, (200, 300)


def _story() -> Any:
    from in_the_round.analysis_core.analyse import analyse
    from in_the_round.analysis_core.page import story_of

    return story_of(*(analyse(DATA / f"{name}.c3d", SETTINGS) for name in ("careless", "careful")))


def _long(review: Any) -> Any:
    """The same dance for _LONG_S, each time at another tempo: repeated alike, packing would keep it only once."""
    movement = review.movement
    random = np.random.default_rng(0)
    times = round(_LONG_S * movement.rate_hz / movement.frames)
    tempi = random.uniform(0.85, 1.15, times)
    taken = np.concatenate([np.linspace(0.0, movement.frames - 1, round(movement.frames * tempo)) for tempo in tempi])
    taken = np.round(taken).astype(int)
    arrays = {item.name: getattr(movement, item.name) for item in fields(movement)}
    of_frames = {name: a for name, a in arrays.items() if isinstance(a, np.ndarray) and a.shape[:1] == (movement.frames,)}
    more = {name: array[taken] for name, array in of_frames.items()}
    more["time_s"] = np.arange(len(taken)) / movement.rate_hz
    return replace(review, movement=replace(movement, **more))


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
    longer = glb_for(replace(story, review=_long(story.review), earlier=None, comparison=None))
    alone = len(base64.b64encode(zlib.compress(glb_for(replace(story, earlier=None, comparison=None)), 9)))
    return [
        Row("page of two takes of 20 s, no pictures, no film", told["bytes"] / _KB, "kB", 1500.0),
        Row("library and script", VIEWER.stat().st_size / _KB, "kB", 700.0),
        Row("dancer, two takes", dancer / _KB, "kB", 650.0),
        Row("each 20 s of take more", (dancer - alone) / _KB, "kB", 300.0),
        Row(
            f"dancer, {_LONG_S / 60:.0f} minutes of one take", len(base64.b64encode(zlib.compress(longer, 9))) / _KB, "kB", 5500.0
        ),
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
            driver.execute_cdp_cmd(
                "Emulation.setDeviceMetricsOverride",
                {"width": _SMALL[0], "height": _SMALL[1], "deviceScaleFactor": 1, "mobile": True},
            )
            driver.execute_script(
                "window.frames_seen = 0; const count = () => { window.frames_seen += 1; requestAnimationFrame(count); }; count();"
                "document.querySelector('.play').click();"
            )
            time.sleep(_WARM_S)
            warm, seen = _metrics(driver), driver.execute_script("return window.frames_seen")
            time.sleep(_COUNTED_S)
            played, frames = _metrics(driver), driver.execute_script("return window.frames_seen") - seen
    finally:
        driver.quit()
    each = {name: 1000.0 * (played[name] - warm[name]) / frames for name in ("TaskDuration", "ScriptDuration")}
    return [
        Row("main thread until the dancer stands", 1000.0 * (stood["TaskDuration"] - before["TaskDuration"]), "ms", 400.0),
        Row("each frame, main thread", each["TaskDuration"], "ms", 4.0),
        Row("each frame, script", each["ScriptDuration"], "ms", 1.5),
        Row("frames that were counted", frames, "", None, 100.0),
        Row("memory of the script", played["JSHeapUsedSize"] / 1e6, "MB", 40.0),
    ]
