"""A chart of one correction over sessions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import RecordError
from ..figure.palette import CLOTH, FAULT, IN_BAND, WATCH, on_screen
from ..wording import record as say
from ..wording.numbers import shown
from ..write.files import whole_file
from .claims import Session
from .followed import Series
from .series import Report

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Inches and dots per inch: 640 pixels wide, on which every text can be read.
_SIZE, _DPI = (6.4, 4.0), 100
_WRAP = 74


def _in_shown_unit(series: Series) -> list[Session]:
    """The sessions with values, ± and band in the unit that the axis names."""
    return [
        replace(
            item,
            value=shown(item.value, series.unit),
            plus_minus=shown(item.plus_minus, series.unit),
            low=shown(item.low, series.unit),
            high=shown(item.high, series.unit),
        )
        for item in series.sessions
    ]


def draw(axes: Axes, series: Series) -> None:
    """Draw one series: its band, each session's mean with its ± (95 %), and the trend where there is one."""
    import matplotlib.dates

    # This part of the library carries no types.
    dates: Any = matplotlib.dates

    scale, sessions = shown(1.0, series.unit), _in_shown_unit(series)
    days = [dates.date2num(item.day) for item in sessions]
    values = [item.value for item in sessions]
    errors = [item.plus_minus for item in sessions]
    last = sessions[-1]
    edges = [*(v - e for v, e in zip(values, errors, strict=True)), *(v + e for v, e in zip(values, errors, strict=True))]
    edges += [limit for limit in (last.low, last.high) if math.isfinite(limit)]
    margin = 0.08 * (max(edges) - min(edges) or 1.0)
    bottom, top = min(edges) - margin, max(edges) + margin
    axes.axhspan(max(last.low, bottom), min(last.high, top), color=on_screen(IN_BAND), alpha=0.22, lw=0)
    place: dict[str, Any] = {"xycoords": ("axes fraction", "data"), "textcoords": "offset points", "ha": "left", "va": "top"}
    axes.annotate(say.BAND, (0.01, min(last.high, top)), (0, -4), fontsize=9, **place)
    axes.plot(days, values, color=on_screen(CLOTH), lw=1.2, zorder=2)
    for day, item in zip(days, sessions, strict=True):
        inside = item.off_band == 0
        colour = on_screen(CLOTH) if inside else on_screen(FAULT if item.as_fault else WATCH)
        # The shape says it, too: round inside the band, square outside it.
        shape = "o" if inside else "s"
        axes.errorbar(day, item.value, item.plus_minus, fmt=shape, ms=8, capsize=5, color=colour, mec="white", zorder=3)
        axes.annotate(say.outside(item.outside, item.n), (day, item.value), (7, 5), textcoords="offset points", fontsize=9)
    if series.trend is not None and series.trend.beyond:
        middle_day, middle = sum(days) / len(days), sum(values) / len(values)
        ends = [days[0], days[-1]]
        heights = [middle + scale * series.trend.per_month / 30 * (day - middle_day) for day in ends]
        axes.plot(ends, heights, ls="--", color=on_screen(CLOTH), lw=1.8)
    axes.set_ylim(bottom, top)
    axes.margins(x=0.12)
    locator = dates.AutoDateLocator(minticks=2, maxticks=6)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(dates.ConciseDateFormatter(locator))
    axes.set_ylabel(say.axis(series.says_what, series.unit), fontsize=10)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _figure() -> Any:
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise RecordError("Charts need a plotting library: pip install matplotlib") from error
    return Figure(figsize=_SIZE, dpi=_DPI, layout="constrained")


def write_chart(series: Series, path: Path, *, overwrite: bool) -> None:
    """Write the chart of one series; the file's ending says the format (SVG, PNG, PDF). Raises OutputError."""
    import textwrap

    figure = _figure()
    axes = figure.subplots()
    draw(axes, series)
    axes.set_title("\n".join(textwrap.wrap(series.title, 62)), loc="left", fontsize=12, fontweight="bold")
    figure.supxlabel("\n".join(textwrap.wrap(say.below_chart(say.outcome(series)), _WRAP)), fontsize=9, x=0.02, ha="left")
    with whole_file(path, overwrite=overwrite) as temporary:
        # No date in the file: the same record gives the same bytes.
        meta = {"Date": None} if path.suffix == ".svg" else None
        figure.savefig(temporary, metadata=meta)


def write_charts(report: Report, folder: Path, *, overwrite: bool, ending: str = ".svg") -> list[Path]:
    """A chart for each series of two sessions or more; returns the files. Raises OutputError before the first is written."""
    paths = []
    series: Sequence[Series] = [item for item in report.series if len(item.sessions) > 1]
    for number, item in enumerate(series, start=1):
        words = [item.key.fault, item.key.measure, item.key.side, item.key.step, item.key.phrase]
        name = "-".join("".join(letter if letter.isalnum() else "-" for letter in word) for word in words if word)
        path = folder / f"{number:03d}-{name}{ending}"
        write_chart(item, path, overwrite=overwrite)
        paths.append(path)
    return paths
