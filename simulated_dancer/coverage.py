"""How often a ± covers the true error in trials, how sure that is, and what share of its reckoned error a measure shows.

Values of one take err together, for its body and its markers are the same: what is said of them is as sure as there are takes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

import numpy as np
from scipy.special import betaincinv

from .kept_trials import Ran
from .rotations import Floats

#: So much of the errors shall lie within the ±; what rounding and chance take from it leaves 95 %.
COVERED = 0.957
#: Shares outside these are not believed: the takes of the programme all show the dancer's own range in full. Proposed default.
LEAST, MOST = 0.35, 1.6
#: How differently measures err beside what their sources say, as a logarithm, 1 SD: what few takes tell is believed beside it.
MEASURES_DIFFER = 0.25
#: Fewer takes than this tell nothing. Proposed default.
LEAST_TAKES = 10
#: Choices of takes, with repetition, that tell how sure they are, and their seed; shares are told in such steps.
CHOICES, SEED, STEP = 200, 1, 0.02

#: Errors in units of their ±: (fault, measure) -> one array for each take that tells it.
Errors = Mapping[tuple[str, str], Sequence[Floats]]


def interval_of_share(takes: Sequence[tuple[int, int]]) -> tuple[float, float]:
    """Interval (95 %) of the share of covered values, from the (covered, all) values of each take.

    The exact binomial interval of so many values as would be as sure if each stood alone (Korn & Graubard 1998, from memory); of
    as many as there are takes where all, or none, are covered.
    """
    covered, values = np.array(takes, dtype=np.float64).T
    share, count = covered.sum() / values.sum(), len(takes)
    spread = count / max(count - 1, 1) * float(np.sum((covered - share * values) ** 2)) / values.sum() ** 2
    alone = min(share * (1 - share) / spread if spread > 0 else float(count), float(values.sum()))
    yes, no = alone * share, alone * (1 - share)
    low = float(betaincinv(yes, no + 1, 0.025)) if yes > 0 else 0.0
    return low, float(betaincinv(yes + 1, no, 0.975)) if no > 0 else 1.0


def errors_of(ran: Sequence[Ran]) -> Errors:
    """Errors of trials in units of their ±, of takes whose sizes were asked for."""
    told: dict[tuple[str, str], list[Floats]] = defaultdict(list)
    for one in ran:
        own: dict[tuple[str, str], list[float]] = defaultdict(list)
        if one.group in ("clean", "clear"):
            for fault, measure, error, plus_minus in one.judged.covered:
                own[fault, measure].append(abs(error) / plus_minus)
        for name, errors in own.items():
            told[name].append(np.array(errors))
    return told


def factor(takes: Sequence[Floats]) -> float:
    """By what the ± of a measure is to be multiplied, from its errors in each take in units of the ±.

    What many takes tell is taken as it is, of what few tell a part of the way, by how much it changes with the choice of takes.
    """
    random = np.random.default_rng(SEED)

    def shown(chosen: Sequence[int]) -> float:
        covered = float(np.quantile(np.concatenate([takes[i] for i in chosen]), COVERED))
        return float(np.log(max(covered, 1e-3)))

    unsure = float(np.std([shown(random.integers(len(takes), size=len(takes)).tolist()) for _ in range(CHOICES)]))
    believed = MEASURES_DIFFER**2 / (MEASURES_DIFFER**2 + unsure**2)
    return float(np.exp(believed * shown(range(len(takes)))))


def learnt(errors: Errors, before: Mapping[tuple[str, str], float]) -> dict[tuple[str, str], float]:
    """Shares of the reckoned error, (fault, measure), that are not 1; before: those that the trials ran with."""
    shares = dict(before)
    for name, takes in errors.items():
        if len(takes) >= LEAST_TAKES:
            share = before.get(name, 1.0) * factor(takes)
            shares[name] = float(np.clip(STEP * round(share / STEP), LEAST, MOST))
    return {name: share for name, share in sorted(shares.items()) if abs(share - 1.0) > STEP / 2}
