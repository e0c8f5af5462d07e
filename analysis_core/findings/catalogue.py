"""The catalogue of faults and the profiles of bands, read from TOML."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, get_args

import numpy as np

from ..body.movement import Movement
from ..errors import OptionError, reason
from ..phrase.phase import PhaseKind
from ..take import Kind
from .limits import ERRORS

_HERE = Path(__file__).parent
PROFILES = _HERE / "profiles"
_INFINITY = float("inf")


@dataclass(frozen=True)
class Limits:
    """What one measure is judged by, in ``unit``: nothing is said inside ``ok``; a fault lies outside ``fault``.

    Open sides are infinite. says: what the number is. sd: its 1-SD error within one take (sd_skeleton for a solved skeleton).
    from_standing: the number is a change from standing. stance: of what, where a dancer stands differently from one time to
    the next (a name of ``marker_errors.toml``), else None. view: where to stand, if not where the fault's own view is. meant: a
    larger size is taken as the choreography's. possible: a larger size is none of a body's: the recording is wrong there.
    """

    unit: str
    says: str
    ok: tuple[float, float]
    fault: tuple[float, float]
    sd: float
    sd_skeleton: float
    from_standing: bool
    stance: str | None
    view: str | None
    meant: float
    possible: float


@dataclass(frozen=True)
class Entry:
    """One fault of the catalogue. confidence: by kind of recording, "none" where that kind cannot show it.

    how: what is measured; frames: when it is looked at; markers: what it is measured from; cannot: what it cannot tell.
    """

    fault: str
    title: str
    cue: str
    cue_young: str
    caution: str | None
    band_source: str
    how: str
    frames: str
    markers: str
    cannot: str
    view: str
    parts: tuple[str, ...]
    exercises: tuple[str, ...]
    confidence: Mapping[Kind, str]
    measures: Mapping[str, Limits]


#: What a profile's [own] table may name: the field of Standing, and what one of its units is in the field's.
OWN_RANGES = {
    "demi_plie_deg": ("demi_plie_rad", np.pi / 180),
    "releve_mm": ("releve_m", 1 / 1000),
    "pointed_deg": ("pointed_rad", np.pi / 180),
    "passive_turnout_deg": ("passive_turnout_rad", np.pi / 180),
}


@dataclass(frozen=True)
class Profile:
    """Whose bands are used: the catalogue with a level's or a teacher's changes.

    entries: by fault. off: faults that are not asked for. young: cues in words for children. own: ranges of one dancer that were
    measured elsewhere, left and right, by field of Standing, in its unit; they stand in for what the take itself shows. steps: by
    fault, the only kinds of step in which it is judged; a fault that is not named there is judged wherever it is defined.
    """

    name: str
    title: str
    young: bool
    off: frozenset[str]
    entries: Mapping[str, Entry]
    own: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    steps: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def asks(self, fault: str, kind: str) -> bool:
        """Whether a fault is judged in one kind of step."""
        return fault not in self.off and kind in self.steps.get(fault, (kind,))

    def measured(self, movement: Movement) -> Movement:
        """The movement with the dancer's own measured ranges in place of those that the take shows."""
        if not self.own:
            return movement
        ranges: dict[str, Any] = {name: np.array(pair) for name, pair in self.own.items()}
        return replace(movement, standing=replace(movement.standing, **ranges))

    def cue(self, fault: str) -> str:
        """What to say to this dancer."""
        entry = self.entries[fault]
        return entry.cue_young if self.young else entry.cue


def _limits(data: Mapping[str, Any]) -> Limits:
    return Limits(
        unit=data["unit"],
        says=data["says"],
        ok=(float(data["ok"][0]), float(data["ok"][1])),
        fault=(float(data["fault"][0]), float(data["fault"][1])),
        sd=float(data["sd"]),
        sd_skeleton=float(data.get("sd_skeleton", ERRORS.of_skeletons * float(data["sd"]))),
        from_standing=bool(data.get("standing", False)),
        stance=data["standing"] if isinstance(data.get("standing"), str) else None,
        view=data.get("view"),
        meant=float(data.get("meant", _INFINITY)),
        possible=float(data.get("possible", _INFINITY)),
    )


@cache
def catalogue() -> Mapping[str, Entry]:
    """All faults by name, with the bands of the catalogue itself."""
    data = tomllib.loads((_HERE / "catalogue.toml").read_text(encoding="utf-8"))
    return {
        fault: Entry(
            fault=fault,
            title=entry["title"],
            cue=entry["cue"],
            cue_young=entry["cue_young"],
            caution=entry.get("caution"),
            band_source=entry["band_source"],
            how=entry["how"],
            frames=entry["frames"],
            markers=entry["markers"],
            cannot=entry["cannot"],
            view=entry["view"],
            parts=tuple(entry["parts"]),
            exercises=tuple(entry["exercises"]),
            confidence=entry["confidence"],
            measures={name: _limits(measure) for name, measure in entry["measures"].items()},
        )
        for fault, entry in data.items()
    }


