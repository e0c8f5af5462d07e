"""Sentences about a folder of takes: its summary, its pages, what is told while it is reviewed, and why a take was not."""

from __future__ import annotations

from collections.abc import Iterable

from . import numbers

#: At the end of every page.
NOT_MEDICAL = "A teaching aid: nothing here is a medical finding, and order in time is no proof of a cause."
#: The page beside each review.
CORRECTIONS = "Corrections"
CORRECTION_HEADS = ("correction", "measured", "when", "how often")
CANNOT_BE_TOLD = "What cannot be told"
CANNOT_BE_TOLD_HEADS = ("what", "why")
MAY_HAVE_LED_TO = "may have led to: "
#: Title, headings and quiet lines of the summary.
SUMMARY_TITLE = "What these takes share"
MOST_FREQUENT = "Which corrections come most"
BY_LEVEL_AND_TERM = "By level and term"
BANDS_DIFFER = "Bands differ by level: shares of two levels do not say who dances better."
CAPTURE_AGAIN = "Which takes to capture again"
CAPTURE_AGAIN_HEADS = ("take", "what", "why")
NONE_AGAIN = "None: every take could be reviewed and used."
TAKES = "Takes"
TAKE_HEADS = ("take", "verdict", "level", "term", "findings", "length")
AT_THE_TOP = "at the top"
ALL_ROWS = "All rows: "
#: Words of its charts.
OF_A_HUNDRED = "in so many of 100 takes (line: 95 %)"
SHARES_BY_GROUP = "Share of takes with each correction, by level and term"
HOW_OFTEN_FOUND = "How often each correction was found"
TO_WATCH, FAULT_HATCHED = "to watch", "fault, hatched"
#: Where takes are reviewed when no cluster is named.
THIS_MACHINE = "this machine"
#: Why a take was not reviewed.
DIED_TWICE = "Its process died twice while it was reviewed: the recording may be damaged."
TOO_LITTLE_MEMORY = "There is not enough memory for this take. Trim it, or use fewer workers."


def about_take(verdict: str, duration_s: float, rate_hz: float, level: str) -> str:
    """The first line of a review's page."""
    return f"{verdict}, {numbers.seconds(duration_s)} at {numbers.hertz(rate_hz)}, level {level}"


def end_of_review(command: str, tab: str) -> str:
    """The last lines of a review's page: how it is seen in Blender, by a command of a tab, and what the page is."""
    return (
        f"To see it in Blender: {command} in the tab {tab}, with the folder of this page. "
        f"This page says what stood when the take was reviewed; later decisions are in review.json. {NOT_MEDICAL}"
    )


def takes_of(group: str, takes: int) -> str:
    """Over a chart: takes of one level and term."""
    return f"{group}\n{takes} takes"


def found_in(found: int, takes: int) -> str:
    """Beside a bar."""
    return f"{found} of {takes}"


def states(counts: Iterable[tuple[str, int]]) -> str:
    """How many takes are in which state: "40 done, 2 refused."."""
    return ", ".join(f"{count} {state}" for state, count in counts) + "."


def folder_of_takes(folder: str, takes: int) -> str:
    """Over the takes of one folder; "" for the folder itself."""
    return f"{folder or AT_THE_TOP}: {takes}"


def hardware(length_s: float, cpu_s: float, peak_bytes: float | None) -> str:
    """What takes cost. length_s, cpu_s: of one take on average; peak_bytes: the most memory a worker had, None if not known."""
    memory = f", {numbers.megabytes(peak_bytes)} a worker at most" if peak_bytes else ""
    hours = 1000.0 * cpu_s / 3600.0
    return (
        f"One take of {numbers.seconds(length_s, 0)} took {numbers.seconds(cpu_s)} of one core{memory}. A term of "
        f"1,000 such takes takes {numbers.plain(hours, 2)} hours on one core, {numbers.plain(hours / 4.0, 2)} on four."
    )


def to_do(todo: int, takes: int) -> str:
    """Before the work begins."""
    return f"{todo} of {takes} takes to do"


def still_written(path: str) -> str:
    """A recording whose program has not finished."""
    return f"still being written, not reviewed: {path}"


def engine_gone(where: str) -> str:
    """A cluster that went away in the middle."""
    return f"The engine at {where} is gone. Run the same command again for the rest."


def faster_with(address: str, settings: str) -> str:
    """A worker that was started without what keeps numerical libraries to one core."""
    return f"{address} would be faster when started with: {settings}"


def stopped_after(limit_s: float) -> str:
    """A take that took too long."""
    return f"It was not done after {numbers.seconds(limit_s, 0)} and was stopped. A longer limit can be given with --limit."


def worker_failed(kind: str, error: object) -> str:
    """A worker that ended in an error of its own."""
    return f"The worker failed ({kind}: {error})."


def review_not_written(why: object) -> str:
    """A folder that cannot be written."""
    return f"The review could not be written: {why}."


def program_failed(kind: str, error: object) -> str:
    """An error that nobody foresaw."""
    return f"The program failed ({kind}: {error}). This is a defect of the program."


def own_school(name: str) -> str:
    """Name and title of bands that were made from a school's own takes."""
    return f"{name}, own school"


def head_of_own_bands(level: str, dancers: int) -> tuple[str, ...]:
    """What such a file says of itself."""
    return (
        f"Bands of this school's own dancers, level {level}: {dancers} dancers at most, no names. They say where most are,",
        "not where they should be. In brackets: 95 % intervals. Measures with fewer dancers keep the catalogue's bands.",
    )
