"""What the labels of a recording say without any landmark table: persons, sides, head end and foot end of the body."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

_SIDE = r"(?:left|right|[lr])?"

#: Labels near the upper end of a body: head, neck, shoulder girdle. Words and short codes of open recordings (labels.md).
_UPPER = re.compile(
    rf"^{_SIDE}(?:front|back|top)?(?:"
    r"head\w*|[fbt]hd|hd[fb]?|h|tet|mttete|temp[dg]?|eyes?|nose|neck\d*|c7|cv7|clav\w*|strn|ij|sjn|"
    r"sho|should\w*|acr\w*|acg|acd|sae|collar"
    r")(?:end)?\d*$"
)

#: Labels near the lower end of a body: ankle and foot.
_LOWER = re.compile(
    rf"^{_SIDE}(?:"
    r"ank\w*|hee\w*|calc\w*|cal|fcc|toe\w*|foot\w*|foo|ft\d?|mt\d|fm\d|met\w*|mall\w*|mm|ml|hlx|hal\w*|dp1"
    r")(?:end)?\d*$"
)

_UNLABELLED = re.compile(r"^(?:\*\d*|u_?\d+|uname\d+|m\d{3,}|unlabel\w*\W*\d*|-?\d+|\W*)$", re.IGNORECASE)


def plain_name(label: str) -> str:
    """The label in lower case without the person's prefix and without separators: ``A:L.Heel`` becomes ``lheel``."""
    return re.sub(r"[\W_]+", "", without_person(label)).lower()


def without_person(label: str) -> str:
    """The label after the last colon."""
    return label.rsplit(":", 1)[-1].strip()


def person_of(label: str) -> str:
    """The prefix before the last colon, or an empty string."""
    return label.rsplit(":", 1)[0].strip() if ":" in label else ""


def is_unlabelled(label: str) -> bool:
    """Whether a label is only a stand-in for a marker nobody named: empty, a number, ``*12``, ``U_3``."""
    return _UNLABELLED.match(without_person(label)) is not None


def upper_end(labels: Sequence[str]) -> list[int]:
    """Indices of labels at the head end of the body."""
    return [index for index, label in enumerate(labels) if _UPPER.match(plain_name(label))]


def lower_end(labels: Sequence[str]) -> list[int]:
    """Indices of labels at the foot end of the body."""
    return [index for index, label in enumerate(labels) if _LOWER.match(plain_name(label))]


def distinct(labels: Iterable[str]) -> tuple[str, ...]:
    """The same labels, the second and later of one name marked ``name#2``, ``name#3`` so that each is unique."""
    seen: dict[str, int] = {}
    taken: set[str] = set()
    result = []
    for label in labels:
        seen[label] = seen.get(label, 0) + 1
        name = label if seen[label] == 1 else f"{label}#{seen[label]}"
        while name in taken:
            seen[label] += 1
            name = f"{label}#{seen[label]}"
        taken.add(name)
        result.append(name)
    return tuple(result)


#: Ends of names of quantities that are computed and are not positions (labels.md).
_QUANTITY = re.compile(r"(?:angles?|forces?|moments?|powers?|grf|index|scalars?)$", re.IGNORECASE)

#: Names of positions that are computed: centres of mass and of joints (labels.md).
_COMPUTED_POSITION = re.compile(r"(?:cent(?:re|er)ofmass\w*|com(?:floor)?|\w*mass|[lr]?[hkaswe]jc)$", re.IGNORECASE)

#: A side or a segment may stand before a separator too; such words are no person's prefix.
_NO_PERSON = {"l", "r", "left", "right", "c", "m"}

#: Markers with the same prefix that make a person. Proposed default, no published norm.
_MARKERS_OF_A_PERSON = 8


def computed(labels: Sequence[str]) -> tuple[set[int], set[int]]:
    """Indices of points that are computed by their names: quantities that are no positions, and positions.

    An origin and the ends of three axes (``LFEO LFEA LFEL LFEP``) belong together and are positions of a segment frame.
    """
    names = [without_person(label) for label in labels]
    quantities = {index for index, name in enumerate(names) if _QUANTITY.search(name)}
    positions = {index for index, name in enumerate(names) if _COMPUTED_POSITION.match(name)}
    whole = set(labels)
    for index, label in enumerate(labels):
        if label[-1:] in "OALP" and len(names[index]) > 3 and all(label[:-1] + end in whole for end in "OALP"):
            positions.add(index)
    return quantities, positions - quantities


def people(labels: Sequence[str]) -> dict[str, list[int]]:
    """Prefixes of labels that stand for persons, with the indices of their markers, in the order of the file.

    A prefix ends at the last colon; at another separator only when several prefixes carry mostly the same names.
    """
    by_prefix: dict[str, list[int]] = {}
    for index, label in enumerate(labels):
        if prefix := person_of(label):
            by_prefix.setdefault(prefix, []).append(index)
    found = {prefix: members for prefix, members in by_prefix.items() if len(members) >= _MARKERS_OF_A_PERSON}
    if found:
        return found
    for separator in "_-. ":
        split: dict[str, dict[str, int]] = {}
        for index, label in enumerate(labels):
            prefix, found_separator, rest = label.partition(separator)
            if found_separator and prefix.lower() not in _NO_PERSON:
                split.setdefault(prefix, {})[rest] = index
        large = {prefix: names for prefix, names in split.items() if len(names) >= _MARKERS_OF_A_PERSON}
        if len(large) < 2:
            continue
        shared = set.intersection(*(set(names) for names in large.values()))
        if 2 * len(shared) >= max(len(names) for names in large.values()):
            return {prefix: sorted(names.values()) for prefix, names in large.items()}
    return {}
