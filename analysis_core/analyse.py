"""The way of the data from a file to a review: read, clean, solve, understand, find, order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from .body.landmarks import Landmark, load_landmarks
from .body.movement import Movement, RecordedMovement
from .body.solve import solve
from .capture import Captured, clean
from .clean import judge_capture, mix_ups
from .findings.catalogue import Profile, load_profile
from .findings.causes import order
from .findings.find import find
from .findings.measures_version import measures_version
from .phrase import (
    Counts,
    Scale,
    doubt_by_free_fall,
    propose_tempo,
    scale_from_free_fall,
    understand_phrase,
    without_heights_and_speeds,
)
from .phrase.phase import Phrase
from .read import read_take
from .review import Markers, Review, TakeSummary
from .settings import AUTO, Settings
from .take import CleanedTake, Inference, Take
from .wording import capture as say
from .wording import numbers
from .wording import reading as reading_words

#: A skeleton without a unit is scaled by free fall only when that says more than body size does: beyond this share.
_LEAST_SCALE_CHANGE = 0.03


def _scaled(captured: Captured, scale: Scale) -> Captured:
    """The same skeleton take with all lengths multiplied."""
    take, cleaned = captured.take, captured.cleaned
    if take.skeleton is None:
        return captured
    factor = scale.factor
    inference = Inference("scale", numbers.factor(factor), reading_words.scaled_by_fall(scale.why))
    larger = replace(
        take,
        positions_m=take.positions_m * factor,
        skeleton=replace(take.skeleton, rest_positions_m=take.skeleton.rest_positions_m * factor),
        inferred=(*take.inferred, inference),
    )
    changed = replace(cleaned, take=larger, positions_m=cleaned.positions_m * factor, smooth_m=cleaned.smooth_m * factor)
    return replace(captured, take=larger, cleaned=changed)


def _counts(settings: Settings, movement: Movement) -> tuple[Counts | None, tuple[Inference, ...]]:
    """The counts of the music, and what was concluded when the movement itself was asked for them."""
    if settings.tempo_bpm is None:
        return None, ()
    if settings.tempo_bpm != AUTO:
        return Counts(settings.tempo_bpm, settings.offset_s), ()
    proposal = propose_tempo(movement)
    if proposal is None:
        return None, (Inference("tempo", say.NO_TEMPO, say.NO_PULSE),)
    tempo = say.proposed_tempo(proposal.counts.tempo_bpm, proposal.plus_minus_bpm)
    return proposal.counts, (Inference("tempo", tempo, say.why_this_tempo(proposal.strength, proposal.others)),)


def _judged_by(settings: Settings, phrase_counts: Counts | None) -> Counts | None:
    """The counts that timing is judged by: never those that were proposed from this very movement."""
    return None if settings.tempo_bpm == AUTO else phrase_counts


def _moved(
    captured: Captured, static: CleanedTake | None, table: Mapping[str, Landmark], settings: Settings, profile: Profile
) -> tuple[Captured, Movement, Phrase, Counts | None]:
    """Movement, phrase, and the counts to judge by; a skeleton whose file has no unit gets the scale that its flights show."""
    movement = profile.measured(solve(captured.cleaned, static, table=table))
    counts, concluded = _counts(settings, movement)
    phrase = understand_phrase(movement, counts, captured.take.force_plates)
    size_doubted = None
    if captured.take.kind == "skeleton" and settings.unit is None:
        scale = scale_from_free_fall(movement)
        size_doubted = scale.doubt if scale is not None else None
        if scale is not None and abs(scale.factor - 1) > _LEAST_SCALE_CHANGE:
            captured = _scaled(captured, scale)
            movement = profile.measured(solve(captured.cleaned, static, table=table))
            counts, concluded = _counts(settings, movement)
            phrase = understand_phrase(movement, counts, captured.take.force_plates)
    doubt = doubt_by_free_fall(movement) or size_doubted
    if doubt is not None:
        movement = replace(movement, warnings=(*movement.warnings, doubt), doubted=True)
        phrase = without_heights_and_speeds(phrase)
    if concluded:
        captured = replace(captured, take=replace(captured.take, inferred=(*captured.take.inferred, *concluded)))
    return captured, movement, phrase, _judged_by(settings, counts)


def analyse(path: Path, settings: Settings = Settings()) -> Review:  # noqa: B008 - frozen, so one default serves all calls
    """Review one take: everything that is known of it.

    Raises TakeError, LandmarkError or OptionError with a sentence that says what to do.
    """
    return analyse_take(read_take(path, settings), settings)


def analyse_take(
    take: Take,
    settings: Settings = Settings(),  # noqa: B008 - frozen, as above
    static_take: Take | None = None,
) -> Review:
    """Review a take that is in memory already; static_take goes before ``settings.static``. Raises as ``analyse``."""
    profile = load_profile(settings.level)
    table = load_landmarks(settings.landmarks)
    captured = clean(take, table)
    if static_take is None and settings.static is not None:
        static_take = read_take(settings.static, settings)
    still = None if static_take is None else clean(static_take, table, as_in=captured.take)
    static = still.cleaned if still is not None else None
    mixed_up = mix_ups(still.cleaned, landmark_of=still.landmark_of) if still is not None else ()
    captured, movement, phrase, counts = _moved(captured, static, table, settings, profile)
    found = find(movement, phrase, profile, counts=counts)
    take = captured.take
    return Review(
        take=TakeSummary(
            file=take.file.name,
            sha256=take.sha256,
            kind=take.kind,
            rate_hz=take.rate_hz,
            frames=take.frames,
            duration_s=take.duration_s,
            inferred=take.inferred,
            warnings=(*take.warnings, *map(say.of_static, mixed_up), *movement.warnings, *phrase.remarks),
            folder=str(take.file.resolve().parent),
        ),
        profile=profile.name,
        quality=judge_capture(
            captured.cleaned,
            landmark_of=captured.landmark_of,
            misplaced=movement.recording.misplaced if isinstance(movement, RecordedMovement) else (),
        ),
        movement=movement,
        phrase=phrase,
        analysed=order(found.findings, phrase, movement),
        unsure=found.unsure,
        measured=found.measured,
        placement=None if static_take is None else static_take.sha256,
        measures_version=measures_version(profile),
        markers=_markers(captured, movement.floor_m),
    )


def _markers(captured: Captured, floor_m: float) -> Markers | None:
    """The cleaned markers with the floor at 0; none of a skeleton."""
    if captured.take.kind == "skeleton":
        return None
    positions = (captured.cleaned.positions_m - np.array([0.0, 0.0, floor_m])).astype(np.float32)
    return Markers(captured.take.labels, positions, captured.cleaned.source)
