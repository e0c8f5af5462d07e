"""The student's page: what it says, what it must never say, and that nothing in it can reach outside."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import struct
import subprocess
import sys
import zlib
from dataclasses import fields, replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from in_the_round.analysis_core.body.movement import JOINTS, SEGMENTS
from in_the_round.analysis_core.errors import OptionError, OutputError
from in_the_round.analysis_core.figure import glb
from in_the_round.analysis_core.findings.catalogue import catalogue, profile_names
from in_the_round.analysis_core.findings.feelings import feeling
from in_the_round.analysis_core.page import Pictures, story_of, write, write_page
from in_the_round.analysis_core.page.film import film_of, size_of
from in_the_round.analysis_core.page.things import things_of
from in_the_round.analysis_core.review import Review, decide, write_review
from in_the_round.analysis_core.review.decisions import Decisions, Judgement, OwnCorrection, mark_of
from in_the_round.analysis_core.wording import findings as say
from in_the_round.analysis_core.wording.numbers import for_dancer
from in_the_round.analysis_core.wording.page import MISSING_VIEWER
from in_the_round.analysis_core.wording.student import number_sentence, words
from in_the_round.command_line.__main__ import main

needs_viewer = pytest.mark.skipif(not write.VIEWER.is_file(), reason="the viewer was not built: scripts/build_viewer.py")
#: Words that a student must not find; from the brief of the page.
FORBIDDEN = re.compile(r"\b(faults?|wrong|score|bad|error|mistakes?)\b|±", re.IGNORECASE)


Takes = tuple[Review, Review]


class Outline(HTMLParser):
    """Elements and texts of a page, by the standard library's own reader."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self._inside: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._inside.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._inside and self._inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not {"script", "style"} & set(self._inside) and data.strip():
            self.texts.append(("teacher: " if "details" in self._inside else "") + data.strip())

    @property
    def said(self) -> str:
        return "\n".join(text for text in self.texts if not text.startswith("teacher: "))


def page_of(tmp_path: Path, review: Review, earlier: Review | None = None, **more: Any) -> tuple[str, dict[str, Any]]:
    pictures = Pictures({thing.finding.id: b"RIFFnow" for thing in things_of(review)})
    told = write_page(story_of(review, earlier, **more), tmp_path / "page.html", pictures, overwrite=True)
    return (tmp_path / "page.html").read_text(encoding="utf-8"), told


@pytest.fixture(scope="module")
def careless_page(takes: Takes, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict[str, Any]]:
    """The page of the careless take alone, and what is told about it. Nobody changes it."""
    return page_of(tmp_path_factory.mktemp("page"), takes[0])


def test_each_thing_is_an_article_with_picture_cue_and_sensation(tmp_path: Path, takes: Takes) -> None:
    """The contract; and that two takes are compared: what is in both stands side by side."""
    careless, careful = takes
    text, told = page_of(tmp_path, careless, careful)
    page = Outline(text)
    assert 1 <= told["corrections"] <= 3
    assert told["bytes"] == (tmp_path / "page.html").stat().st_size
    articles = [attributes["id"] for tag, attributes in page.elements if tag == "article"]
    assert articles == [thing.finding.id for thing in things_of(careless)]
    images = [attributes for tag, attributes in page.elements if tag == "img"]
    assert len(images) == told["pictures"] == len(articles)
    assert all(image["alt"] for image in images)
    for thing in things_of(careless):
        assert thing.finding.cue in page.said
        assert feeling(thing.finding.fault) in page.said
    assert not FORBIDDEN.search(page.said), FORBIDDEN.search(page.said)
    assert "±" in "".join(page.texts)
    assert [tag for tag, _ in page.elements].count("h1") == 1


