"""Where a correction stands: open, better, held, came back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from .claims import Session, change, together

State = Literal["not found", "open", "better", "held", "came back"]

#: Inside the band in so large a share of its chances, in two sessions so many days apart, is held: learning shows in what stays
#: after a pause, not within a lesson (Soderstrom & Bjork 2015, Perspect Psychol Sci 10:176). The two numbers: proposed defaults.
HELD_SHARE, HELD_DAYS = 0.8, 7
#: Found in so many repetitions, or once as a fault, is found; once as a watch is an accident until it comes again.
_FOUND = 2


def is_found(session: Session) -> bool:
    """Whether the correction was found in a session."""
    return session.outside >= _FOUND or (session.as_fault and session.outside >= 1)


def _holds(session: Session, opened: Session) -> bool:
    """Whether a session is inside the band in most of its chances, and with its ± on the side where the correction had been."""
    above = opened.high - opened.value <= opened.value - opened.low
    if above:
        sure = session.low <= session.value and session.value + session.plus_minus <= session.high
    else:
        sure = session.low <= session.value - session.plus_minus and session.value <= session.high
    return sure and (session.n - session.outside) / session.n >= HELD_SHARE


def state_of(sessions: Sequence[Session], day_sd: float = 0.0) -> State:
    """The state after the last session; sessions in order of time. A session without any chance to show it is not among them."""
    state: State = "not found"
    opened: Session | None = None
    holding: list[Session] = []
    for session in sessions:
        if opened is None:
            if is_found(session):
                state, opened = "open", session
        elif state == "held":
            if is_found(session) and change(together(holding), session, day_sd).beyond:
                state, opened, holding = "came back", session, []
            elif _holds(session, opened):
                holding.append(session)
        else:
            holding = [*holding, session] if _holds(session, opened) else []
            if holding and (holding[-1].day - holding[0].day).days >= HELD_DAYS:
                state = "held"
            elif change(opened, session, day_sd).beyond and session.off_band < opened.off_band:
                state = "better"
            elif state != "came back":
                state = "open"
    return state