def _wider(limit: float, unit: str, tolerance: float) -> float:
    """A limit for a dancer of whom less is asked. A share is counted from the whole."""
    if unit == "ratio" and limit < 1:
        return 1 - (1 - limit) * tolerance
    return limit * tolerance


def _wide(limits: Limits, tolerance: float) -> Limits:
    if limits.unit != "ratio" and limits.ok[0] > 0:
        # At least so much is asked for: less of it.
        least = limits.ok[0] / tolerance, limits.fault[0] / tolerance
        return replace(limits, ok=(least[0], limits.ok[1]), fault=(least[1], limits.fault[1]))
    low, high = (tuple(_wider(limit, limits.unit, tolerance) for limit in band) for band in (limits.ok, limits.fault))
    return replace(limits, ok=(low[0], low[1]), fault=(high[0], high[1]))


def _changed(limits: Limits, change: Mapping[str, Any], where: str) -> Limits:
    bands = {}
    for name in ("ok", "fault"):
        band = change.get(name, list(getattr(limits, name)))
        good = isinstance(band, list) and len(band) == 2 and all(isinstance(v, int | float) for v in band) and band[0] < band[1]
        if not good:
            raise OptionError(f"{where}: {name} must be two numbers, the smaller first (inf and -inf leave a side open).")
        bands[name] = (float(band[0]), float(band[1]))
    if not (bands["fault"][0] <= bands["ok"][0] and bands["ok"][1] <= bands["fault"][1]):
        raise OptionError(f"{where}: the band ok must lie inside the band fault.")
    return replace(limits, ok=bands["ok"], fault=bands["fault"])


def _own_ranges(data: Mapping[str, Any], path: Path) -> dict[str, tuple[float, float]]:
    table = data.get("own", {})
    strange = set(table) - set(OWN_RANGES)
    if strange:
        raise OptionError(f"{path}: [own] has no range {', '.join(sorted(strange))}, only {', '.join(OWN_RANGES)}.")
    ranges = {}
    for name, pair in table.items():
        good = isinstance(pair, list) and len(pair) == 2 and all(isinstance(v, int | float) and v > 0 for v in pair)
        if not good:
            raise OptionError(f"{path}: {name} in [own] must be two numbers above 0, the left side first.")
        field_name, factor = OWN_RANGES[name]
        ranges[field_name] = (float(pair[0]) * factor, float(pair[1]) * factor)
    return ranges


def _steps(data: Mapping[str, Any], path: Path) -> dict[str, frozenset[str]]:
    kinds = get_args(PhaseKind)
    steps = {}
    for fault, named in data.get("steps", {}).items():
        if not isinstance(named, list) or not named or not set(named) <= set(kinds):
            raise OptionError(f"{path}: {fault} in [steps] must be a list of kinds of step. They are: {', '.join(kinds)}.")
        steps[fault] = frozenset(named)
    return steps


def _profile(path: Path) -> Profile:
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise OptionError(
            f"{path}: the profile cannot be read ({reason(error)}). Start from a copy of one of {PROFILES.name}/*.toml."
        ) from error
    entries = dict(catalogue())
    tolerance = data.get("tolerance", 1.0)
    if not isinstance(tolerance, int | float) or not 0.2 <= tolerance <= 5:
        raise OptionError(f"{path}: tolerance must be a number between 0.2 and 5.")
    unknown = {*data.get("off", ()), *data.get("bands", {}), *data.get("steps", {})} - set(entries)
    if unknown:
        raise OptionError(
            f"{path}: there is no fault {', '.join(sorted(unknown))}. The faults are: {', '.join(sorted(entries))}."
        )
    for fault, entry in entries.items():
        changes = data.get("bands", {}).get(fault, {})
        strange = set(changes) - set(entry.measures)
        if strange:
            raise OptionError(f"{path}: {fault} has no measure {', '.join(sorted(strange))}, only {', '.join(entry.measures)}.")
        measures = {
            name: _changed(_wide(limits, float(tolerance)), changes.get(name, {}), f"{path}: {fault}, {name}")
            for name, limits in entry.measures.items()
        }
        source = "the studio's own band" if changes else entry.band_source
        entries[fault] = replace(entry, measures=measures, band_source=source)
    return Profile(
        name=str(data.get("name", path.stem)),
        title=str(data.get("title", data.get("name", path.stem))),
        young=bool(data.get("young", False)),
        off=frozenset(data.get("off", ())),
        entries=entries,
        own=_own_ranges(data, path),
        steps=_steps(data, path),
    )


def profile_names() -> tuple[str, ...]:
    """Names of the profiles that come with the product."""
    return tuple(sorted(path.stem.replace("_", " ") for path in PROFILES.glob("*.toml")))


def load_profile(level: str) -> Profile:
    """The profile of a level, by name, or a teacher's own by the path of its TOML file.

    Raises OptionError naming the levels there are, or what is wrong with the file.
    """
    if level.endswith(".toml"):
        return _profile(Path(level))
    path = PROFILES / f"{level.strip().lower().replace(' ', '_').replace('-', '_')}.toml"
    if not path.is_file():
        raise OptionError(f"There is no level {level!r}. Give one of {', '.join(profile_names())}, or the path of a .toml file.")
    return _profile(path)
