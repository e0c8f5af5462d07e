"""The student's page for everyone: axe-core's rules (Deque, MPL-2.0; WCAG 2.2 level AA and its best practices), large text,
small screens, the keyboard alone, calm screens."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from in_the_round.analysis_core.wording import page_labels

pytestmark = pytest.mark.slow
AXE = Path(__file__).resolve().parents[2] / "page_viewer" / "node_modules" / "axe-core" / "axe.min.js"


SIZES = ((320, 640), (844, 390), (1280, 800))


def violations(browser: Any, tags: str = "") -> list[str]:
    """Rules of axe-core that the page breaks as it stands, with the elements. tags: only the rules of that category."""
    if not AXE.is_file():
        pytest.skip("axe-core is not there: scripts/build_viewer.py fetches it")
    if not browser.run("return 'axe' in window"):
        browser.run(AXE.read_text(encoding="utf-8") + ";window.axe = axe;")
    told = browser.driver.execute_async_script(
        "const done = arguments[1]; axe.run(arguments[0] ? {runOnly: arguments[0]} : {}).then((r) => done(r.violations.map((v) =>"
        " `${v.id}: ${v.nodes.map((n) => n.target + ' ' + n.failureSummary).join('; ')}`)), (e) => done([String(e)]));",
        tags,
    )
    return list(told)


def violations_in_either_scheme(browser: Any) -> list[str]:
    """By all rules on a light screen, and on a dark one, where only colours differ, by the rules of colour."""
    light = violations(browser)
    browser.media(prefers_color_scheme="dark")
    dark = violations(browser, "cat.color")
    browser.media(prefers_color_scheme="light")
    return light + dark


def test_axe_finds_nothing(browser: Any, page: Path) -> None:
    browser.media(prefers_color_scheme="light")
    browser.open(page, first=browser.UNDRAWN)
    browser.run("document.querySelector('details').open = true")
    for width, height in SIZES:
        browser.screen(width=width, height=height)
        assert violations(browser) == []
    # A press of Play and the other take change what the buttons say. She stands still while they are looked at.
    browser.run(
        "document.querySelector('[name=take][value=before]').click(); document.querySelector('.play').click();"
        "window.requestAnimationFrame = () => 0;"
    )
    assert browser.find(".play").text == page_labels.PAUSE
    assert violations_in_either_scheme(browser) == []


def test_axe_finds_nothing_without_the_dancer(browser: Any, page: Path) -> None:
    browser.media(prefers_color_scheme="light")
    browser.open(page, first=browser.UNDRAWN)
    browser.run("document.querySelector('canvas').dispatchEvent(new Event('webglcontextlost'))")
    assert not browser.find("#stage").is_displayed()
    # The script has no words of its own: it shows those that it was handed.
    assert browser.find(".without").text == f"{page_labels.NO_DANCER} {page_labels.TURN_PICTURES}"
    assert violations_in_either_scheme(browser) == []
    # The numbers lead to their cards now.
    assert browser.run("const a = document.querySelectorAll('.numbers a')[1]; a.click(); return location.hash === a.hash")


def test_axe_sees_what_is_broken(browser: Any, page: Path) -> None:
    """The yardstick works in this page, under its policy."""
    browser.open(page, dancer=False, first=browser.WITHOUT_3D)
    browser.run("document.querySelector('.pair img').removeAttribute('alt')")
    assert any(told.startswith("image-alt") for told in violations(browser, "cat.text-alternatives"))


def test_nothing_is_cut_or_scrolls_sideways(browser: Any, page: Path) -> None:
    """From the smallest phone to a desktop, and with text twice as large (WCAG 2.2, 1.4.4 and 1.4.10)."""
    browser.open(page, first=browser.UNDRAWN)
    for width, size in ((320, ""), (390, ""), (768, ""), (1280, ""), (320, "200%"), (768, "200%")):
        browser.screen(width=width)
        browser.run("document.documentElement.style.fontSize = arguments[0]", size)
        assert browser.run("return document.documentElement.scrollWidth") <= width, (width, size)
        cut = browser.run(
            "return [...document.querySelectorAll('h1, h2, h3, p:not(.tag), li, button, figcaption, summary')].filter((e) =>"
            " e.offsetParent && (e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== 'inline'"
            " || e.getBoundingClientRect().right > innerWidth + 1)).map((e) => e.outerHTML.slice(0, 80))"
        )
        assert cut == [], (width, size)


def test_large_text_breaks_no_word_in_two(browser: Any, page: Path) -> None:
    """Text twice as large on a small phone: every word of the headings and of the three things stands on one line, or is
    hyphenated where the language allows it (the browser knows none here). Catches columns two letters wide."""
    browser.open(page, first=browser.UNDRAWN)
    browser.screen(width=360)
    browser.run("document.documentElement.style.fontSize = '200%'")
    broken = browser.run(
        "const lines = (node, from, to) => { const range = document.createRange(); range.setStart(node, from);"
        " range.setEnd(node, to); return new Set([...range.getClientRects()].map((box) => Math.round(box.top))).size; };"
        "const broken = []; for (const e of document.querySelectorAll('.numbers span, h1, h2, .when')) {"
        " if (!e.firstChild || e.firstChild.nodeType !== 3) continue;"
        " for (const word of e.firstChild.data.matchAll(/[^\\s-]+/g))"
        "  if (lines(e.firstChild, word.index, word.index + word[0].length) > 1) broken.push(word[0]); } return broken;"
    )
    assert broken == []


def test_targets_are_large_enough_for_a_finger(browser: Any, page: Path) -> None:
    """44 pixels each way (WCAG 2.2, 2.5.5, level AAA)."""
    browser.open(page, first=browser.UNDRAWN)
    small = browser.run(
        "return [...document.querySelectorAll('a, button, input, summary')].map((e) => [e.closest('label') ?? e, e.outerHTML])"
        ".map(([e, html]) => [e.getBoundingClientRect(), html])"
        ".filter(([box]) => box.width && (box.width < 44 || box.height < 44))"
        ".map(([box, html]) => `${html.slice(0, 80)} ${box.width} x ${box.height}`)"
    )
    assert small == []


def test_the_keyboard_alone_reaches_everything(browser: Any, page: Path) -> None:
    from selenium.webdriver import ActionChains, Keys

    def press(*keys: str) -> None:
        ActionChains(browser.driver).send_keys(*keys).perform()

    browser.open(page, first=browser.UNDRAWN)
    browser.run("document.querySelector('details').open = true")
    # Of a group of radio buttons the keyboard reaches one, and its arrows the others (HTML standard).
    wanted = browser.run(
        "return [...document.querySelectorAll('a, button, input, summary, canvas, [tabindex]')].filter((e) => e.offsetParent"
        " && (e.type !== 'radio' || e.checked)).map((e, i) => { e.dataset.order = i; return String(i); })"
    )
    reached, without_ring = [], []
    for _ in wanted:
        press(Keys.TAB)
        reached.append(browser.run("return document.activeElement.dataset.order"))
        ring = browser.run(
            "const e = document.activeElement, seen = e.type === 'radio' ? e.nextElementSibling : e;"
            "return getComputedStyle(seen).outlineStyle"
        )
        if ring == "none":
            without_ring.append(reached[-1])
    assert reached == wanted
    assert without_ring == []

    browser.run("document.querySelectorAll('.numbers a')[1].focus()")
    press(Keys.ENTER)
    assert browser.find(".said").text.startswith("2.")
    browser.run("document.querySelector('canvas').focus()")
    before = browser.until(lambda: browser.eye)
    press(Keys.ARROW_LEFT)
    browser.until(lambda: abs(browser.eye[0] - before[0]) > 0.2)
    press("+")
    browser.until(lambda: browser.eye[2] < before[2] - 0.1)
    at = browser.time
    press(" ")
    browser.until(lambda: browser.time != at)
    assert browser.find(".play").text == page_labels.PAUSE
    press(" ")
    assert browser.find(".play").text == page_labels.PLAY
    at = browser.time
    browser.driver.execute_async_script("requestAnimationFrame(() => requestAnimationFrame(arguments[0]))")
    assert browser.time == at
    browser.run("document.querySelector('[name=speed]:checked').focus()")
    press(Keys.ARROW_RIGHT)
    assert browser.find("[name=speed]:checked").get_attribute("value") == "0.25"
    browser.run("document.querySelector('input[type=range]').focus()")
    press(Keys.HOME)
    assert browser.time == 0
    assert browser.find("input[type=range]").get_attribute("aria-valuetext").startswith("0.0 seconds of")


def test_calm_screens_do_not_glide(browser: Any, page: Path) -> None:
    """prefers-reduced-motion: jumps cut, and a turn ends with the key."""
    browser.media(prefers_reduced_motion="reduce")
    browser.open(page, first=browser.UNDRAWN)
    assert browser.run("return getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    before = browser.until(lambda: browser.eye)
    browser.run("document.querySelector('.left').click()")
    turned = browser.until(lambda: browser.eye != before and browser.eye)
    assert browser.driver.execute_async_script(
        "const done = arguments[0], stage = document.getElementById('stage');setTimeout(() => done(stage.dataset.eye), 400);"
    ).split() == [f"{part:.3f}" for part in turned]
