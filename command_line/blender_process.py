"""Runs one job of Blender's module in a child process, so that a crash of native code becomes a sentence.

The child also keeps Blender's chatter off our standard output, and its hanging at exit away from us.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import machine
from . import system_libraries
from .output import Output

_WORKER = f"{__package__}.blender_worker"
#: Enough of the child's last words to show with --debug.
_LAST_WORDS = 4000


class BlenderError(InTheRoundError):
    """Blender's module is not there, or ended before its work was done."""


def _why_it_ended(code: int, words: str) -> str:
    if code < 0 or code > 2:
        packages = system_libraries.missing_for_quick_rendering()
        return machine.blender_ended(code, machine.faster_with(packages) if packages else machine.TRY_AGAIN)
    last = words.strip().splitlines()[-1:] or [machine.SAID_NOTHING]
    return machine.blender_refused(last[0])


def note_if_slow(output: Output) -> None:
    """Say what would make renders faster, where something would."""
    packages = system_libraries.missing_for_quick_rendering()
    if packages:
        output.note(machine.faster_with(packages))


def run_job(job: dict[str, Any], output: Output, *, debug: bool) -> dict[str, Any]:
    """Have a child process do ``job`` (its "do" names a function of blender_worker) and return what it answers.

    Raises InTheRoundError with the child's own sentence, BlenderError when it ended without one.
    """
    # Here: who asks for help, or for another command, waits for neither.
    import subprocess
    import tempfile

    packages = system_libraries.missing_to_import()
    if packages:
        raise BlenderError(machine.needs_libraries(packages))
    with tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace") as words, tempfile.TemporaryFile("w+b") as request:
        # A file, not a pipe: a child that dies before it listens leaves no broken pipe behind.
        request.write(json.dumps(job).encode())
        request.seek(0)
        command = [sys.executable, "-m", _WORKER]
        child = subprocess.Popen(command, stdin=request, stdout=subprocess.PIPE, stderr=words, text=True, encoding="utf-8")
        answers = child.stdout
        assert answers is not None  # a pipe was asked for
        answer: dict[str, Any] = {}
        try:
            for line in answers:
                answer = json.loads(line)
                if "doing" in answer:
                    output.progress(answer["doing"], answer["share"])
            code = child.wait()
        finally:
            child.kill()
            child.wait()
            answers.close()
        words.seek(0)
        said = words.read()[-_LAST_WORDS:]
    if debug and said:
        output.note(said)
    if "error" in answer:
        raise BlenderError(answer["error"])
    if "result" not in answer:
        raise BlenderError(_why_it_ended(code, said))
    result: dict[str, Any] = answer["result"]
    return result
