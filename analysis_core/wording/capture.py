"""Sentences about a recording: what went wrong in the capture room, and what that means."""

from __future__ import annotations

from collections.abc import Sequence

from . import numbers


def many_missing(share: float) -> str:
    """So much of a take is missing that the cameras should be looked at."""
    return f"{numbers.percent(share)} of all samples are missing: check the cameras' view and aim before the next take."


def missing_throughout(marker: str, serves: str) -> str:
    """A marker that was never seen. serves: the findings that need it."""
    return f"{marker} marker missing throughout: {serves} will be lost. Put it on and retake."


def elsewhere(marker: str, serves: str) -> str:
    """A marker that is nowhere near the body part of its label, from the first frame to the last."""
    return (
        f"{marker} marker is not on its part of the body in the whole take (it came off, or its label or its unit is wrong): it "
        f"is left out, and {serves} will be lost. Stick it on, or correct its label, and retake."
    )


def missing_from(marker: str, start_s: float, serves: str) -> str:
    """A marker that is not seen from a moment on."""
    return f"{marker} marker missing from {numbers.seconds(start_s)}: {serves} will be lost from there. Stick it back and retake."


def hidden(marker: str, start_s: float, end_s: float, serves: str) -> str:
    """A marker that is not seen for a while."""
    return f"{marker} marker hidden from {numbers.span(start_s, end_s)}: {serves} will be lost there."


def moved(marker: str, from_s: float, *, put_back: bool) -> str:
    """A marker that was stuck back elsewhere."""
    done = "it was put back by calculation, less certainly" if put_back else "it is not used from there"
    when = numbers.seconds(from_s)
    return f"{marker} marker sits in another place from {when}: {done}. Stick it back on its mark before the next take."


def exchanged(marker: str, other: str, start_s: float, end_s: float, *, put_right: bool) -> str:
    """Two markers whose labels were exchanged."""
    names = _both(marker, other)
    when = f"from {numbers.span(start_s, end_s)}"
    if put_right:
        return f"The labels of {names} were exchanged {when}; put right."
    return f"The labels of {names} may be exchanged {when}: it cannot be told, so they are not used there. Check them."


def exchanged_throughout(marker: str, other: str) -> str:
    """Two markers of one side that bear each other's label from the first frame to the last."""
    names = _both(marker, other)
    return f"The labels of {names} are exchanged in the whole take; put right. Correct the labels where they are given."


def _both(marker: str, other: str) -> str:
    """Two markers inside a sentence."""
    return " and ".join(name[0].lower() + name[1:] for name in (marker, other))


def late(markers: Sequence[str], lag_s: float) -> str:
    """Markers that come later than the rest of the body, or earlier (negative), all through the take."""
    names = ", ".join(name if not index else name[0].lower() + name[1:] for index, name in enumerate(markers))
    comes = "marker comes" if len(markers) == 1 else "markers come"
    when = "later" if lag_s > 0 else "earlier"
    return (
        f"{names} {comes} {numbers.milliseconds(abs(lag_s))} {when} than the rest of the body in the whole take; put in time. "
        "Look how that part of the recording is kept in step with the others, or filtered, before the next session."
    )


def of_static(sentence: str) -> str:
    """What was wrong with the take of standing still."""
    return f"In the static take: {sentence[0].lower()}{sentence[1:]}"


def sides_exchanged(markers: Sequence[str]) -> str:
    """Markers whose labels say the wrong side from the first frame to the last; markers: those of one side, in words."""
    names = ", ".join(name if not index else name[0].lower() + name[1:] for index, name in enumerate(markers))
    return (
        f"Left and right are exchanged in the labels of the whole take ({names}, each with that of the other side); "
        "put right. Correct the labels where they are given."
    )


