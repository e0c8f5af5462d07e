"""Which ladders a class works on: from the roots, and from what many share; at most two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from ..errors import OptionError
from .model import PHRASE, Library

if TYPE_CHECKING:
    from .dancers import Dancer, Need

#: A goal of a group is shared by so many dancers and such a part of them. Proposed defaults.
LEAST_SHARED, LEAST_PART = 2, 1 / 3
#: What the lighter of two goals counts for a dancer who needs both; and how much of the first a second goal of one dancer weighs.
#: Proposed defaults.
_SECOND_COUNTS, _SECOND_AT_LEAST = 0.25, 0.5
MOST_GOALS = 2


@dataclass(frozen=True)
class Goal:
    """A ladder to work on. fault: the correction that most of its dancers share; start: the first rung today."""

    ladder: str
    fault: str
    dancers: tuple[str, ...]
    start: int = 1


def weights(dancer: Dancer, library: Library) -> dict[str, float]:
    """What each ladder weighs for a dancer: the heaviest of the corrections that it is the first answer to."""
    found: dict[str, float] = {}
    for need in dancer.needs:
        ladder = library.ladder_of.get(need.fault)
        if ladder is not None:
            found[ladder] = max(found.get(ladder, 0.0), need.weight)
    return {ladder: weight for ladder, weight in found.items() if weight > 0}


def score(ladders: Sequence[str], weighed: Sequence[dict[str, float]]) -> float:
    """What a class on these ladders gives its dancers: the heavier of the two for each, and a quarter of the lighter."""
    total = 0.0
    for one in weighed:
        sizes = sorted((one.get(ladder, 0.0) for ladder in ladders), reverse=True)
        total += sizes[0] + _SECOND_COUNTS * sum(sizes[1:])
    return total


def ranked(ladders: Sequence[str], weighed: Sequence[dict[str, float]]) -> list[tuple[float, tuple[str, ...]]]:
    """All single ladders and pairs with their scores, best first; ties in the order of ``ladders``."""
    choices = [*combinations(ladders, 2), *((ladder,) for ladder in ladders)]
    return sorted(((score(choice, weighed), choice) for choice in choices), key=lambda item: -round(item[0], 9))


def _for_group(ladders: Sequence[str], weighed: Sequence[dict[str, float]]) -> tuple[str, ...]:
    share = {ladder: sum(ladder in one for one in weighed) for ladder in ladders}
    least = max(LEAST_SHARED, LEAST_PART * len(weighed))
    shared = [ladder for ladder in ladders if share[ladder] >= least]
    if shared:
        return ranked(shared, weighed)[0][1] if len(shared) > 1 else (shared[0],)
    best = max(ladders, key=lambda ladder: score((ladder,), weighed))
    return (best,) if share[best] else ()


def _for_one(ladders: Sequence[str], weighed: dict[str, float], most: int) -> tuple[str, ...]:
    heaviest = sorted((ladder for ladder in ladders if ladder in weighed), key=lambda ladder: -weighed[ladder])[:most]
    if len(heaviest) == MOST_GOALS and weighed[heaviest[1]] < _SECOND_AT_LEAST * weighed[heaviest[0]]:
        return (heaviest[0],)
    return tuple(heaviest)


def _shared_fault(ladder: str, needs: Sequence[tuple[Dancer, Need]], library: Library) -> str:
    """The correction of a ladder that most dancers share; of equals the heaviest, then the ladder's own order."""
    mains = library.ladders[ladder].main

    def rank(fault: str) -> tuple[int, float, int]:
        found = [need for _, need in needs if need.fault == fault]
        return len(found), sum(need.weight for need in found), -mains.index(fault)

    return max(mains, key=rank)


def goals_of(
    dancers: Sequence[Dancer],
    library: Library,
    *,
    wanted: Sequence[str] = (),
    mastered: Mapping[str, int] | None = None,
    most: int = MOST_GOALS,
) -> tuple[Goal, ...]:
    """The goals of a class, at most two. wanted: ladders or faults that the teacher names instead; mastered: rungs by
    ladder, before what the record says of the dancers; most: so many goals of one dancer at most.

    Raises OptionError for a ladder that is not there.
    """
    order = sorted((name for name in library.ladders if name != PHRASE), key=lambda name: library.ladders[name].order)
    weighed = [weights(dancer, library) for dancer in dancers]
    if wanted:
        chosen = named_ladders(wanted, library)
    elif len(dancers) == 1:
        chosen = _for_one(order, weighed[0], most)
    else:
        chosen = _for_group(order, weighed)
    goals = []
    for ladder in chosen:
        needs = [(d, n) for d in dancers for n in d.needs if library.ladder_of.get(n.fault) == ladder and n.weight > 0]
        fault = _shared_fault(ladder, needs, library)
        sharing = {dancer.name: dancer for dancer, _ in needs}
        # The teacher's word goes before the record; a class begins where the last of those who share the goal stands.
        held = min((dancer.mastered.get(ladder, 0) for dancer in sharing.values() or dancers), default=0)
        goals.append(Goal(ladder, fault, tuple(sharing), 1 + (mastered or {}).get(ladder, held)))
    return tuple(goals)


def named_ladders(wanted: Sequence[str], library: Library) -> tuple[str, ...]:
    """The ladders that the teacher names, by their own names or by a fault. Raises OptionError."""
    chosen = []
    for name in wanted:
        ladder = library.ladder_of.get(name, name)
        if ladder not in library.ladders or ladder == PHRASE:
            known = ", ".join(ladder for ladder in library.ladders if ladder != PHRASE)
            raise OptionError(f"There is no goal {name!r}. Give a fault of the review, or one of {known}.")
        chosen.append(ladder)
    chosen = list(dict.fromkeys(chosen))
    if len(chosen) > MOST_GOALS:
        raise OptionError(f"A class has at most {MOST_GOALS} goals. Take {len(chosen) - MOST_GOALS} out.")
    return tuple(chosen)
