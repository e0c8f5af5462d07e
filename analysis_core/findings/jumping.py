"""What is told of how much jumping a take holds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class JumpLoad:
    """The jumps of one take; None where nothing tells it. Every ± is the 95 % interval of the number before it.

    jumps: flights that free fall proved. a_minute: per minute from the first take-off to the last. height_m: their mean
    rise of the centre of mass. load_body_weights: mean over the landings of 1 + fall / stopping distance (catalogue M24);
    highest_load_body_weights the highest of them. fade: share of height that the last third lacks against the first third.
    """

    jumps: int
    a_minute: float | None
    height_m: float | None
    height_plus_minus_m: float | None
    load_body_weights: float | None
    load_plus_minus: float | None
    highest_load_body_weights: float | None
    highest_load_plus_minus: float | None
    fade: float | None
    fade_plus_minus: float | None