def all_sides_exchanged() -> str:
    """Every label says the wrong side, or the recording is a mirror image; which of the two nothing can tell."""
    return (
        "Left and right are exchanged in all labels, or the file is a mirror image of the dancer: as it is, the body "
        "would face backwards. It is read with the labels exchanged; if it is a mirror image, left and right are the "
        "wrong way round here too. Correct the labels or the axes where the file is made."
    )


def shaking(noise_m: float, usual_m: float) -> str:
    """All markers jump about from sample to sample."""
    return (
        f"The markers shake by {numbers.millimetres(noise_m)} from sample to sample (a calibrated room: under "
        f"{numbers.millimetres(usual_m)}). Calibrate the cameras, and look whether the labels sit on the right markers."
    )


def strays(count: int) -> str:
    """Many stray samples."""
    return f"{count} times a marker jumped off its place; taken out. Look for reflections and loose markers."


def far_away(count: int, furthest_m: float) -> str:
    """Samples that lie further away than any room is long."""
    return (
        f"{numbers.counted(count, 'sample lies', 'samples lie')} more than {numbers.metres(furthest_m, 0)} away and count as "
        "missing: the file may be damaged, or its unit is another one"
    )


def ankle_too_high(marker: str, height_m: float, low_m: float, high_m: float) -> str:
    """A marker of the ankle that sits on the shank."""
    usual = f"{numbers.centimetres(low_m).removesuffix(' cm')} to {numbers.centimetres(high_m)}"
    return (
        f"{marker} marker sits {numbers.centimetres(height_m)} above the floor; an ankle is at {usual} on this dancer. It is "
        "used as a marker of the shank. Stick it on the ankle bone."
    )


def knee_elsewhere(marker: str, above_m: float) -> str:
    """A marker of the knee that sits above (positive) or below its joint."""
    return (
        f"{marker} marker sits {numbers.centimetres(abs(above_m))} {'above' if above_m > 0 else 'below'} the knee joint. It is "
        "used as a marker of the thigh. Stick it on the outer side of the knee, where the bone stands out beside the joint line."
    )


def elbow_elsewhere(marker: str, above_m: float) -> str:
    """A marker of the elbow that sits above (positive) or below its joint."""
    return (
        f"{marker} marker sits {numbers.centimetres(abs(above_m))} {'above' if above_m > 0 else 'below'} the elbow joint. It is "
        "used as a marker of the arm there. Stick it on the outer side of the elbow, on the bone beside the joint line."
    )


def pelvis_uneven(marker: str, other: str, by_m: float) -> str:
    """Of two markers of the pelvis that are a pair one sits lower while the dancer stands, and the other pair does not."""
    return (
        f"{marker} marker sits {numbers.centimetres(by_m)} lower than the {other} one while the dancer stands. They are used as "
        "markers of the pelvis; hips are found from the movement. Stick both on the bony points, level with each other."
    )


def pelvis_crooked(pair: str, by_m: float) -> str:
    """One of two markers of the pelvis sits further forward or back than its mirror image."""
    return (
        f"Of the {pair} markers of the pelvis one sits {numbers.centimetres(by_m)} further forward than the other. They are used "
        "as markers of the pelvis; hips are found from the movement. Stick both on the bony points."
    )


def pelvis_back_too_wide(apart_m: float, most_m: float) -> str:
    """Back markers of the pelvis that sit beside the bony points."""
    return (
        f"The back markers of the pelvis sit {numbers.centimetres(apart_m)} apart; the bony points are less than "
        f"{numbers.centimetres(most_m)} apart on this dancer. They are used as markers of the pelvis; hips are found from the "
        "movement. Stick them on the points under the two dimples above the buttocks."
    )


def neck_too_low(by_m: float) -> str:
    """Markers of the base of the neck that sit too low."""
    return (
        f"The markers of the base of the neck sit {numbers.centimetres(by_m)} too low for a human neck. They are used as markers "
        "of the chest. Stick them on the bone that stands out at the back of the neck and on the top of the breastbone."
    )


