"""One table of the body: what moves what, what aims where, and lengths that add up to a human."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from in_the_round.analysis_core.body.anatomy import (
    ARM_JOINTS,
    ARM_SEGMENTS,
    FOOT_POINTS,
    JOINTS,
    LANDMARKS,
    LEG_JOINTS,
    LEG_SEGMENTS,
    LEG_SHARE,
    LENGTHS,
    NEXT,
    PAIRED_SEGMENTS,
    PARENTS,
    SEGMENT_MASSES,
    SEGMENTS,
    SIDE_SUFFIXES,
    SIDES,
    STATURE_M,
    TRUNK_SEGMENTS,
    USUAL_STATURE_M,
)

ROOT = Path(__file__).resolve().parents[2]
CORE = ROOT / "analysis_core"


def test_every_segment_but_the_pelvis_is_moved_by_another() -> None:
    """Catches a segment that hangs on nothing, or a ring."""
    assert set(PARENTS) == set(SEGMENTS) - {"pelvis"}
    for segment in SEGMENTS:
        met = [segment]
        while met[-1] in PARENTS:
            met.append(PARENTS[met[-1]])
            assert len(met) <= len(SEGMENTS)
        assert met[-1] == "pelvis"


def test_what_a_segment_aims_at_hangs_on_it() -> None:
    for first, second in NEXT.items():
        side = ".L" if first + ".L" in SEGMENTS else ""
        assert PARENTS[second + side] == first + side


def test_lengths_are_those_of_the_source() -> None:
    """Winter 2009, figure 4.1 (after Drillis and Contini 1966): hip 0.530, knee 0.285 and ankle 0.039 above the floor."""
    assert pytest.approx(0.530 - 0.039) == LEG_SHARE
    assert LENGTHS["shank"].mean == pytest.approx(0.285 - 0.039)
    assert LENGTHS["leg"].mean == pytest.approx(LEG_SHARE + LENGTHS["ankle_height"].mean)
    # de Leva 1996 for young men of 1.741 m: upper arm 281.7 mm, forearm 268.9 mm between joint centres.
    assert LENGTHS["upper_arm"].mean == pytest.approx(0.2817 / 1.741, abs=0.003)
    assert LENGTHS["forearm"].mean == pytest.approx(0.2689 / 1.741, abs=0.003)
    assert STATURE_M[0] < USUAL_STATURE_M < STATURE_M[1]


def test_masses_make_a_whole_body() -> None:
    """de Leva 1996, table 4: all segments together weigh the body, in women and in men, within the rounding of the table."""
    for sex in (0, 1):
        parts = [part.mass[sex] * (2 if name in PAIRED_SEGMENTS else 1) for name, part in SEGMENT_MASSES.items()]
        assert sum(parts) == pytest.approx(1.0, abs=0.002)


def test_no_other_module_has_a_leg_of_its_own() -> None:
    """The share of the leg stood in three modules, with two values: it is written down once."""
    holders = [
        path.name for path in CORE.rglob("*.py") if re.search(r"\b0\.(491|482|245|246)\b", path.read_text(encoding="utf-8"))
    ]
    assert holders == ["anatomy.py"]


_QUOTED = re.compile(r'"([\w.]+)"')
#: Words in quotes with nothing but signs between them.
_RUN = re.compile(r'(?:"[\w.]+"[\s,:()]*(?:-?[\d.]+[\s,()]*)?){2,}')
_PARTS = {name.partition(".")[0] for name in (*SEGMENTS, *JOINTS)}
_CHAINS = (LEG_SEGMENTS, ARM_SEGMENTS, TRUNK_SEGMENTS, LEG_JOINTS, ARM_JOINTS, FOOT_POINTS)


def _texts(nodes: Sequence[ast.expr | None]) -> list[str]:
    return [node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)]


def _lists(node: ast.AST) -> Iterator[list[str]]:
    """The words of a list, of the first column of a list of lists, and of a table of parts of the body by others."""
    if isinstance(node, ast.Dict) and len(_texts(node.values)) == len(node.values) and set(_texts(node.values)) <= _PARTS:
        yield _texts(node.keys)
    if isinstance(node, ast.Tuple | ast.List | ast.Set):
        yield _texts(node.elts)
        yield [words[0] for row in node.elts if isinstance(row, ast.Tuple) and (words := _texts(row.elts[:1]))]


def _stands_again(words: list[str], *, whole: bool = True) -> bool:
    """Whether a list is the two sides (has them, where it is not the whole of it), or has three in a row of a chain of joints or
    segments."""
    pair = any({*sides} <= set(words) for sides in (SIDES, SIDE_SUFFIXES)) and (len(words) == 2 or not whole)
    return pair or any({*chain[i : i + 3]} <= set(words) for chain in _CHAINS for i in range(len(chain) - 2))


def test_no_second_list_of_the_body() -> None:
    """Catches sides, joints and segments, and what hangs on what, that are written down again beside the table."""
    modules = (
        path
        for folder in ("analysis_core", "blender_addon", "command_line", "simulated_dancer", "scripts")
        for path in (ROOT / folder).rglob("*.py")
        # The skeleton that the simulated dancer's own files have.
        if path.name != "anatomy.py" and path != ROOT / "simulated_dancer" / "files.py"
    )
    # To parse all modules takes seconds: only those that have the words.
    texts = ((path, path.read_text(encoding="utf-8")) for path in modules)
    found = {
        (path.name, node.lineno)
        for path, text in texts
        if any(_stands_again(_QUOTED.findall(run), whole=False) for run in _RUN.findall(text))
        for node in ast.walk(ast.parse(text))
        for words in _lists(node)
        if isinstance(node, ast.expr) and _stands_again(words)
    }
    assert found == set()


def test_landmarks_stand_in_one_table() -> None:
    """Catches a landmark that has words and no place on the body, or a place and no words."""
    words = tomllib.loads((CORE / "body" / "landmarks.toml").read_text(encoding="utf-8"))
    assert set(words) == set(LANDMARKS)
    assert all(site.segment in SEGMENTS or site.segment + ".L" in SEGMENTS for site in LANDMARKS.values())
    assert all(set(entry) == {"labels"} for entry in words.values())