def test_policy_refuses_all_but_what_is_inside(careless_page: tuple[str, dict[str, Any]]) -> None:
    """W3C, Content Security Policy 3: default-src 'none', the style by its hash, no address anywhere in the page."""
    text, _ = careless_page
    page = Outline(text)
    policy = next(a["content"] for tag, a in page.elements if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy")
    assert policy is not None
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == rules["form-action"] == rules["base-uri"] == "'none'"
    assert {*rules["img-src"].split()} == {"data:", "blob:"}
    for kind in ("style", "script"):
        inside = re.findall(rf"<{kind}>(.*?)</{kind}>", text, flags=re.DOTALL)
        digests = [base64.b64encode(hashlib.sha256(part.encode()).digest()).decode() for part in inside]
        assert rules[f"{kind}-src"] == " ".join(f"'sha256-{digest}'" for digest in digests) or (
            not digests and "none" in rules[f"{kind}-src"]
        )
    for _, attributes in page.elements:
        assert not any(name.startswith("on") or name == "style" for name in attributes)
        for name in ("src", "href", "poster", "action", "srcset"):
            assert (attributes.get(name) or "#").startswith(("data:", "#"))


def test_nothing_tells_who_or_where(tmp_path: Path, takes: Takes) -> None:
    """The file's name, its folder, its hash: nowhere in the bytes; the name only when it was given."""
    careless, careful = takes
    secret = replace(careless.take, file="anna_muster.c3d", sha256="5ec4e7" * 10, folder="/home/anna/2026-11-27")
    named = [replace(review, take=secret) for review in (careless, careful)]
    text, _ = page_of(tmp_path, *named)
    # The script is the same in every page, and names the years of its libraries.
    text = re.sub(r"<script>.*?</script>", "", text, flags=re.DOTALL)
    for word in ("anna_", "muster", "5ec4e7", "2026-", ".c3d", str(tmp_path)):
        assert word not in text, word
    assert "Mira" in page_of(tmp_path, *named, name="Mira")[0]


def test_hostile_words_come_out_as_text(tmp_path: Path, takes: Takes) -> None:
    """A cue or a name that would close an element or open one."""
    careless, _ = takes
    nasty = '</script><img src=x onerror=alert(1)> "><b>'
    mark = mark_of(careless.findings[0], careless.phrase.phases)
    decided = decide(careless, Decisions((Judgement(mark, "kept", note=nasty, words=nasty),)))
    text, _ = page_of(tmp_path, decided, name=nasty)
    page = Outline(text)
    assert all(attributes.get("src") != "x" for _, attributes in page.elements)
    assert page.said.count(nasty) >= 2
    assert "</script><img" not in text


def test_the_teacher_comes_first(tmp_path: Path, takes: Takes) -> None:
    """Own corrections, then what was kept, in the teacher's words; what was set aside is gone."""
    careless, _ = takes
    first, *others = careless.findings
    view = first.view
    own = OwnCorrection("own-1", "Breathe before you bend.", "left", 1.0, 1.2, 1.5, ("trunk",), view)
    marks = {finding.id: mark_of(finding, careless.phrase.phases) for finding in careless.findings}
    last = others[-1]
    judged = (Judgement(marks[last.id], "kept", words="My own words."), Judgement(marks[first.id], "set aside"))
    told = things_of(decide(careless, Decisions(judged, (own,))))
    assert [thing.finding.id for thing in told[:2]] == ["own-1", last.id]
    assert first.id not in {thing.finding.id for thing in told}
    text, _ = page_of(tmp_path, decide(careless, Decisions(judged, (own,))))
    assert "Breathe before you bend." in text
    assert "My own words." in text


def test_roots_stand_before_what_they_may_have_led_to(takes: Takes) -> None:
    """An effect, however bad, does not come before the thing that it came after."""
    careless, _ = takes
    things = things_of(careless)
    places = {thing.finding.id: place for place, thing in enumerate(things)}
    for thing in things:
        for cause in thing.finding.came_after:
            assert places.get(cause, -1) < places[thing.finding.id]


def test_nothing_to_correct_says_what_went_well(tmp_path: Path, takes: Takes) -> None:
    careless, careful = takes
    clean = replace(careful, analysed=())
    text, told = page_of(tmp_path, clean, careless)
    assert told["corrections"] == 0
    page = Outline(text)
    assert "Nothing to correct today" in page.said
    assert "What went well" in page.said
    assert "That is new." in page.said
    # The same take twice: nothing got better.
    assert "That is new." not in Outline(page_of(tmp_path, careful, careful)[0]).said


def test_what_could_not_be_judged_is_not_called_right(tmp_path: Path, takes: Takes) -> None:
    """A recording in which not one measure could be told, as a ballroom dance without a moment of standing is: the page neither
    praises nor finds it free of things to correct, and tells the teacher why."""
    careful = takes[1]
    why = "this phrase holds no moment of standing still"
    blind = tuple(replace(row, n=0, outside=0, cannot_tell=why) for row in careful.measured)
    text, _ = page_of(tmp_path, replace(careful, analysed=(), measured=blind))
    page = Outline(text)
    assert "Nothing to correct" not in page.said
    assert "what went well" not in page.said.lower()
    assert "shows too little to say" in page.said
    assert why not in page.said
    assert "".join(page.texts).count(why[1:]) == 1
    # Where something was held against its band and nothing stood out to praise, no praise is promised.
    plain = tuple(replace(row, outside=1) for row in careful.measured)
    said = Outline(page_of(tmp_path, replace(careful, analysed=(), measured=plain))[0]).said
    assert "Nothing to correct today" in said
    assert "what went well" not in said.lower()


def test_nothing_to_correct_has_a_dancer_that_turns_without_scripts(tmp_path: Path, takes: Takes) -> None:
    """At a moment at which she reaches out, from the front: told from hips and hands, not from what the page asks."""
    clean = replace(takes[1], analysed=())
    story = story_of(clean)
    shown, movement = story.opening, clean.movement
    assert shown is not None
    write_page(story, tmp_path / "page.html", Pictures(sheets={shown.id: b"RIFFround"}))
    page = Outline((tmp_path / "page.html").read_text(encoding="utf-8"))
    assert [attributes["alt"] for tag, attributes in page.elements if tag == "img"] == ["You, from all sides"]
    at = round(shown.peak_s * movement.rate_hz)
    hands = np.linalg.norm(movement.joint("wrist.L") - movement.joint("wrist.R"), axis=1)
    assert hands[at] > np.median(hands)
    right = (movement.joint("hip.R") - movement.joint("hip.L"))[at]
    forward = np.cross([0.0, 0.0, 1.0], right / np.linalg.norm(right))
    away = np.subtract(shown.view.position_m, shown.view.aim_m)
    assert forward @ away / np.linalg.norm(away) > 0.95
    assert story_of(takes[0]).opening is None


def read_glb(text: str) -> dict[str, Any]:
    """What the dancer in a page says of itself: the first chunk of a GLB (glTF 2.0, 4.4)."""
    packed = re.search(r'id="dancer">([^<]+)<', text)
    assert packed is not None
    data = zlib.decompress(base64.b64decode(packed[1]))
    return dict(json.loads(data[20 : 20 + struct.unpack_from("<I", data, 12)[0]]))


def lasts(text: str) -> list[float]:
    """Seconds of each take in a page."""
    told = read_glb(text)
    return [max(told["accessors"][sampler["input"]]["max"][0] for sampler in clip["samplers"]) for clip in told["animations"]]


def keys(text: str) -> range:
    """The keys of the first take."""
    told = read_glb(text)
    return range(told["accessors"][told["animations"][0]["samplers"][0]["input"]]["count"])


def repeated(review: Review, times: int) -> Review:
    """The same dance danced again and again."""
    movement = review.movement
    arrays = {item.name: getattr(movement, item.name) for item in fields(movement)}
    long = {
        name: np.concatenate([array] * times)
        for name, array in arrays.items()
        if isinstance(array, np.ndarray) and array.shape[:1] == (movement.frames,)
    }
    long["time_s"] = np.arange(times * movement.frames) / movement.rate_hz
    return replace(review, movement=replace(movement, **long))


@needs_viewer
def test_a_long_take_has_fewer_keys_and_lasts_as_long(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, takes: Takes, careless_page: tuple[str, dict[str, Any]]
) -> None:
    """The bench makes a page of ten minutes; here 20 s count as long."""
    short, told = careless_page
    monkeypatch.setattr(glb, "LONG_S", 10.0)
    long, fewer = page_of(tmp_path, takes[0])
    assert lasts(long) == pytest.approx(lasts(short), abs=0.05)
    assert told["bytes"] - fewer["bytes"] > 40_000
    assert len(keys(long)) == pytest.approx(len(keys(short)) / 2, abs=2)


@needs_viewer
def test_one_thing_a_lost_arm_and_a_longer_take_before(tmp_path: Path, takes: Takes) -> None:
    """All numbers in the page are numbers, and each take lasts as long as it does."""
    careless, careful = takes
    one = replace(careless, analysed=careless.analysed[:1])
    centres, turns = one.movement.joint_centres_m.copy(), one.movement.segment_rotations.copy()
    for array, names in ((centres, JOINTS), (turns, SEGMENTS)):
        array[:, [place for place, name in enumerate(names) if (name.endswith(".L") and "arm" in name) or name == "wrist.L"]] = (
            np.nan
        )
    one = replace(one, movement=replace(one.movement, joint_centres_m=centres, segment_rotations=turns))
    longer = repeated(careful, 2)
    text, told = page_of(tmp_path, one, longer)
    assert told["corrections"] == 1
    assert "One thing to work on" in text
    assert "others often" not in text
    ends = [(review.movement.frames - 1) / review.movement.rate_hz for review in (one, longer)]
    assert lasts(text) == pytest.approx(ends, abs=0.05)


def test_better_is_only_said_beyond_measurement_error(takes: Takes) -> None:
    """A take against itself is neither better nor worse."""
    careless, _ = takes
    for card in story_of(careless, careless).cards:
        assert "etter" not in card.said_of_before
        assert "closer" not in card.said_of_before


def test_better_than_in_spring_stands_where_the_record_shows_it(takes: Takes) -> None:
    """On the card of what is still there, under what went well for what is not, and nowhere else."""
    careless, _ = takes
    story = story_of(careless)
    finding = next(card.thing.finding for card in story.cards if card.thing.finding.fault)
    faults = {card.thing.finding.fault for card in story.cards}
    gone = next(fault for fault in sorted(catalogue()) if fault not in faults)
    told = story_of(careless, better={(finding.fault, finding.side or ""): "spring", (gone, "left"): "spring"})
    said = [card for card in told.cards if "Better than in spring." in card.said_of_before]
    assert [(card.thing.finding.fault, card.thing.finding.side) for card in said] == [(finding.fault, finding.side)]
    assert sum("Better than in spring." in item.text for item in told.well) == 1
    assert not any("spring" in card.said_of_before for card in story.cards)


def test_the_teacher_reads_what_the_command_says(takes: Takes, careless_page: tuple[str, dict[str, Any]]) -> None:
    """Title with its side, number with its unit and ±: not the student's centimetres."""
    page = Outline(careless_page[0])
    taught = " ".join(text for text in page.texts if text.startswith("teacher: ")).replace("\u00a0", " ")
    for thing in things_of(takes[0]):
        assert say.title(thing.finding) in taught
        assert say.value(thing.finding).replace("\u00a0", " ") in taught


@pytest.mark.parametrize("fault", sorted(catalogue()))
def test_every_fault_has_plain_words(fault: str) -> None:
    """A title, a kind word and a sentence for each number, in both directions where the band has two."""
    entry = words()[fault]
    assert set(catalogue()[fault].measures) == {name.removesuffix("_below") for name in entry.number}
    for name, limits in catalogue()[fault].measures.items():
        assert "{n}" in entry.number[name]
        if limits.fault[0] < 0 and limits.fault[0] != float("-inf"):
            assert f"{name}_below" in entry.number
    said = [entry.title, entry.well, *entry.number.values(), feeling(fault), feeling(fault, young=True)]
    assert not [text for text in said if FORBIDDEN.search(text)]


def test_numbers_are_said_in_units_of_daily_life(takes: Takes) -> None:
    assert for_dancer(34.0, "mm") == "3.4\u00a0cm"
    assert for_dancer(-112.0, "mm") == "11\u00a0cm"
    assert for_dancer(-12.4, "deg") == "12°"
    assert for_dancer(0.72, "ratio") == "72\u00a0%"
    assert for_dancer(4.04, "body weights") == "4\u00a0times"
    finding = replace(takes[0].findings[0], fault="trunk-leans", measure="pitch", value=-9.0, unit="deg")
    assert number_sentence(finding) == "You leaned 9° back."


def test_young_dancers_get_young_words(takes: Takes) -> None:
    careless, _ = takes
    young = next(name for name in profile_names() if "young" in name)
    card = story_of(replace(careless, profile=young)).cards[0]
    assert card.feel == feeling(card.thing.finding.fault, young=True)


def test_a_film_stands_in_its_own_shape() -> None:
    """Width and height lie at the end of a track's header (ISO/IEC 14496-12, 8.3.2: 16.16). Catches a film of 16 : 9 in the
    square of the picture that stands for it until it is loaded, and a sound that is taken for a picture."""

    def box(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I4s", 8 + len(body), kind) + body

    def track(wide: int, high: int) -> bytes:
        return box(b"trak", box(b"tkhd", bytes(76) + struct.pack(">II", wide << 16, high << 16)))

    film = box(b"ftyp", b"isom0000") + box(b"moov", track(0, 0) + track(960, 540))
    assert size_of(film) == (960, 540)
    assert size_of(box(b"ftyp", b"isom0000") + box(b"moov", track(0, 0))) is None


def test_a_film_travels_without_its_papers(tmp_path: Path) -> None:
    """Boxes as ISO/IEC 14496-12 has them: words and times go, every other byte stays where it is."""

    def box(kind: bytes, inside: bytes) -> bytes:
        return struct.pack(">I4s", 8 + len(inside), kind) + inside

    times = struct.pack(">III", 0, 3_900_000_000, 3_900_000_000) + bytes(20)
    words_box = box(b"udta", box(b"\xa9day", b"2026/11/27 anna_muster"))
    film = box(b"ftyp", b"isom0000") + box(b"moov", box(b"mvhd", times) + words_box) + box(b"mdat", b"anna pictures")
    path = tmp_path / "film.mp4"
    path.write_bytes(film)
    clean = film_of(path)
    assert len(clean) == len(film)
    assert b"muster" not in clean
    assert b"2026" not in clean
    assert struct.pack(">I", 3_900_000_000) not in clean
    assert clean.endswith(b"anna pictures")
    path.write_bytes(b"no film at all")
    with pytest.raises(OptionError, match="no MP4"):
        film_of(path)


def test_without_the_viewer_all_else_is_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, takes: Takes) -> None:
    """Where node could not be had: words and pictures, no empty stage, no script, and a sentence that says what to do."""
    monkeypatch.setattr(write, "VIEWER", tmp_path / "never built.js")
    text, told = page_of(tmp_path, takes[0])
    page = Outline(text)
    assert (told["dancer"], told["pictures"], told["corrections"]) == (False, *[len(things_of(takes[0]))] * 2)
    assert not [tag for tag, _ in page.elements if tag in ("script", "canvas")]
    assert "script-src 'none'" in text
    assert "build_viewer.py" in MISSING_VIEWER


def test_command_keeps_the_contract(tmp_path: Path, takes: Takes, capsys: pytest.CaptureFixture[str]) -> None:
    careless, _ = takes
    write_review(careless, tmp_path / "careless")
    command = [sys.executable, "-m", "in_the_round.command_line", "page", str(tmp_path / "careless"), "--out"]
    done = subprocess.run(
        [*command, str(tmp_path / "page.html"), "--no-pictures", "--json"],
        capture_output=True,
        text=True,
        timeout=200,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert set(told) == {"file", "bytes", "corrections", "pictures", "film", "dancer"}
    assert (told["film"], told["pictures"]) == (False, 0)
    assert told["dancer"] is write.VIEWER.is_file()
    assert main([*command[3:], str(tmp_path / "page.html")]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "--force" in said.err
    with pytest.raises(OutputError):
        write_page(story_of(careless), tmp_path / "page.html", Pictures())