def head_too_high(by_m: float) -> str:
    """Markers of the head that sit too high."""
    return (
        f"The markers of the head sit {numbers.centimetres(by_m)} too high (a hat or a bun?). They are used as markers of "
        "a head whose middle lies lower."
    )


def floor_at(height_m: float, why: str) -> str:
    """Where the floor was found."""
    return f"Floor at {numbers.millimetres(height_m)} of the recording: {why}."


def floor_from_lowest(height_m: float) -> str:
    """A floor that lies below where the lowest foot point stands."""
    return f"the lowest foot point stands at {numbers.millimetres(height_m)} in the recording"


def floor_slopes(slope: float) -> str:
    """A floor that lies aslant in the recording. slope: rise over way."""
    return (
        f"The recording's floor slopes by {numbers.millimetres(slope)} in a metre, by where flat feet stand: the take is turned "
        "level. Set the floor of the room anew before the next session (on a raked stage leans are counted from its floor)."
    )


def made_up(markers: Sequence[str], seconds: float) -> str:
    """Samples that were filled in before the file was given. markers: their labels; seconds: of all of them together."""
    names = ", ".join(f"“{label}”" for label in markers[:4]) + (", …" if len(markers) > 4 else "")
    return (
        f"Gaps of {names} were filled by straight lines, or by the last place held ({numbers.seconds(seconds)} in all): they "
        "count as missing. Give the recording with its gaps open."
    )


def at_origin(count: int) -> str:
    """Samples exactly at the origin of the recording, as some programs write missing ones."""
    what = numbers.counted(count, "sample lies", "samples lie")
    return f"{what} exactly at the origin of the recording, where nothing is: counted as missing."


def jumps_together(at_s: float, by_m: float) -> str:
    """All markers jump together, as one body."""
    return (
        f"All markers jump by {numbers.millimetres(by_m)} together at {numbers.seconds(at_s)}: what follows is put back (was the "
        "room measured anew, or were two recordings joined?)."
    )


def floor_moved(by_m: float) -> str:
    """A take whose feet come down to another height than in its static take."""
    way = "higher" if by_m > 0 else "lower"
    return (
        f"its feet come down {numbers.millimetres(abs(by_m))} {way} than in the static take (was the room measured anew, or were "
        "shoes put on in between?)"
    )


def floor_of_recording(height_m: float, *, stands: bool) -> str:
    """A floor that is the recording's own. stands: else the foot was never seen to stand flat."""
    what = "stands" if stands else "comes back to"
    side = "above" if height_m >= 0 else "below"
    return f"the lowest foot point {what} {numbers.millimetres(abs(height_m))} {side} the recording's own zero"


def all_within(extent_m: float) -> str:
    """Markers that lie too close together for a body."""
    return (
        f"all its markers lie within {numbers.centimetres(extent_m)} of each other. If that is the unit of the recording, give "
        "the right one with --unit."
    )


def knee_learnt(side: str) -> str:
    """A knee's axis that was learnt from the movement."""
    return f"{side} knee axis learnt from the movement"


def hip_learnt(side: str, apart_m: float) -> str:
    """A hip centre that was learnt from the movement."""
    return f"{side} hip centre learnt from the movement (pelvis and thigh agree to {numbers.millimetres(apart_m, 1)})"


def does_not_fall(flights: int, gravity: float, error: float, real: float, rate_hz: float, lengths: float) -> str:
    """A body that falls as none does, m/s². rate_hz, lengths: the rate, or the factor of all lengths, with which it would."""
    return (
        f"In {numbers.counted(flights, 'flight', 'flights')} the body falls with {numbers.measured(gravity, error, 'm/s²')}; on "
        f"earth it is {numbers.number(real, 'm/s²')}. The rate or the unit is wrong: {numbers.hertz(round(rate_hz))} would fit "
        f"(--rate), or lengths {numbers.factor(lengths)} (--unit). Until then times, speeds and heights are not to be trusted."
    )


