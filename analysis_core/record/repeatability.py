"""How well a measure repeats at this studio: dancers who were recorded twice within two weeks.

Mean squares and intraclass correlations: Shrout & Fleiss 1979, Psychol Bull 86:420. For teachers the standard error of
measurement and the smallest detectable change count, in the measure's own unit: the correlation grows with how unlike the
dancers are (Weir 2005, J Strength Cond Res 19:231), and says nothing about one dancer's change.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from sqlalchemy import Connection, select

from ..findings.catalogue import catalogue
from . import schema as tables
from .claims import DAY_PAIR_DAYS, LEAST_DAY_PAIRS, Session, Z
from .series import measured_rows, sessions_by_key, title_of


@dataclass(frozen=True)
class Repeated:
    """Mean squares of dancers against sessions, and what follows. sem: 1 SD of one session's value, in the measure's unit."""

    dancers: int
    sessions: int
    between: float
    within: float
    session: float
    residual: float

    @property
    def sem(self) -> float:
        """Standard error of measurement, what all dancers moved by from session to session taken out."""
        return math.sqrt(self.residual)

    @property
    def smallest_change(self) -> float:
        """Smallest detectable change of one dancer between two sessions, 95 %."""
        return Z * math.sqrt(2) * self.sem

    def correlation(self, model: int) -> float:
        """Intraclass correlation of single values, model 1, 2 or 3 of Shrout and Fleiss."""
        n, k = self.dancers, self.sessions
        if model == 1:
            return (self.between - self.within) / (self.between + (k - 1) * self.within)
        spread = self.between + (k - 1) * self.residual
        if model == 2:
            spread += k * (self.session - self.residual) / n
        return (self.between - self.residual) / spread


def repeated(values: ArrayLike) -> Repeated:
    """From a table (dancers, sessions) without gaps. Raises ValueError with fewer than two of either, or with missing values."""
    table = np.asarray(values, dtype=float)
    if table.ndim != 2 or min(table.shape) < 2 or not np.isfinite(table).all():
        raise ValueError("two dancers and two sessions at least, without gaps")
    n, k = table.shape
    mean, rows, columns = table.mean(), table.mean(axis=1, keepdims=True), table.mean(axis=0, keepdims=True)
    rest = table - rows - columns + mean
    return Repeated(
        dancers=n,
        sessions=k,
        between=float(k * np.sum((rows - mean) ** 2) / (n - 1)),
        within=float(np.sum((table - rows) ** 2) / (n * (k - 1))),
        session=float(n * np.sum((columns - mean) ** 2) / (k - 1)),
        residual=float(np.sum(rest**2) / ((n - 1) * (k - 1))),
    )


@dataclass(frozen=True)
class Repeatability:
    """One measure of one step, over the dancers of the record who showed it twice within two weeks."""

    fault: str
    side: str
    title: str
    unit: str
    found: Repeated


def _pair(sessions: Sequence[Session]) -> tuple[float, float] | None:
    """The values of the first two sessions within two weeks."""
    for before, after in itertools.pairwise(sessions):
        if 0 < (after.day - before.day).days <= DAY_PAIR_DAYS:
            return before.value, after.value
    return None


def repeatability_of(connection: Connection, *, fault: str | None = None) -> tuple[Repeatability, ...]:
    """Each measure that ten dancers or more showed twice within two weeks, by the newest measures; in the catalogue's order."""
    review, measured = tables.review, tables.measured
    version = connection.execute(
        select(review.c.measures_version).where(review.c.id.in_(select(measured.c.review))).order_by(review.c.id.desc()).limit(1)
    ).scalar()
    if version is None:
        return ()
    conditions = () if fault is None else (measured.c.fault == fault,)
    by_dancer: dict[int, list[Any]] = {}
    units: dict[tuple[str, str], str] = {}
    for row in measured_rows(connection, version, *conditions):
        by_dancer.setdefault(row.dancer, []).append(row)
        units[row.fault, row.measure] = row.unit
    pairs: dict[Any, list[tuple[float, float]]] = {}
    for rows in by_dancer.values():
        for key, sessions in sessions_by_key(rows).items():
            if (pair := _pair(sessions)) is not None:
                pairs.setdefault(key, []).append(pair)
    entries, order = catalogue(), {name: place for place, name in enumerate(catalogue())}
    return tuple(
        Repeatability(key.fault, key.side, title_of(key, entries)[0], units[key.fault, key.measure], repeated(table))
        for key, table in sorted(
            pairs.items(), key=lambda item: (order.get(item[0].fault, len(order)), item[0].step, item[0].side)
        )
        if len(table) >= LEAST_DAY_PAIRS
    )
