"""Numbers as people read them: with their unit, their ± and their band. Nothing else writes a unit behind a number."""

from __future__ import annotations

import math

#: Units by their names in review.json, as they stand behind a number, with the space that goes before them.
_UNITS = {"deg": "°", "°": "°", "ratio": " %", "1": "", "": ""}
#: What a number is multiplied by to stand in the unit it is shown in: a share is shown in per cent.
_TIMES = {"ratio": 100.0}
#: A space at which no line is broken.
NO_BREAK = "\u00a0"
#: The sign of a number below zero: as wide and as high as "+", and never the end of a line as a hyphen is.
MINUS = "\u2212"
#: Digits of a number beside which no ± says how many it deserves.
_DIGITS = 3
#: Decimals of a moment that is said in words; the viewer of the student's page is handed them.
SPOKEN_DIGITS = 1
#: More decimals than this say nothing in any unit that is shown.
_MOST_DECIMALS = 4


def unit_words(unit: str) -> str:
    """A unit as it stands behind a number: "°", " mm", " %" for a ratio."""
    return _UNITS.get(unit, f" {unit}")


def shown(value: float, unit: str) -> float:
    """A value in the unit that ``unit_words`` names: 58 for a ratio of 0.58."""
    return value * _TIMES.get(unit, 1.0)


def stored(value: float, unit: str) -> float:
    """The way back from ``shown``: the value in the unit of review.json."""
    return value / _TIMES.get(unit, 1.0)


def decimals(error: float) -> int:
    """Decimals that a number deserves whose ± is ``error``: so many that the ± shows two digits up to 19, else one.

    None for an error of 2 or more, and where it is not known. Source: common practice in reporting measurement uncertainty.
    """
    if not math.isfinite(error) or error == 0.0:
        return 0
    return min(max(math.ceil(-math.log10(abs(error) / 2.0) - 1e-9), 0), _MOST_DECIMALS)


def _fixed(value: float, digits: int) -> str:
    # Adding zero takes the sign from a zero that was rounded from below.
    return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", MINUS)


