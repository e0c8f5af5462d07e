"""Marker labels to anatomical landmarks, through tables that a studio can edit."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

from ..errors import LandmarkError, reason
from .anatomy import LANDMARKS, SIDE_SUFFIXES, SIDES, SUFFIXES, TRUNK_SEGMENTS

#: The part of a studio's table that names its labels one by one.
MARKERS = "markers"
_SIDE_WORDS = {**SUFFIXES, **{side[0]: suffix for side, suffix in SUFFIXES.items()}}


@dataclass(frozen=True)
class Landmark:
    """One landmark of the tables: the segment it moves with, whether it has no side, and the words for it.

    exact: labels of a studio that stand for it as they are, each with the side (".L", ".R" or "").
    """

    segment: str
    central: bool
    labels: tuple[str, ...]
    exact: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Recognition:
    """What the labels of a take name. landmark_of, segment_of: by marker index; unknown: labels that no table knows."""

    landmark_of: dict[int, str]
    segment_of: dict[int, str]
    unknown: tuple[str, ...]

    @property
    def index_of(self) -> dict[str, int]:
        """Marker index by landmark name."""
        return {name: index for index, name in self.landmark_of.items()}


def squeeze(label: str) -> str:
    """Lower case, letters and digits only."""
    return re.sub(r"[^a-z0-9]", "", label.lower())


def without_person(label: str) -> str:
    """A label without the person's prefix in front of a colon."""
    return label.rsplit(":", 1)[-1]


def side_of(label: str) -> tuple[str, str]:
    """Suffix (".L", ".R" or "") and the label without its side, squeezed; words and letters at either end count."""
    words = [word for word in re.split(r"[^a-z0-9]+", re.sub(r"(?<=[a-z])(?=[A-Z])", " ", label).lower()) if word]
    for position in (0, -1):
        if len(words) > 1 and words[position] in _SIDE_WORDS:
            rest = words[1:] if position == 0 else words[:-1]
            return _SIDE_WORDS[words[position]], "".join(rest)
    text = squeeze(label)
    for word in SIDES:
        if text.startswith(word) and len(text) > len(word):
            return _SIDE_WORDS[word], text[len(word) :]
        if text.endswith(word) and len(text) > len(word):
            return _SIDE_WORDS[word], text[: -len(word)]
    if text[:1] in ("l", "r") and len(text) > 1:
        return _SIDE_WORDS[text[0]], text[1:]
    return "", text


def _landmark(name: str, entry: Mapping[str, Any]) -> Landmark:
    """What a table says of a landmark; of one that anatomy knows it says the words alone."""
    known = LANDMARKS.get(name)
    segment = entry["segment"] if known is None else entry.get("segment", known.segment)
    return Landmark(segment, bool(entry.get("central", known is not None and known.central)), tuple(entry["labels"]))


def _parse(text: str, source: str) -> tuple[dict[str, Landmark], dict[str, str]]:
    """Landmarks by name, and what stands under [markers]: landmark (with its side) by label."""
    try:
        data = tomllib.loads(text)
        markers = data.pop(MARKERS, {})
        landmarks = {name: _landmark(name, entry) for name, entry in data.items()}
        return landmarks, {str(label): str(name) for label, name in markers.items()}
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError) as error:
        raise LandmarkError(
            f"{source} is not a table of landmarks ({error}). Each landmark needs 'labels', your own also 'segment'; "
            'see landmarks.toml, or write lines such as "P01" = "calcaneus.L" under [markers].'
        ) from error


def load_landmarks(studio_table: Path | None = None) -> dict[str, Landmark]:
    """The tables by landmark name; the labels of a studio's own table come first and may add to known landmarks.

    Raises LandmarkError when the studio's table cannot be read.
    """
    table, _ = _parse(resources.files(__package__).joinpath("landmarks.toml").read_text(encoding="utf-8"), "landmarks.toml")
    if studio_table is None:
        return table
    try:
        own, markers = _parse(studio_table.read_text(encoding="utf-8"), str(studio_table))
    except (OSError, UnicodeDecodeError) as error:
        raise LandmarkError(f"{studio_table} cannot be read ({reason(error)}). Give the path of a table of landmarks.") from error
    for name, landmark in own.items():
        known = table.get(name)
        labels = landmark.labels + (known.labels if known else ())
        table[name] = Landmark(landmark.segment, landmark.central, labels)
    for label, sided in markers.items():
        name, dot, side = sided.partition(".")
        suffix = dot + side
        if name not in table or suffix not in (("",) if table[name].central else SIDE_SUFFIXES):
            raise LandmarkError(
                f"{studio_table}: “{sided}” behind “{label}” is no landmark. Use a name of landmarks.toml, with .L or .R unless "
                "it lies in the middle."
            )
        table[name] = replace(table[name], exact=(*table[name].exact, (label, suffix)))
    return table


def _lookup(table: Mapping[str, Landmark]) -> tuple[dict[str, str], dict[str, str]]:
    central: dict[str, str] = {}
    sided: dict[str, str] = {}
    for name, landmark in table.items():
        for label in (name, *landmark.labels):
            (central if landmark.central else sided).setdefault(squeeze(label), name)
    return central, sided


def recognise(labels: tuple[str, ...], table: Mapping[str, Landmark] | None = None) -> Recognition:
    """Landmarks named by the labels of a take; the first of two labels for the same landmark wins."""
    table = load_landmarks() if table is None else table
    central, sided = _lookup(table)
    landmark_of: dict[int, str] = {}
    unknown: list[str] = []
    exact = {label: name + side for name, landmark in table.items() for label, side in landmark.exact}
    for index, label in enumerate(labels):
        plain = without_person(label)
        suffix, rest = side_of(plain)
        if label in exact or plain in exact:
            name = exact.get(label) or exact[plain]
        elif squeeze(plain) in central:
            name = central[squeeze(plain)]
        elif suffix and rest in sided:
            name = sided[rest] + suffix
        else:
            # A prefix with an underscore is a person's only if what follows it names a landmark.
            tail = plain.split("_", 1)[-1]
            suffix, rest = side_of(tail)
            if tail != plain and squeeze(tail) in central:
                name = central[squeeze(tail)]
            elif tail != plain and suffix and rest in sided:
                name = sided[rest] + suffix
            else:
                unknown.append(label)
                continue
        if name not in landmark_of.values():
            landmark_of[index] = name
    segment_of = {index: segment_of_landmark(name, table) for index, name in landmark_of.items()}
    return Recognition(landmark_of, segment_of, tuple(unknown))


def segment_of_landmark(name: str, table: Mapping[str, Landmark]) -> str:
    """Body part that a landmark (with its side) moves with; parts of the trunk have no side."""
    stem, dot, side = name.partition(".")
    segment = table[stem].segment
    return segment if segment in TRUNK_SEGMENTS else segment + dot + side