def scale_by_fall(flights: int, gravity: float, real: float) -> str:
    """Why all lengths were multiplied."""
    fall = numbers.counted(flights, "flight of this take falls", "flights of this take fall")
    return (
        f"{fall} with {numbers.number(gravity, 'm/s²')} where gravity is {numbers.number(real, 'm/s²')}, weighed against the "
        "size of the body; a wrong frame rate would look the same"
    )


def no_body_so_tall(flights: int, stature_m: float) -> str:
    """A fall that would give a stature that is not believed."""
    return (
        f"The file has no unit, and the fall in {numbers.counted(flights, 'flight', 'flights')} would make a body of "
        f"{numbers.metres(stature_m)}, which is not believed. The unit or the rate is in doubt: give them with --unit or --rate. "
        "Until then times, speeds and heights are not to be trusted."
    )


def agrees_with_plates(events: int, median_s: float, worst_s: float) -> str:
    """How well contacts from markers and from force plates agree."""
    return (
        f"{events} touch-downs and lift-offs from the markers lie within {numbers.milliseconds(median_s)} (median) and "
        f"{numbers.milliseconds(worst_s)} (95 %) of the force plates, whose times are used"
    )


def turning_unseen(unseen_s: float) -> str:
    """A turn in which the facing is missing for too long."""
    return (
        f"where the hips face is not known for {numbers.seconds(unseen_s)} of this turn, enough for half a turn or more: "
        "how many turns were made cannot be told"
    )


#: Beside a review that had no take of standing still.
WIDER_WITHOUT_STATIC = (
    "No static take: a moment of standing in the phrase, or the rest pose of the file, stands in for it, so every ± is wider."
)
#: Why changes from standing cannot be told.
CROUCHED = "the knees were bent where the dancer should have stood; give a take of standing still"
NOBODY_STANDS = "this phrase holds no moment of standing still on two straight legs; give a take of standing still"
#: How a body was built from fewer markers, and where its floor lies.
NO_TOES = (
    "The skeleton ends at the ankles: its feet are completed from usual proportions, pointing straight ahead in the rest pose. "
    "Steps are found by them; where feet point, and how they are shaped, is hardly told."
)
NO_INNER_KNEE = "There is no inner knee marker: the knee's centre is placed by a usual knee breadth."
FLAT_FEET_COME_BACK = "the lowest height that the flat feet come back to"
FEET_COME_BACK = "the lowest height that the feet come back to, since no take of standing still was given"
#: Beside a review of a phrase in which nobody stands still.
NO_STANDING = (
    "No static take, and this phrase holds no moment of standing still on two straight legs: what is counted from standing is "
    "not told. The body's lengths are learnt from the whole phrase. Give a take of standing still (--static)."
)


#: Of a movement that was asked for its tempo and shows none.
NO_TEMPO = "none"
NO_PULSE = "the movement repeats with no beat; give the music's own with --tempo"


def proposed_tempo(tempo_bpm: float, error_bpm: float) -> str:
    """A tempo that the movement suggests."""
    return numbers.measured(tempo_bpm, error_bpm, "beats a minute")


def why_this_tempo(strength: float, others_bpm: Sequence[float]) -> str:
    """Where a proposed tempo comes from. others_bpm: tempi that would fit as well."""
    others = f"; {' and '.join(numbers.plain(bpm, 3) for bpm in others_bpm)} would fit as well" if others_bpm else ""
    return (
        f"the body's accents repeat with it ({numbers.percent(strength)} alike){others}. Nobody has heard the music: count 1 "
        "may be any count of the bar, and no timing is judged by it; give the music's own with --tempo"
    )


def events_in_file(events: Sequence[tuple[str, str | None, float]]) -> str:
    """Events that a recording carries: what is written there, its side, and when."""
    told = ", ".join(
        " ".join(filter(None, (side, label))) + f" at {numbers.seconds(time_s, 2)}" for label, side, time_s in events
    )
    return f"events in the file: {told}"
