"""What the commands say of their work, line by line."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from . import comparison, markers, numbers

READ_AS = "read as, with the reason:"
NO_GOAL = "  no goal: nothing stands out"
NO_DIFFERENCE_OF_TIME = "no difference of time that this measurement can show"
NO_FINDINGS = "no findings in either take"
NONE_SURE = "  none is sure: propose them from a take of the dancer standing still, feet parallel and arms away"
NO_PICTURES = "No correction in what could be measured: no pictures"
NO_MUSIC = "\nNo music: nothing of it falls where the dancer's own speed is seen"


def written(places: Sequence[object]) -> str:
    """Where everything is: "written: a, b"."""
    return f"written: {', '.join(str(place) for place in places)}"


def next_review(take: str) -> str:
    """What to type after a check, on a line of its own so that it can be copied. take: its path as a shell takes it."""
    return f"next:\n  in-the-round review {take} --out DIR"


def next_with_folder() -> str:
    """What can be made of a review."""
    return "next: page, lesson, scene, stills, turntable or hand-over, with this folder"


def next_with_both() -> str:
    """What can be made of two reviews."""
    return "next: page, stills or turntable, with both folders"


def note(remark: str) -> str:
    """Something worth knowing."""
    return f"note: {remark}"


# An archive.


def takes_done(done: int, of: int, left_s: float | None) -> str:
    """How far an archive is."""
    return f"{done} of {of} takes{'' if left_s is None else f', {numbers.long_time(left_s)} left'}"


def archived(takes: int, reviewed: int, reused: int, failed: int, seconds: float) -> str:
    """What came of an archive."""
    counts = f"{reviewed} reviewed, {reused} as before, {failed} that could not be"
    return f"{numbers.counted(takes, 'take', 'takes')}: {counts}, in {numbers.long_time(seconds)}"


def waiting(count: int) -> str:
    """Takes that were not reviewed yet."""
    return f"{count} wait: run the same command again"


def static_serves(path: object, count: int) -> str:
    """For how many takes a take of standing still is used."""
    return f"static take {path} serves {numbers.counted(count, 'take', 'takes')}"


def more_errors(count: int) -> str:
    """What is not listed."""
    return f"and {count} more, in takes.csv"


def into_record(added: int, there: int, refused: int) -> str:
    """What of an archive went into the record."""
    return f"record: {added} added, {there} there already, {refused} without consent"


def without_dancer(count: int) -> str:
    """Takes of which nobody said whose they are."""
    return f"  {count} takes name no dancer (archive.toml: dancer = …)"


# A check.


def checked(duration_s: float, frames: int, rate_hz: float, labels: int, *, markers: bool) -> str:
    """How much a take holds."""
    what = "markers" if markers else "joints"
    return f"{numbers.seconds(duration_s)}, {frames} frames at {numbers.hertz(rate_hz)}, {labels} {what}"


def missing(share: float) -> str:
    """How much of it is missing."""
    return f"missing: {numbers.percent(share, 1)} of the samples"


def markers_head(width: int) -> str:
    """Over the markers with gaps; width: of the longest label."""
    return "  marker".ljust(width + 4) + "missing  longest gap  filled  on the body"


def marker_line(label: str, width: int, share: float, longest_s: float, filled: float, landmark: str | None) -> str:
    """One marker with gaps."""
    gap = f"{numbers.percent(share, 1):>7}  {numbers.seconds(longest_s, 2):>11}"
    place = markers.marker_in_words(label, landmark).lower() if landmark else "unknown"
    return f"  {label.ljust(width)}  {gap} {numbers.percent(filled, 1):>7}  {place}"


def more_gaps(count: int) -> str:
    """What is not listed."""
    return f"  and {count} more with gaps"


def proposed(markers: int, facing_confidence: float) -> str:
    """Landmarks that were proposed."""
    sure = f"front and back told apart with confidence {numbers.confidence(facing_confidence)}"
    return f"proposed landmarks for {markers} markers; {sure}"


def proposal(label: str, landmark: str, confidence: float) -> str:
    """One of them."""
    return f"  {label}: {landmark} (confidence {numbers.confidence(confidence)})"


def no_proposal(label: str) -> str:
    """A marker that could be anything."""
    return f"  {label}: no proposal"


def all_known(path: Path) -> str:
    """A take in which there is nothing to propose."""
    return (
        f"every label is known already, nothing is proposed\nwritten: {path}. Lines of your own go there; then use it with "
        f"--landmarks {path}"
    )


def check_table(path: Path) -> str:
    """What to do with a table of proposals."""
    return f"written: {path}. Check every line, then use it with --landmarks {path}"


# Two takes.


def compared(b: str, a: str, method: str, landmarks: int) -> str:
    """What was compared, and how the takes were brought in step."""
    by = {
        "landmarks": f"by {numbers.counted(landmarks, 'moment', 'moments')} of their steps",
        "elastic": "by the shape of the movement",
    }
    return f"{b} against {a}: in step {by.get(method, f'by the {method}')}"


def only_in(take: str, start_s: float, end_s: float, why: str) -> str:
    """What one take alone has."""
    return f"  only in take {take}, {numbers.span(start_s, end_s, 2)}: {why}"


def differences_of_shape(count: int, a: str, b: str) -> str:
    """How many there are, and how they are told."""
    if not count:
        return comparison.NO_DIFFERENCE
    return f"{numbers.counted(count, 'difference', 'differences')} of shape (when in {a} / in {b}; + is more in {b})"


def differences_of_time(count: int) -> str:
    """How many there are."""
    return f"{numbers.counted(count, 'difference', 'differences')} of time" if count else NO_DIFFERENCE_OF_TIME


def findings_compared(count: int) -> str:
    """How many findings both takes have together."""
    return f"{numbers.counted(count, 'finding', 'findings')} compared" if count else NO_FINDINGS


def at_both(a_s: float, b_s: float, what: str) -> str:
    """A difference, with its moment in either take."""
    return f"  {numbers.seconds(a_s, 2):>8} / {numbers.seconds(b_s, 2):>8}  {what}"


def more_in(count: int, file: str) -> str:
    """What is not listed."""
    return f"  and {count} more in {file}"


# A plan, a page, pictures, a film, a scene.


def planned(path: Path, minutes: float, jumps: int, limit: int) -> str:
    """How long a class is, and how much jumping is in it."""
    return f"{path}: {numbers.minutes(minutes)}, planned jumps {jumps} of {limit}"


def goal(aim: str, why: str) -> str:
    """A goal of a class."""
    return f"  goal: {aim} {why}"


def block(minutes: float, name: str) -> str:
    """A part of a class."""
    return f"  {numbers.plain(minutes):>4} min  {name}"


def not_in_record(names: Sequence[str]) -> str:
    """Dancers whom the record does not know."""
    return f"The record does not know {', '.join(names)}. Give the pseudonym that stands there, as NAME=DIR."


def texts_kept(count: int) -> str:
    """How much of what the teacher wrote stays."""
    return f"{count} of your own texts were kept"


def no_pictures(why: object) -> str:
    """A page that Blender could not make pictures for."""
    return f"The page has no pictures. {why}"


def too_large(size: int) -> str:
    """A page that is too large for mail."""
    return f"The page has {numbers.megabytes(size)}: many mail programs refuse it. A shorter or smaller film helps."


def scene(path: Path, frames: int, rate_hz: float, findings: int) -> str:
    """A scene that was written."""
    found = numbers.counted(findings, "finding", "findings")
    return f"{path}: {frames} frames at {numbers.hertz(rate_hz)}, {found} marked on the timeline"


def stills(count: int, engine: str) -> str:
    """Pictures that were made of the corrections, and by which engine."""
    return f"{numbers.counted(count, 'picture', 'pictures') if count else NO_PICTURES}, rendered with {engine}"


def film(path: Path, length_s: float, pictures: int, engine: str) -> str:
    """A film that was written."""
    return f"{path}: {numbers.seconds(length_s)}, {pictures} pictures, rendered with {engine}"


def resumed(pictures: int) -> str:
    """A film that went on where it had stopped."""
    return f"\n{pictures} of the pictures were there from the film that was stopped"


def without(what: str) -> str:
    """What of a film's companions is not there."""
    return f"\nWithout what is remembered for the take: {what}"


def too_short(left_out: Sequence[str], seconds: int) -> str:
    """A film in which not all that was kept has room."""
    return f"\nToo short for {', '.join(left_out)}: --seconds {seconds} has room for all that was kept"
