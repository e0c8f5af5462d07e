"""The page that sums an archive up: what a school shares, what to capture again, and a way into every review."""

from __future__ import annotations

import base64
import html
import io
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote

from ..figure.palette import CLOTH, FAULT, WATCH, on_screen
from ..wording import archive as words
from ..wording import numbers
from ..wording.names import fault_title
from ..write.files import whole_file
from .ledger import Ledger
from .pages import REVIEW_PAGE, page, table
from .tables import FINDINGS, TAKES

SUMMARY = "summary.html"
#: How many corrections and takes are shown; the tables hold all.
_MOST_FAULTS, _MOST_GROUPS, _MOST_ROWS, _MOST_OPEN = 12, 9, 200, 100
#: Below so many takes a group is not drawn: its shares would be accidents. Proposed default.
_LEAST_TAKES = 5


def wilson(found: int, of: int) -> tuple[float, float]:
    """The 95 % interval of a share (Wilson 1927, J Am Stat Assoc 22:209)."""
    z = 1.959963984540054
    share, base = found / of, 1 + z**2 / of
    middle = (share + z**2 / (2 * of)) / base
    half = z * math.sqrt(share * (1 - share) / of + z**2 / (4 * of**2)) / base
    return max(middle - half, 0.0), min(middle + half, 1.0)


def _rows(ledger: Ledger, query: str, *values: Any) -> list[Any]:
    return ledger.connection.execute(query, values).fetchall()


@dataclass(frozen=True)
class _Group:
    """Takes of one level and term, and in how many of them each correction was found, and found as a fault."""

    name: str
    takes: int
    found: dict[str, tuple[int, int]] = field(default_factory=dict)


def _groups(ledger: Ledger) -> list[_Group]:
    """By level and term. Takes with the same content count once; what the teacher set aside does not count."""
    groups = {}
    where = "take.state = 'done' AND same_as IS NULL"
    query = f"SELECT level, term, count(*) FROM take WHERE {where} GROUP BY level, term ORDER BY level, min(mtime_ns), term"
    for level, term, takes in _rows(ledger, query):
        name = Path(str(level)).stem
        groups[level, term] = _Group(f"{name}, {term}" if term else name, takes)
    query = (
        "SELECT level, term, fault, count(DISTINCT take), count(DISTINCT CASE WHEN grade = 'fault' THEN take END) "
        f"FROM finding JOIN take ON take.path = finding.take WHERE {where} "
        "AND coalesce(decision, '') <> 'set aside' GROUP BY level, term, fault"
    )
    for level, term, fault, found, as_fault in _rows(ledger, query):
        groups[level, term].found[fault] = (found, as_fault)
    return list(groups.values())


def _shares(groups: Sequence[_Group]) -> list[tuple[str, int, int]]:
    """Each correction with in how many takes it was found, and in how many as a fault; the commonest first."""
    counts: dict[str, tuple[int, int]] = {}
    for group in groups:
        for fault, (found, as_fault) in group.found.items():
            before = counts.get(fault, (0, 0))
            counts[fault] = before[0] + found, before[1] + as_fault
    return sorted(((fault, *count) for fault, count in counts.items()), key=lambda row: (-row[1], row[0]))


def _picture(figure: Any, described: str) -> str:
    data = io.BytesIO()
    figure.savefig(data, format="png", dpi=110, metadata={"Software": None})
    picture = base64.b64encode(data.getvalue()).decode()
    return f'<div class="wide"><img alt="{html.escape(described)}" src="data:image/png;base64,{picture}"></div>'


def small_multiples(groups: Sequence[_Group], faults: Sequence[str]) -> str:
    """One small chart a group, all with the same axes: share of its takes in which each correction was found, with 95 %."""
    from matplotlib.figure import Figure

    shown = groups[:_MOST_GROUPS]
    columns = min(3, len(shown))
    lines = -(-len(shown) // columns)
    figure = Figure(figsize=(3.1 + 2.5 * columns, 0.7 + lines * (0.75 + 0.24 * len(faults))), layout="constrained")
    grid = figure.subplots(lines, columns, sharex=True, sharey=True, squeeze=False)
    places = list(range(len(faults)))
    for axes in grid.flat[len(shown) :]:
        axes.set_visible(False)
    for axes, group in zip(grid.flat, shown, strict=False):
        counts = [group.found.get(fault, (0, 0))[0] for fault in faults]
        shares = [100 * count / group.takes for count in counts]
        ends = [wilson(count, group.takes) for count in counts]
        axes.barh(places, shares, color=on_screen(WATCH), height=0.62)
        axes.hlines(places, [100 * low for low, _ in ends], [100 * high for _, high in ends], color=on_screen(CLOTH), lw=1.4)
        axes.set_title(words.takes_of(group.name, group.takes), fontsize=10, loc="left")
        axes.set_xlim(0, 100)
        axes.set_yticks(places, [fault_title(fault) for fault in faults], fontsize=8.5)
        axes.tick_params(axis="x", labelsize=8.5)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    grid.flat[0].invert_yaxis()
    figure.supxlabel(words.OF_A_HUNDRED, fontsize=9.5)
    return _picture(figure, words.SHARES_BY_GROUP)


def _commonest(shares: Sequence[tuple[str, int, int]], takes: int) -> str:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.6, 0.9 + 0.3 * len(shares)), layout="constrained")
    axes = figure.subplots()
    places = list(range(len(shares)))
    axes.barh(places, [100 * found / takes for _, found, _ in shares], color=on_screen(WATCH), height=0.62, label=words.TO_WATCH)
    bars = axes.barh(
        places, [100 * fault / takes for *_, fault in shares], color=on_screen(FAULT), height=0.62, label=words.FAULT_HATCHED
    )
    for bar in bars:
        # Hatched, so that colour is never the only sign.
        bar.set(hatch="///", edgecolor="white", linewidth=0)
    for place, (_, found, _) in zip(places, shares, strict=True):
        low, high = wilson(found, takes)
        axes.text(100 * high + 1, place, words.found_in(found, takes), va="center", fontsize=9)
        axes.hlines(place, 100 * low, 100 * high, color=on_screen(CLOTH), lw=1.6)
    axes.set_yticks(places, [fault_title(fault) for fault, *_ in shares], fontsize=9.5)
    axes.invert_yaxis()
    axes.set_xlim(0, 112)
    axes.set_xlabel(words.OF_A_HUNDRED, fontsize=9.5)
    figure.legend(frameon=False, fontsize=9, loc="outside upper right", ncols=2)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    return _picture(figure, words.HOW_OFTEN_FOUND)