def _trimmed(value: float, digits: int) -> str:
    text = _fixed(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def plain(value: float, digits: int = _DIGITS) -> str:
    """A number by its own size: so many digits that say something, no zeros at its end, no exponent."""
    if not math.isfinite(value):
        return "…"
    if value == 0.0:
        return "0"
    return _trimmed(value, max(digits - 1 - math.floor(math.log10(abs(value))), 0))


def number(value: float, unit: str) -> str:
    """A number of which no ± is known or wanted, such as a limit: "10 mm", "12.5°"."""
    return plain(shown(value, unit)) + unit_words(unit)


def as_written(text: str | float, unit: str) -> str:
    """A number as a file writes it, digit by digit: "0.0083333 s"."""
    return f"{text}{unit_words(unit)}"


def plus_minus(error: float, unit: str) -> str:
    """What a number is worth, alone: "± 3 mm"."""
    size = shown(error, unit)
    return f"± {_fixed(size, decimals(size))}{unit_words(unit)}"


def measured(value: float, error: float, unit: str) -> str:
    """A number with its ± and unit, with as many decimals as the ± deserves: "31 ± 6 mm", "0.35 ± 0.08 s".

    An error that is not known (NaN) is left out.
    """
    if not math.isfinite(error):
        return number(value, unit)
    return f"{_fixed(shown(value, unit), decimals(shown(error, unit)))} {plus_minus(error, unit)}"


def changed(value: float, error: float, unit: str) -> str:
    """A difference with its sign: "+3 ± 2 mm"."""
    words = measured(value, error, unit)
    return words if words.startswith(MINUS) else f"+{words}"


def from_to(before: float, after: float, error: float, unit: str) -> str:
    """One number and what became of it: "31 → 8 mm". error: the smaller ± of the two."""
    digits = decimals(shown(error, unit))
    return f"{_fixed(shown(before, unit), digits)} → {_fixed(shown(after, unit), digits)}{unit_words(unit)}"


def band(low: float | None, high: float | None, unit: str) -> str:
    """A band: "0 to 10 mm", "at most 10 mm", "at least 30°", "no band". None and ±inf are open sides."""
    has_low = low is not None and math.isfinite(low)
    has_high = high is not None and math.isfinite(high)
    if low is not None and high is not None and has_low and has_high:
        return f"{plain(shown(low, unit))} to {number(high, unit)}"
    if low is not None and has_low:
        return f"at least {number(low, unit)}"
    return f"at most {number(high, unit)}" if high is not None and has_high else "no band"


def seconds(time_s: float, digits: int = 1) -> str:
    """A moment or a length of time: "3.2 s"."""
    return f"{_fixed(time_s, digits)} s"


def span(start_s: float, end_s: float, digits: int = 1) -> str:
    """From one moment to another: "3.2 to 4.5 s"."""
    return f"{_fixed(start_s, digits)} to {seconds(end_s, digits)}"


def milliseconds(time_s: float) -> str:
    """A very short time: "12 ms"."""
    return f"{_fixed(1000.0 * time_s, 0)} ms"


def long_time(time_s: float) -> str:
    """A time to wait, given in seconds: "42 s", "3 min 5 s", "2 h 10 min"."""
    minutes, rest = divmod(round(time_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min {rest} s" if minutes else f"{rest} s"


def minutes(length: float) -> str:
    """Minutes of a class: "12.5 minutes"."""
    return f"{plain(length)} minutes"


def hertz(rate_hz: float) -> str:
    """A rate: "240 Hz", "59.94 Hz"."""
    return f"{plain(rate_hz, 6)} Hz"


def frame_rate(rate_hz: float) -> str:
    """A rate for those who count in pictures: "240 frames a second"."""
    return f"{plain(rate_hz, 4)} frames a second"


def percent(share: float, digits: int = 0) -> str:
    """A share from 0 to 1: "12 %"."""
    return f"{_fixed(100.0 * share, digits)} %"


def percent_measured(share: float, error: float) -> str:
    """A share with its ±: "20 ± 3 %"."""
    return measured(100.0 * share, 100.0 * error, "%")


def millimetres(metres: float, digits: int = 0) -> str:
    """A length given in metres: "12 mm"."""
    return f"{_fixed(1000.0 * metres, digits)} mm"


def centimetres(metres: float) -> str:
    """A length given in metres: "12 cm"."""
    return f"{_fixed(100.0 * metres, 0)} cm"


def centimetres_measured(metres: float, error_m: float) -> str:
    """A length given in metres, with its ±: "31 ± 1 cm"."""
    return measured(100.0 * metres, 100.0 * error_m, "cm")


def metres(length_m: float, digits: int = 2) -> str:
    """A length: "1.68 m"."""
    return f"{_fixed(length_m, digits)} m"


def megabytes(size: float) -> str:
    """A size given in bytes: "12 MB"; one decimal below ten."""
    return f"{_fixed(size / 1e6, 1 if size < 1e7 else 0)} MB"


def factor(value: float) -> str:
    """What something is multiplied by: "× 1.035"."""
    return f"× {_fixed(value, 3)}"


def body_heights(value: float) -> str:
    """A height in statures, with its sign: "−0.02 body heights"."""
    return f"{value:+.2f} body heights".replace("-", MINUS)


def confidence(value: float) -> str:
    """A confidence from 0 to 1: "0.92"."""
    return _fixed(value, 2)


def spoken_seconds(time_s: float) -> str:
    """A moment in words, on one line: "3.2 seconds"."""
    return together(f"{_fixed(time_s, SPOKEN_DIGITS)} seconds")


def for_dancer(value: float, unit: str) -> str:
    """The size of a number as a dancer says it, on one line, without its sign: "3 cm", "12°", "70 %", "4 times"."""
    size = abs(value)
    match unit:
        case "mm":
            return together(f"{_trimmed(size / 10, 1 if size < 50 else 0)} cm")
        case "deg":
            return f"{_fixed(size, 0)}°"
        case "s":
            return together(f"{_trimmed(size, 1 if size >= 0.1 else 2)} seconds")
        case "ratio":
            return together(f"{_trimmed(size, 1)} times") if size > 1.5 else together(percent(size))
        case "body weights":
            return together(f"{_trimmed(size, 1)} times")
        case "touches":
            times = round(size)
            return ("not at all", "once")[times] if times < 2 else together(f"{times} times")
    return together(f"{_fixed(size, 1)} {unit}")


def counted(count: int, one: str, many: str) -> str:
    """So many of something: "1 jump", "3 jumps"."""
    return f"{count} {one if count == 1 else many}"


def together(words: str) -> str:
    """The same words, to stay on one line, such as a number and its unit."""
    return words.replace(" ", NO_BREAK)
