"""Runs one job of Blender's module in a child process, so that a crash of native code becomes a sentence.

The child also keeps Blender's chatter off our standard output, and its hanging at exit away from us.
"""

from __future__ import annotations

import contextlib
import json
import pickle
import sys
from collections.abc import Iterator
from typing import IO, TYPE_CHECKING, Any

from ..analysis_core.errors import InTheRoundError
from ..analysis_core.wording import machine
from . import system_libraries
from .output import Output

if TYPE_CHECKING:
    import subprocess

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


class BlenderJob:
    """A child process that has Blender and does one job, see ``started``."""

    def __init__(self, child: subprocess.Popen[bytes], words: IO[str], output: Output, *, debug: bool) -> None:
        """words: where the child's own standard error goes."""
        assert child.stdin is not None  # pipes were asked for
        assert child.stdout is not None
        self._child, self._to_child, self._answers = child, child.stdin, child.stdout
        self._words, self._output, self._debug = words, output, debug

    def write(self, data: bytes) -> None:
        """Hand the child bytes. One that died says why on its other end, where ``answer`` listens."""
        with contextlib.suppress(BrokenPipeError):
            self._to_child.write(data)
            self._to_child.flush()

    def send(self, part: object) -> None:
        """Hand the child something that it takes with ``pickle.load``."""
        self.write(pickle.dumps(part, protocol=pickle.HIGHEST_PROTOCOL))

    def answer(self) -> dict[str, Any]:
        """What the child answers when it is done; its progress is shown meanwhile.

        Raises BlenderError with the child's own sentence, or with one of ours when it ended without any.
        """
        with contextlib.suppress(BrokenPipeError):
            self._to_child.close()
        answer: dict[str, Any] = {}
        for line in self._answers:
            answer = json.loads(line)
            if "doing" in answer:
                self._output.progress(answer["doing"], answer["share"])
        code = self._child.wait()
        self._words.seek(0)
        said = self._words.read()[-_LAST_WORDS:]
        if self._debug and said:
            self._output.note(said)
        if "error" in answer:
            raise BlenderError(answer["error"])
        if "result" not in answer:
            raise BlenderError(_why_it_ended(code, said))
        result: dict[str, Any] = answer["result"]
        return result

    def end(self) -> None:
        """End the child, whatever it does."""
        self._child.kill()
        self._child.wait()
        self._answers.close()
        # What it did not take goes nowhere.
        with contextlib.suppress(BrokenPipeError):
            self._to_child.close()


@contextlib.contextmanager
def started(job: dict[str, Any], output: Output, *, debug: bool) -> Iterator[BlenderJob]:
    """A child process that does ``job`` (its "do" names a function of blender_worker), and that ends with the block.

    Blender starts at once, while whoever asks prepares what is sent behind the job. Raises BlenderError when a library is missing
    without which it cannot start.
    """
    # Here: who asks for help, or for another command, waits for neither.
    import subprocess
    import tempfile

    packages = system_libraries.missing_to_import()
    if packages:
        raise BlenderError(machine.needs_libraries(packages))
    with tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace") as words:
        command = [sys.executable, "-m", _WORKER]
        child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=words)
        begun = BlenderJob(child, words, output, debug=debug)
        try:
            begun.write(json.dumps(job).encode() + b"\n")
            yield begun
        finally:
            begun.end()


def run_job(job: dict[str, Any], output: Output, *, debug: bool) -> dict[str, Any]:
    """Have a child process do ``job`` and return what it answers.

    Raises BlenderError with the child's own sentence, or with one of ours when it ended without any.
    """
    with started(job, output, debug=debug) as child:
        return child.answer()
