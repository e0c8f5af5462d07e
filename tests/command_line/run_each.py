"""Run several commands one after the other in one process and tell how each ended; started by tests, with a fault of the machine.

Reads from standard input a JSON list of argument lists; answers with a JSON list of [exit code, standard output, standard error].

``run_each.py again`` loads what the commands need and answers line after line, each [largest size of a file or null, commands] in
a copy of itself, as if it had just been started: a line with the copy's process id, one with the answer unless it was killed, and
``null`` when it is gone.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import pkgutil
import resource
import signal
import sys
from importlib import import_module

from in_the_round import analysis_core
from in_the_round.command_line.__main__ import begin_again_in_utf8, main


def ended(arguments: list[str]) -> tuple[int | str, str, str]:
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code: int | str = main(arguments)
        except SystemExit as error:
            code = int(error.code or 0)
        except BaseException as error:
            code = repr(error)
    return code, out.getvalue(), err.getvalue()


def say(told: object) -> None:
    # A pipe, which neither a full disk nor a limit on files can stop. Whoever was killed may have left half a line.
    sys.stdout.write(f"\n{json.dumps(told)}\n")
    sys.stdout.flush()


def load() -> None:
    """Load what commands load when they run, but the engine of the archive, which has threads that a copy would lack."""
    for module in pkgutil.walk_packages(analysis_core.__path__, f"{analysis_core.__name__}."):
        if not module.name.startswith((f"{analysis_core.__name__}.archive", f"{analysis_core.__name__}.record.migrations")):
            import_module(module.name)


def answer_in_a_copy(line: str) -> None:
    largest, commands = json.loads(line)
    child = os.fork()
    if child:
        os.waitpid(child, 0)
        say(None)
        return
    # With all that it starts it is a group that can be killed together; who hangs ends.
    os.setsid()
    signal.alarm(500)
    if largest is not None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))
    say(os.getpid())
    say([ended(arguments) for arguments in commands])
    os._exit(0)


if __name__ == "__main__":
    begin_again_in_utf8()
    if sys.argv[1:] == ["again"]:
        load()
        for line in sys.stdin:
            answer_in_a_copy(line)
    else:
        say([ended(arguments) for arguments in json.load(sys.stdin)])
