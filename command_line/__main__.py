"""Entry point of ``in-the-round`` and of ``python -m in_the_round.command_line``."""

from __future__ import annotations

import argparse
import atexit
import codecs
import gc
import os
import sys
import traceback
import warnings
from collections.abc import Iterator, Mapping, Sequence
from importlib import import_module
from types import ModuleType
from typing import NoReturn

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import machine
from .output import Output, speak_any_text


class _Commands(Mapping[str, ModuleType]):
    """The commands by name; each is imported when it is asked for, so that who runs one does not wait for all."""

    _NAMES = ("check", "review", "compare", "scene", "turntable", "stills", "page", "lesson", "hand-over", "record", "archive")

    def __getitem__(self, name: str) -> ModuleType:
        if name not in self._NAMES:
            raise KeyError(name)
        return import_module(f".{name.replace('-', '_')}", __package__)

    def __iter__(self) -> Iterator[str]:
        return iter(self._NAMES)

    def __len__(self) -> int:
        return len(self._NAMES)


COMMANDS = _Commands()

_EXAMPLE = "Example:\n  "

ERROR = 2
INTERRUPTED = 130
#: So many new objects make Python look for garbage; by default 700. A take is arrays, which hold none of it.
_ALLOCATIONS = 100_000


class _Help(argparse.HelpFormatter):
    """Leaves an example on one line, so that it can be copied."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return text if text.startswith(_EXAMPLE) else super()._fill_text(text, width, indent)


class _Parser(argparse.ArgumentParser):
    """Says in one sentence what is wrong with the options."""

    def error(self, message: str) -> NoReturn:
        sys.stderr.write(f"{machine.wrong_option(message, self.prog)}\n")
        sys.exit(ERROR)


def make_parser(asked: Sequence[str] = ()) -> argparse.ArgumentParser:
    """The parser with the commands that are asked for, or with all."""
    parser = _Parser(
        prog="in-the-round",
        description="Reviews motion-captured dance and shows the corrections in Blender. Begin with check and review; most other "
        "commands take the folder that review writes.",
        epilog=_EXAMPLE + COMMANDS["check"].EXAMPLE if not asked else None,
        formatter_class=_Help,
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name in asked or COMMANDS:
        module = COMMANDS[name]
        command = commands.add_parser(
            name,
            help=module.HELP,
            description=f"{module.HELP[:1].upper()}{module.HELP[1:]}.",
            epilog=_EXAMPLE + module.EXAMPLE,
            formatter_class=_Help,
        )
        module.add_options(command)
        command.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
        command.add_argument("--debug", action="store_true", help="show where an error comes from")
    return parser


def begin_again_in_utf8() -> None:
    """Where file names are read as ASCII (a plain C locale that forbids anything else) this process begins again in UTF-8.

    Names with accents would otherwise come in as bytes that no database, file or other process of ours takes as text.
    """
    if sys.platform != "win32" and codecs.lookup(sys.getfilesystemencoding()).name == "ascii" and sys.executable:
        sys.stdout.flush()
        sys.stderr.flush()
        # For the processes that we start, too.
        environment = {**os.environ, "PYTHONUTF8": "1"}
        os.execve(sys.executable, [sys.executable, "-X", "utf8", *sys.orig_argv[1:]], environment)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return the exit code: 0, 2 for anything that went wrong, or what the command says."""
    if arguments is None:
        begin_again_in_utf8()
        # What is imported is never garbage: to look through it again and again, and once more at the end, takes a quarter of a
        # second of a short command.
        gc.set_threshold(_ALLOCATIONS)
        atexit.register(gc.freeze)
    speak_any_text()
    words = sys.argv[1:] if arguments is None else arguments
    parsed = make_parser([word for word in words[:1] if word in COMMANDS]).parse_args(words)
    # Our matrices are many and small: threads of the linear algebra library would only wait for each other (a hand-over of 20 s
    # took 2 s with one and a minute with two on a busy machine). Read when arrays are first imported, which is later.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if not parsed.debug:
        # Remarks of libraries are for developers; what a user must know is in the result.
        warnings.simplefilter("ignore")
    output = Output(as_json=parsed.json)
    try:
        code: int | None = COMMANDS[parsed.command].run(parsed, output)
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader of our output went away; the rest has no addressee.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except KeyboardInterrupt:
        output.clear()
        sys.stderr.write(f"{machine.STOPPED}\n")
        return INTERRUPTED
    except Exception as error:
        output.clear()
        if parsed.debug:
            traceback.print_exc()
        if isinstance(error, InTheRoundError):
            sys.stderr.write(f"{error}\n")
        elif isinstance(error, MemoryError):
            sys.stderr.write(f"{machine.NO_MEMORY}\n")
        else:
            sys.stderr.write(f"{machine.defect(machine.failure(type(error).__name__, str(error)))}\n")
        return ERROR
    else:
        return code or 0
    return 0


if __name__ == "__main__":
    sys.exit(main())
