"""The dancer under the finger: real touches, sent to Chromium by its own protocol."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.slow
_STEPS = 6


def touch(browser: Any, *fingers: tuple[tuple[float, float], tuple[float, float]]) -> None:
    """Fingers that go down together, each from a place to another, and are lifted."""
    places = [
        [{"x": a[0] + (b[0] - a[0]) * step / _STEPS, "y": a[1] + (b[1] - a[1]) * step / _STEPS, "id": finger}
         for finger, (a, b) in enumerate(fingers)]
        for step in range(_STEPS + 1)
    ]  # fmt: skip
    browser.tell("Input.dispatchTouchEvent", type="touchStart", touchPoints=places[0])
    for place in places[1:]:
        browser.tell("Input.dispatchTouchEvent", type="touchMove", touchPoints=place)
    browser.tell("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])


@pytest.fixture(scope="module")
def _held(_chromium: Any, phone: Any, page: Path) -> Iterator[Any]:
    """One page for all tests here: opening it costs more than they do."""
    with phone(_chromium) as browser:
        browser.media(prefers_reduced_motion="reduce")
        browser.tell("Emulation.setTouchEmulationEnabled", enabled=True, maxTouchPoints=5)
        browser.open(page, first=browser.UNDRAWN)
        yield browser


@pytest.fixture
def browser(_held: Any) -> Any:
    """The page as it opens: at the first correction of this take, seen from its best side, at the top."""
    _held.run(
        "document.querySelector('[name=take][value=now]').click(); document.querySelector('.numbers a').click(); scrollTo(0, 0);"
    )
    _held.until(lambda: _held.run("return document.getElementById('stage').dataset.eye"))
    _rests_at_top(_held)
    return _held


def _rests_at_top(browser: Any) -> None:
    """Wait until the page keeps to its top: a page that a finger threw goes on by itself, and a touch only stops it then."""
    seen: list[bool] = []

    def rests() -> bool:
        seen.append(bool(browser.run("const y = scrollY; if (y) scrollTo(0, 0); return y === 0")))
        return len(seen) > 4 and all(seen[-4:])

    browser.until(rests)


@pytest.fixture
def middle(browser: Any) -> tuple[float, float]:
    """The middle of the stage, ready for fingers."""
    x, y = browser.run(
        "const box = document.querySelector('canvas').getBoundingClientRect();"
        "return [box.x + box.width / 2, box.y + box.height / 2]"
    )
    return float(x), float(y)


def settled(browser: Any) -> list[float]:
    """The camera once two looks agree."""
    seen: list[list[float]] = []

    def still() -> bool:
        seen.append(browser.eye)
        return len(seen) > 4 and seen[-1] == seen[-2] == seen[-3]

    browser.until(still)
    return seen[-1]


def test_across_turns_and_does_not_scroll(browser: Any, middle: tuple[float, float]) -> None:
    before, (x, y) = settled(browser), middle
    touch(browser, ((x - 80, y), (x + 80, y + 4)))
    browser.until(lambda: abs(browser.eye[0] - before[0]) > 0.3)
    assert browser.run("return scrollY") == 0
    assert abs(settled(browser)[2] - before[2]) < 0.01


def test_down_scrolls_and_leaves_the_dancer(browser: Any, middle: tuple[float, float]) -> None:
    before, (x, y) = settled(browser), middle
    touch(browser, ((x, y + 90), (x + 3, y - 120)))
    browser.until(lambda: browser.run("return scrollY") > 60)
    assert settled(browser) == pytest.approx(before, abs=0.01)


def test_pinch_comes_nearer(browser: Any, middle: tuple[float, float]) -> None:
    before, (x, y) = settled(browser), middle
    touch(browser, ((x - 20, y), (x - 90, y)), ((x + 20, y), (x + 90, y)))
    browser.until(lambda: browser.eye[2] < 0.8 * before[2])
    assert browser.run("return visualViewport.scale") == 1


def test_a_tap_on_two_shows_its_time_view_and_cue(browser: Any, middle: tuple[float, float]) -> None:
    before, time = settled(browser), browser.time
    x, y = browser.run(
        "const box = document.querySelectorAll('.numbers a')[1].getBoundingClientRect();"
        "return [box.x + box.width / 2, box.y + box.height / 2]"
    )
    touch(browser, ((x, y), (x, y)))
    browser.until(lambda: browser.find(".said").text.startswith("2."))
    assert browser.time != time
    browser.until(lambda: abs(browser.eye[0] - before[0]) > 0.05)


def test_the_take_before_stands_at_the_same_moment(browser: Any, middle: tuple[float, float]) -> None:
    """Before and now on one body: the time line and the view stay, the pose changes."""
    at = browser.time
    browser.run("document.querySelector('[name=take][value=before]').click()")
    settled(browser)
    assert browser.time == at
    assert browser.find("[name=take]:checked").get_attribute("value") == "before"


def test_the_phone_is_held_like_a_window(browser: Any, middle: tuple[float, float]) -> None:
    """The button comes with the first reading of a sensor; from the tap on, turning the phone by 20° turns the view by 20°."""
    window = browser.find(".window")
    assert not window.is_displayed()
    browser.tell("DeviceOrientation.setDeviceOrientationOverride", alpha=10, beta=60, gamma=0)
    browser.until(window.is_displayed)
    browser.run("arguments[0].click()", window)
    browser.until(lambda: window.get_attribute("aria-pressed") == "true")
    # The first reading after the tap is where the turning starts.
    browser.tell("DeviceOrientation.setDeviceOrientationOverride", alpha=11, beta=60, gamma=0)
    before = settled(browser)
    browser.tell("DeviceOrientation.setDeviceOrientationOverride", alpha=31, beta=60, gamma=0)
    browser.until(lambda: abs(browser.eye[0] - before[0]) > 0.3)
    assert abs(settled(browser)[0] - before[0]) == pytest.approx(0.349, abs=0.03)
    browser.tell("DeviceOrientation.clearDeviceOrientationOverride")
