"""One table of the body: what moves what, what aims where, and lengths that add up to a human."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from in_the_round.analysis_core.body.anatomy import (
    ACROSS_BALL,
    ALONG_ARM,
    ALONG_LEG,
    ARM_JOINTS,
    ARM_SEGMENTS,
    BESIDE_JOINT,
    FOOT_POINTS,
    FOREFOOT,
    HEEL,
    JOINTS,
    LANDMARKS,
    LEG_JOINTS,
    LEG_SEGMENTS,
    LEG_SHARE,
    LENGTHS,
    NEXT,
    OPPOSITE,
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
from in_the_round.analysis_core.body.standing_places import standing_places

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
#: Two landmarks that lie in front of and behind, or outside and inside, each other.
_LANDMARK_PAIRS = (*BESIDE_JOINT.values(), *OPPOSITE, *ACROSS_BALL, *((toe, HEEL) for toe in FOREFOOT))


def _texts(nodes: Sequence[ast.expr | None]) -> list[str]:
    return [node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)]


def _lists(node: ast.AST) -> Iterator[list[str]]:
    """The words of a list, of the first column of a list of lists, and of a table of parts of the body by others."""
    if isinstance(node, ast.Dict) and len(_texts(node.values)) == len(node.values) and set(_texts(node.values)) <= _PARTS:
        yield _texts(node.keys)
    if isinstance(node, ast.Tuple | ast.List | ast.Set):
        yield _texts(node.elts)
        yield [words[0] for row in node.elts if isinstance(row, ast.Tuple) and (words := _texts(row.elts[:1]))]


def _all_words(node: ast.AST) -> list[str]:
    """The words of lists within lists, and of tables within them; none of what is called."""
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else []
    inside = (ast.Tuple, ast.List, ast.Set, ast.Dict, ast.Starred, ast.BinOp)
    within = [child for child in ast.iter_child_nodes(node) if isinstance(child, (*inside, ast.Constant))]
    return [word for child in within for word in _all_words(child)] if isinstance(node, inside) else []


def _is_wording(node: ast.AST) -> bool:
    """A table that says in words what single landmarks are called, and nothing of how they lie to each other."""
    if not isinstance(node, ast.Dict):
        return False
    said = [({*_texts([key])}, _all_words(value)) for key, value in zip(node.keys, node.values, strict=True)]
    return all(key and words and not {*LANDMARKS} & {*words} - key for key, words in said)


def _landmarks_again(node: ast.AST) -> bool:
    """Whether a list or table of landmarks says which lies in front, outside or further along a limb, or across which joint."""
    if not isinstance(node, ast.Tuple | ast.List | ast.Set | ast.Dict) or _is_wording(node):
        return False
    words = [word.partition(".")[0] for word in _all_words(node)]
    if isinstance(node, ast.Dict) and {*words} & {*LANDMARKS} and {*_texts(node.keys)} & _PARTS:
        return True
    return any({*pair} <= {*words} for pair in _LANDMARK_PAIRS) or any(
        _goes_along(words, limb) for limb in (ALONG_LEG, ALONG_ARM)
    )


def _goes_along(words: list[str], limb: tuple[tuple[str, ...], ...]) -> bool:
    """Whether words name three heights of a limb one after the other."""
    heights = [next((i for i, height in enumerate(limb) if word in height), -9) for word in words]
    order = [height for height, _ in groupby(heights)]
    return any(order[i : i + 3] == [order[i], order[i] + 1, order[i] + 2] for i in range(len(order) - 2))


def _stands_again(words: list[str], *, whole: bool = True) -> bool:
    """Whether a list is the two sides (has them, where it is not the whole of it), or has three in a row of a chain of joints or
    segments."""
    pair = any({*sides} <= set(words) for sides in (SIDES, SIDE_SUFFIXES)) and (len(words) == 2 or not whole)
    return pair or any({*chain[i : i + 3]} <= set(words) for chain in _CHAINS for i in range(len(chain) - 2))


def _second_lists(text: str) -> set[int]:
    """Lines at which a list of the body begins."""
    # To parse all modules takes seconds: only those that have the words.
    runs = (_QUOTED.findall(run) for run in _RUN.findall(text))
    named = {word.partition(".")[0] for word in _QUOTED.findall(text)} & {*LANDMARKS}
    if not named and not any(_stands_again(run, whole=False) for run in runs):
        return set()
    return {
        node.lineno
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.expr) and (any(_stands_again(words) for words in _lists(node)) or _landmarks_again(node))
    }


def test_no_second_list_of_the_body() -> None:
    """Catches sides, joints, segments and landmarks, how they lie and what hangs on what, written down again beside the table."""
    modules = (
        path
        for folder in ("analysis_core", "blender_addon", "command_line", "simulated_dancer", "scripts")
        for path in (ROOT / folder).rglob("*.py")
        # The skeleton that the simulated dancer's own files have.
        if path.name != "anatomy.py" and path != ROOT / "simulated_dancer" / "files.py"
    )
    found = {(path.name, line) for path in modules for line in _second_lists(path.read_text(encoding="utf-8"))}
    assert found == set()


@pytest.mark.parametrize(
    "planted",
    [
        # As they stood in clean/neighbours.py, along_limbs.py, late.py and sides.py, and in body/ beside the table.
        '_FRONT_AND_BACK = (("front_of_head", "back_of_head"), ("xiphoid_process", "tenth_thoracic_vertebra"))',
        '_KNEE, _ANKLE = ("lateral_femoral_epicondyle", "medial_femoral_epicondyle"), ("lateral_malleolus", "medial_malleolus")',
        '_BALL = (("fifth_metatarsal_head", "first_metatarsal_head"),)',
        '_LEG = (("thigh_1", "thigh_2"), ("lateral_femoral_epicondyle",), ("shank_1", "shank_2", "shank_3"))',
        '_ARM = ["lateral_elbow_epicondyle", "forearm_1", "radial_styloid"]',
        '_ACROSS = {**ON_AXIS, "upper_arm": ("acromion",)}',
        '_FRONTS = {"foot": (("big_toe_tip",), ("calcaneus",))}',
        '_BESIDE = {"lateral_malleolus": (1.0, BREADTH), "medial_malleolus": (-1.0, BREADTH)}',
        '_SELDOM = {"medial_malleolus": "lateral_malleolus"}',
        'names = [n + side for n in ("radial_styloid", "ulnar_styloid")]',
        'back, front = places["back_of_head.L"], [name for name in ("front_of_head.L", "back_of_head.L")]',
        'SIDES = ("left", "right")',
    ],
)
def test_a_second_list_is_found(planted: str) -> None:
    """Catches a search that would pass over what it is there for."""
    assert _second_lists(f"x = 1\n{planted}\n") == {2}


@pytest.mark.parametrize(
    "fine",
    [
        'WORDS = {"lateral_malleolus": "outer ankle", "medial_malleolus": "inner ankle"}',
        'LABELS = {"front_of_head": ("front head", "A"), "back_of_head": ("back head", "B")}',
        'place("lateral_malleolus", (1.0, 2.0)), place("medial_malleolus", (1.0, 2.0))',
    ],
)
def test_words_and_places_of_single_landmarks_are_no_second_list(fine: str) -> None:
    assert _second_lists(fine) == set()


def test_the_order_along_a_limb_is_that_of_its_segments() -> None:
    """From the trunk outwards, and a landmark once only. Catches a height that stands in the wrong place."""
    for along, segments in ((ALONG_LEG, ("pelvis", *LEG_SEGMENTS)), (ALONG_ARM, ("clavicle", *ARM_SEGMENTS))):
        order = [segments.index(LANDMARKS[name].segment) for height in along for name in height]
        assert order == sorted(order)
        assert len({name for height in along for name in height}) == len(order)


def test_in_front_is_in_front_and_outside_is_outside_on_a_standing_person() -> None:
    """Against the places of a standing person (forward, outward, up). Catches a pair that is written the wrong way round."""
    places = standing_places()
    for front, back in (*OPPOSITE, *((toe, HEEL) for toe in FOREFOOT)):
        assert places[front][0] > places[back][0]
    for outer, inner in (*(BESIDE_JOINT[joint] for joint in ("knee", "ankle", "elbow")), *ACROSS_BALL):
        assert places[outer][1] > places[inner][1]
    for along in (ALONG_LEG, ALONG_ARM):
        heights = [max(places[name][2] for name in height if name in places) for height in along]
        assert all(upper > lower for upper, lower in pairwise(heights))


def test_landmarks_stand_in_one_table() -> None:
    """Catches a landmark that has words and no place on the body, or a place and no words."""
    words = tomllib.loads((CORE / "body" / "landmarks.toml").read_text(encoding="utf-8"))
    assert set(words) == set(LANDMARKS)
    assert all(site.segment in SEGMENTS or site.segment + ".L" in SEGMENTS for site in LANDMARKS.values())
    assert all(set(entry) == {"labels"} for entry in words.values())
