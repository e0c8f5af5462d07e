"""Bands of a school's own dancers: the honest answer to "no published norm". Never a name, and never from fewer than ten.

A band says where most of these dancers are, not where they should be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..findings.catalogue import catalogue, load_profile
from ..wording import archive as words
from ..write.files import whole_file
from .ledger import Ledger

#: From so many dancers on. Proposed default: below, an end of a band would be one dancer, whom others could name.
LEAST_DANCERS = 10
#: Ends of the bands: four of five dancers are inside the first, 19 of 20 inside the second. Proposed defaults.
_OK, _FAULT = 0.80, 0.95


@dataclass(frozen=True)
class Norm:
    """One end of a band, the larger values being those to watch. Both with their 95 % interval, in ``unit``."""

    fault: str
    measure: str
    unit: str
    dancers: int
    ok: float
    ok_interval: tuple[float, float]
    limit: float
    limit_interval: tuple[float, float]


def quantile_with_interval(values: Sequence[float], share: float) -> tuple[float, tuple[float, float]]:
    """A quantile of a sample (Harrell & Davis 1982, Biometrika 69:635) with its interval (95 %, by the bootstrap, seeded)."""
    # Takes the better part of a second to load, and most archives are of no level that norms are asked of.
    from scipy import stats

    data = np.asarray(values, dtype=float)

    def estimate(sample: NDArray[np.float64], axis: int = -1) -> NDArray[np.float64]:
        ordered = np.sort(sample, axis=axis)
        n = ordered.shape[axis]
        edges = stats.beta.cdf(np.arange(n + 1) / n, (n + 1) * share, (n + 1) * (1 - share))
        return np.asarray(np.moveaxis(ordered, axis, -1) @ np.diff(edges))

    found = stats.bootstrap((data,), estimate, n_resamples=2000, method="percentile", rng=np.random.default_rng(1))
    low, high = found.confidence_interval
    return float(estimate(data)), (float(low), float(high))


def norms_of(ledger: Ledger, level: str) -> list[Norm]:
    """Norms of one level: the mean of each dancer first, so that one who came often counts once.

    Only measures whose band is open or ends at 0 on the lower side and has an upper end: for these more is what is watched.
    """
    rows = ledger.connection.execute(
        "SELECT fault, measure, unit, dancer, avg(value) AS value FROM measured JOIN take ON take.path = measured.take "
        "WHERE state = 'done' AND same_as IS NULL AND dancer IS NOT NULL AND level = ? AND value IS NOT NULL "
        "GROUP BY fault, measure, unit, dancer",
        [level],
    )
    gathered: dict[tuple[str, str, str], list[float]] = {}
    for row in rows:
        gathered.setdefault((row["fault"], row["measure"], row["unit"]), []).append(row["value"])
    norms = []
    for (fault, measure, unit), values in sorted(gathered.items()):
        entry = catalogue().get(fault)
        limits = entry.measures.get(measure) if entry else None
        upper = limits is not None and limits.ok[0] <= 0.0 and np.isfinite(limits.ok[1])
        if len(values) < LEAST_DANCERS or not upper or float(np.ptp(values)) == 0.0:
            continue
        ok, ok_interval = quantile_with_interval(values, _OK)
        limit, limit_interval = quantile_with_interval(values, _FAULT)
        norms.append(Norm(fault, measure, unit, len(values), ok, ok_interval, max(limit, ok), limit_interval))
    return norms


def _profile_text(level: str, norms: Sequence[Norm]) -> str:
    base = load_profile(level)
    most = max(norm.dancers for norm in norms)
    lines = [
        *(f"# {line}" for line in words.head_of_own_bands(base.name, most)),
        f'name = "{words.own_school(base.name)}"',
        f'title = "{words.own_school(base.title)}"',
        f"young = {str(base.young).lower()}",
        f"off = [{', '.join(repr(item).replace(chr(39), chr(34)) for item in sorted(base.off))}]",
    ]
    for norm in norms:
        limits = base.entries[norm.fault].measures[norm.measure]
        low, fault_low = _number(limits.ok[0]), _number(limits.fault[0])
        ends = [f"{_number(at)} [{_number(start)}, {_number(end)}]" for at, (start, end) in (
            (norm.ok, norm.ok_interval), (norm.limit, norm.limit_interval))]  # fmt: skip
        lines += [
            "",
            f"# {norm.dancers} dancers, {norm.unit}: {', '.join(ends)}",
            f"[bands.{norm.fault}.{norm.measure}]",
            f"ok = [{low}, {_number(norm.ok)}]",
            f"fault = [{fault_low}, {_number(norm.limit)}]",
        ]
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    return f"{value:.4g}" if "." in f"{value:.4g}" or "e" in f"{value:.4g}" or "inf" in f"{value:.4g}" else f"{value:.4g}.0"


def write_norms(ledger: Ledger, folder: Path, *, overwrite: bool) -> list[Path]:
    """Write a profile for each level with ten dancers or more; returns the files, none where there are too few dancers."""
    levels = [row[0] for row in ledger.connection.execute("SELECT DISTINCT level FROM take WHERE state = 'done' ORDER BY level")]
    written = []
    for level in levels:
        norms = norms_of(ledger, level)
        if norms:
            path = folder / f"{Path(level).stem.replace(' ', '_')}_own_school.toml"
            with whole_file(path, overwrite=overwrite) as temporary:
                temporary.write_text(_profile_text(level, norms), encoding="utf-8")
            written.append(path)
    return written
