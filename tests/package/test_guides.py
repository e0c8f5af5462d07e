"""The guides: built without a warning, readable from disk, fetching nothing; pages written from code say what it says."""

from __future__ import annotations

import re
import runpy
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GUIDES = ("first_twenty_minutes", "capture_day", "for_parents", "for_animators", "for_schools", "for_biomechanists")


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built site. A warning of the builder (a dead link, a picture that is not there, a broken docstring) ends it."""
    out = tmp_path_factory.mktemp("guides") / "site"
    command = [sys.executable, str(ROOT / "scripts" / "build_docs.py"), str(out)]
    outcome = subprocess.run(command, capture_output=True, text=True, check=False)
    assert outcome.returncode == 0, outcome.stdout + outcome.stderr
    return out


class _Fetched(HTMLParser):
    """What a browser fetches by itself when it opens a page, and where its links lead."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        told = dict(attributes)
        if tag in ("script", "img", "iframe", "video", "source") and told.get("src"):
            self.fetched.append(str(told["src"]))
        if tag == "link" and told.get("rel") in ("stylesheet", "icon", "preload"):
            self.fetched.append(str(told["href"]))
        if tag == "a" and told.get("href"):
            self.links.append(str(told["href"]))


def test_the_site_opens_from_disk_and_fetches_nothing(site: Path) -> None:
    """Catches a theme or an extension that loads a script, a style or a typeface from elsewhere, and links that lead nowhere."""
    for page in site.rglob("*.html"):
        seen = _Fetched()
        seen.feed(page.read_text(encoding="utf-8"))
        for address in seen.fetched:
            assert not re.match(r"(https?:)?//", address), f"{page.name} fetches {address}"
            assert (page.parent / address.split("?")[0]).is_file(), f"{page.name} fetches {address}, which is not there"
        for address in (link.split("#")[0] for link in seen.links):
            if address and not re.match(r"[a-z]+:", address):
                assert (page.parent / address).is_file(), f"{page.name} links to {address}, which is not there"


@pytest.mark.parametrize("guide", GUIDES)
def test_every_guide_can_be_reached_from_the_first_page(site: Path, guide: str) -> None:
    """Catches a guide that is written and not shown."""
    first = (site / "index.html").read_text(encoding="utf-8")
    assert f"guides/{guide}.html" in first


def test_the_site_names_every_command_and_every_export(site: Path) -> None:
    """Catches a command or an export that is left out of the pages written from code."""
    from in_the_round import analysis_core
    from in_the_round.command_line.__main__ import COMMANDS

    commands = (site / "from_code" / "commands.html").read_text(encoding="utf-8")
    reference = (site / "from_code" / "reference.html").read_text(encoding="utf-8")
    assert [name for name in COMMANDS if f'<section id="{name}">' not in commands] == []
    assert [name for name in analysis_core.__all__ if f'<section id="{name.lower().replace("_", "-")}">' not in reference] == []


def test_every_sentence_of_an_error_is_in_the_table() -> None:
    """Catches an error message that was changed or added and not listed: run scripts/make_errors_page.py."""
    made = runpy.run_path(str(ROOT / "scripts" / "make_errors_page.py"), run_name="pages")
    told = made["sentences"]()
    assert (ROOT / "docs" / "errors.md").read_text(encoding="utf-8") == made["page"](told)
    # Fifty were left out once: with a blank at both ends, or made by a function. What a child process said is listed as its own.
    assert [line for lines in told.values() for line in lines if not made["says_something"](line)] == ["‹answer›"]
    assert made["says_something"]("‹folder› holds no ‹file›")


def test_no_kind_of_error_is_left_out_of_the_table() -> None:
    """Catches a new class of errors that the table does not know. They are found by import, not by its own reading."""
    import importlib
    import pkgutil

    from in_the_round import analysis_core, command_line
    from in_the_round.analysis_core.errors import InTheRoundError

    for package in (analysis_core, command_line):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if not any(word in module.name for word in ("migrations", "blender_worker", "__main__")):
                importlib.import_module(module.name)
    kinds = runpy.run_path(str(ROOT / "scripts" / "make_errors_page.py"), run_name="pages")["KINDS"]
    pending, names = [InTheRoundError], set()
    while pending:
        kind = pending.pop()
        names.add(kind.__name__)
        pending += kind.__subclasses__()
    assert names - set(kinds) == set()
