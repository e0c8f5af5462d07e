"""Pages of the guides that are written from the code itself: the commands, and the core's front door."""

from __future__ import annotations

import argparse
import inspect
from collections.abc import Iterator

from in_the_round import analysis_core as core
from in_the_round.analysis_core.body.landmarks import load_landmarks
from in_the_round.analysis_core.wording.markers import marker_in_words, what_it_serves
from in_the_round.command_line.__main__ import make_parser
from in_the_round.simulated_dancer.wear import SPARE

_COMMANDS_HEAD = """# All commands

Written from the program itself. Every command also has `--help`, answers scripts with `--json`, and ends with exit code 2
and one sentence when something is wrong; [all of these sentences](../errors.md) are listed.
"""
_REFERENCE_HEAD = """# From Python

What a notebook needs is exported by `in_the_round.analysis_core`; `scripts/first_look.py` shows it in one page:

```python
from pathlib import Path
from in_the_round import analysis_core as core

review = core.review_take(Path("phrase.c3d"), core.Settings(static=Path("static.c3d")))
for finding in review.findings:
    print(core.finding_in_words(finding))
```

Inside, lengths are metres, times seconds and angles radians; axis 0 of an array is time, Z points up with the floor at 0, and NaN
is what was not seen.
"""


def _options(parser: argparse.ArgumentParser) -> Iterator[str]:
    """One line of a list for each thing that a command takes."""
    formatter = parser.formatter_class(prog=parser.prog)
    for action in parser._actions:
        if action.help == argparse.SUPPRESS or isinstance(action, argparse._HelpAction | argparse._SubParsersAction):
            continue
        # argparse has no public way to ask for the line that --help shows.
        names, words = formatter._format_action_invocation(action), formatter._expand_help(action)
        yield f"- `{names}`: {words}" if words else f"- `{names}`"


def _commands_of(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            return dict(action.choices)
    return {}


def _command(name: str, parser: argparse.ArgumentParser, depth: int) -> Iterator[str]:
    yield f"{'#' * depth} {name}\n\n{parser.description or ''}\n"
    if parser.epilog and parser.epilog.startswith("Example: "):
        yield f"```console\n$ {parser.epilog.removeprefix('Example: ')}\n```\n"
    if lines := list(_options(parser)):
        yield "\n".join(lines) + "\n"
    for inner, its_parser in _commands_of(parser).items():
        yield from _command(f"{name} {inner}", its_parser, depth + 1)


def commands() -> str:
    """The page of all commands, in Markdown."""
    parts = (part for name, parser in _commands_of(make_parser()).items() for part in _command(name, parser, 2))
    return "\n".join([_COMMANDS_HEAD, *parts])


def reference() -> str:
    """The page of the front door: one directive for each exported name, in Markdown with reStructuredText in it."""
    parts = [_REFERENCE_HEAD]
    for name in core.__all__:
        what = getattr(core, name)
        kind, more = ("class", "   :members:\n") if inspect.isclass(what) else ("function", "")
        directive = f".. auto{kind}:: {what.__module__}.{what.__qualname__}\n{more}"
        parts.append(f"## {name}\n\n```{{eval-rst}}\n{directive}```\n")
    return "\n".join(parts)


def markers() -> str:
    """A table of every landmark: where it is stuck on, what it is good for, what is lost without it. In Markdown."""
    lines = ["| where | bone or place, by its name | good for | without it |", "|---|---|---|---|"]
    for stem in load_landmarks():
        place = marker_in_words("", stem)
        for_what = what_it_serves(stem)
        # Surplus markers make a segment's pose surer; without the others the segment itself is not known.
        lost = "less sure" if stem in SPARE or stem[-2:] in ("_1", "_2", "_3") else "cannot be told, or much less surely"
        lines.append(f"| {place} | {stem.replace('_', ' ')} | {for_what} | {lost} |")
    return "\n".join(lines) + "\n"