def _link(review: str | None, text: str) -> str:
    if review is None:
        return html.escape(text)
    return f'<a href="reviews/{quote(review)}/{REVIEW_PAGE}">{html.escape(text)}</a>'


def _why(out: Path, row: Any) -> str:
    """Why a take is to be captured again: the reader's sentence, or the reasons of its verdict."""
    if row["error"] or row["review"] is None:
        return row["error"] or ""
    try:
        data = json.loads((out / "reviews" / row["review"] / "review.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    return " ".join(data["quality"]["reasons"])


def _retakes(ledger: Ledger, out: Path) -> str:
    rows = _rows(
        ledger,
        "SELECT path, state, verdict, error, review FROM take WHERE state NOT IN ('done', 'gone', 'waiting') "
        "OR verdict = 'retake' ORDER BY state, path LIMIT ?",
        _MOST_ROWS,
    )
    if not rows:
        return f"<p>{words.NONE_AGAIN}</p>"
    cells = [
        (
            _link(row["review"], row["path"]),
            html.escape(row["state"] if row["state"] != "done" else "retake"),
            html.escape(_why(out, row)),
        )
        for row in rows
    ]
    return table(words.CAPTURE_AGAIN_HEADS, cells)


def _all_takes(ledger: Ledger) -> str:
    """Every review, folder by folder."""
    rows = _rows(
        ledger, "SELECT path, verdict, level, term, findings, duration_s, review FROM take WHERE state = 'done' ORDER BY path"
    )
    folders: dict[str, list[Any]] = {}
    for row in rows:
        folders.setdefault(row["path"].rpartition("/")[0], []).append(row)
    opened = " open" if len(rows) <= _MOST_OPEN else ""
    return "".join(
        f"<details{opened}><summary>{html.escape(words.folder_of_takes(folder, len(inside)))}</summary>"
        f"{table(words.TAKE_HEADS, [_take_cells(row) for row in inside])}</details>"
        for folder, inside in folders.items()
    )


def _take_cells(row: Any) -> tuple[str, ...]:
    level = row["level"] or ""
    return (
        _link(row["review"], row["path"].rpartition("/")[2]), html.escape(row["verdict"] or ""),
        html.escape(Path(level).stem if "/" in level else level), html.escape(row["term"]), str(row["findings"]),
        numbers.seconds(row["duration_s"]) if row["duration_s"] else "",
    )  # fmt: skip


def hardware_words(ledger: Ledger) -> str:
    """What a term of this school needs of a machine, from the seconds that its own takes took."""
    row = _rows(
        ledger, "SELECT sum(cpu_s), sum(duration_s), max(peak_mb), count(*) FROM take WHERE state = 'done' AND same_as IS NULL"
    )[0]
    cpu, length, peak, takes = row
    if not takes or not cpu or not length:
        return ""
    return words.hardware(length / takes, cpu / takes, 1e6 * peak if peak else None)


def _heading(text: str) -> str:
    return f"<h2>{html.escape(text)}</h2>"


def write_summary(ledger: Ledger, out: Path) -> Path:
    """Write the summary page, whole; it fetches nothing and names nobody."""
    groups = _groups(ledger)
    shares, takes = _shares(groups), sum(group.takes for group in groups)
    states = [
        (state, number) for state, number in _rows(ledger, "SELECT state, count(*) FROM take GROUP BY state ORDER BY 2 DESC")
    ]
    parts = [f'<p class="quiet">{html.escape(f"{words.states(states)} {hardware_words(ledger)}")}</p>']
    top = shares[:_MOST_FAULTS]
    if top:
        parts += [_heading(words.MOST_FREQUENT), _commonest(top, takes)]
        large = [group for group in groups if group.takes >= _LEAST_TAKES]
        if len(large) > 1:
            parts += [_heading(words.BY_LEVEL_AND_TERM), small_multiples(large, [fault for fault, *_ in top])]
            parts.append(f'<p class="quiet">{words.BANDS_DIFFER}</p>')
    parts += [_heading(words.CAPTURE_AGAIN), _retakes(ledger, out), _heading(words.TAKES), _all_takes(ledger)]
    tables = ", ".join(f'<a href="{name}">{name}</a>' for name in (TAKES, FINDINGS))
    parts.append(f'<p class="quiet">{words.ALL_ROWS}{tables}. {words.NOT_MEDICAL}</p>')
    with whole_file(out / SUMMARY, overwrite=True) as temporary:
        temporary.write_text(page(words.SUMMARY_TITLE, "\n".join(parts)), encoding="utf-8")
    return out / SUMMARY
