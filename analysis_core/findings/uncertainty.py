"""The ± of every measure: from the take's own data by measuring other recordings of it, else from the catalogue."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np

from ..body.marker_errors import marker_errors
from ..body.movement import JOINTS, Movement, RecordedMovement
from ..body.recorded_again import DRAWS, RecordedAgain
from ..phrase.phase import Phrase
from ..take import Floats, Source
from .catalogue import Limits
from .evidence import Evidence
from .limits import ERRORS
from .observation import Observation


@cache
def shown_shares() -> Mapping[tuple[str, str], float]:
    """Share of the reckoned error that trials show, by fault and measure (``errors_shown.toml``); others show all of it."""
    data = tomllib.loads((Path(__file__).parent / "errors_shown.toml").read_text(encoding="utf-8"))
    return {(fault, measure): float(share) for fault, shares in data["share"].items() for measure, share in shares.items()}


@cache
def joint_columns(joints: tuple[str, ...]) -> list[int]:
    """Places of some joints in the order of JOINTS."""
    return [JOINTS.index(name) for name in joints]


def _extra_error(told: Observation, unit: str, movement: Movement) -> float:
    """1-SD error, in the measure's unit, that the decisive joints bring beyond the ordinary."""
    if not told.joints:
        return told.extra_sd
    error = movement.joint_error_m[told.peak, joint_columns(told.joints)]
    error = error[np.isfinite(error)]
    beyond = float(np.sqrt(max(np.max(error, initial=0.0) ** 2 - ERRORS.ordinary_error_m**2, 0.0)))
    in_unit = {"mm": 1000 * beyond, "deg": float(np.degrees(beyond / told.lever_m)), "ratio": beyond / told.lever_m}.get(
        unit, 0.0
    )
    return float(np.hypot(told.extra_sd, in_unit))


def _standing_factor(limits: Limits, movement: Movement) -> float:
    return ERRORS.without_static if limits.from_standing and not movement.standing.from_static else 1.0


def catalogue_errors(told: Observation, limits: Limits, movement: Movement) -> tuple[float, float]:
    """1-SD errors of an observation by the catalogue alone, in its measure's unit: the whole, and within the take."""
    within = limits.sd_skeleton if movement.kind == "skeleton" else limits.sd
    extra = _extra_error(told, limits.unit, movement)
    whole = float(np.hypot(within * _standing_factor(limits, movement), extra))
    return max(whole, told.least_sd), float(np.hypot(within, extra))


def _by_recording_again(told: Observation, limits: Limits, again: RecordedAgain, evidences: Sequence[Evidence]) -> float:
    """Root mean square (unit of the measure) of what other recordings tell beside this one; NaN where they tell nothing."""
    assert told.made_of is not None
    peak = int(np.searchsorted(again.frames, told.peak))
    values: list[Floats] = []
    for evidence in evidences:
        made = np.asarray(told.made_of(evidence), dtype=np.float64)
        path = made if told.path else made[:, None]
        value = path[peak]
        if told.against is not None:
            value = value - path[int(np.searchsorted(again.frames, told.against))]
        values.append(value)
    apart = np.stack(values[1:]) - values[0]
    if limits.unit == "deg":
        apart = (apart + 180) % 360 - 180
    apart = apart[np.isfinite(apart).all(axis=1)]
    # A path tells a distance: the error along one direction of it.
    return float(np.sqrt(np.mean(apart**2))) if apart.size else float("nan")


def _by_other_recordings(
    told: Sequence[Observation], limits: Sequence[Limits], evidence: Evidence, draws: int, *, lasting: bool
) -> list[float]:
    """1-SD error of every observation by measuring the decisive frames of all at once on other recordings of the same dance
    (``OtherRecordings``); NaN where a measure cannot be repeated frame by frame, or nothing tells how the take was recorded."""
    decisive = {f for one in told if one.made_of is not None for f in (one.peak, one.against) if f is not None}
    frames = np.array(sorted(decisive), dtype=np.int64)
    recordings = evidence.recordings if decisive else None
    again = None if recordings is None else recordings.again(frames, draws, lasting=lasting)
    evidences = [] if again is None else [Evidence(one, Phrase((), ())) for one in again.movements]
    return [
        # A change that was greatest where it is counted from is no change; other recordings tell nothing of it.
        float("nan")
        if again is None or one.made_of is None or one.against == one.peak
        else _by_recording_again(one, limit, again, evidences)
        for one, limit in zip(told, limits, strict=True)
    ]


def standard_errors(told: Sequence[Observation], limits: Sequence[Limits], evidence: Evidence) -> list[float]:
    """1-SD error of every observation against what the body truly did, in its measure's unit.

    From markers: by other recordings of the same dance. The catalogue's error where a measure cannot be repeated frame by frame,
    for skeletons, and for a review that was read from a file. Wider without a static take where the number is a change from
    standing. From markers that were seen, the share of all that which the trials show (``shown_shares``).
    """
    movement = evidence.movement
    result = []
    for one, limit, sd in zip(told, limits, _by_other_recordings(told, limits, evidence, DRAWS, lasting=True), strict=True):
        stood = marker_errors().stance_deg[limit.stance] if limit.stance else 0.0
        whole = float(np.sqrt((sd * _standing_factor(limit, movement)) ** 2 + one.extra_sd**2 + stood**2))
        known = max(whole, one.least_sd) if np.isfinite(whole) else catalogue_errors(one, limit, movement)[0]
        as_in_trials = isinstance(movement, RecordedMovement) and _seen(one, movement)
        result.append(known * (shown_shares().get((one.fault, one.measure), 1.0) if as_in_trials else 1.0))
    return result


def _seen(told: Observation, movement: Movement) -> bool:
    """Whether an observation's joints are known by their own markers at its decisive moment. Of what was filled from elsewhere in
    the body, as of solved skeletons, the trials show nothing."""
    return bool((movement.joint_source[told.peak, joint_columns(told.joints)] <= Source.OWN_PATH).all())


def errors_within_take(told: Sequence[Observation], limits: Sequence[Limits], evidence: Evidence) -> list[float | None]:
    """1-SD error of every observation against the same number where the step comes again in the take, in its measure's unit.

    Without what is the same throughout a take: where markers were stuck on, joint centres of a rule, how the dancer stood. None
    where the recording does not tell the two apart.
    """
    # Half as many recordings: these errors are shown, nothing is judged by them.
    errors = _by_other_recordings(told, limits, evidence, DRAWS // 2, lasting=False)
    return [float(np.hypot(sd, one.extra_sd)) if np.isfinite(sd) else None for one, sd in zip(told, errors, strict=True)]
