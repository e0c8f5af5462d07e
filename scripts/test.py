"""Set up .venv when it is not there, then run every test; what follows is passed on to pytest.

python3 scripts/test.py
python3 scripts/test.py --quick                  # without what starts Blender, a browser or workers for long
python3 scripts/test.py tests/core -k turn
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import bootstrap

#: What can be tested where no Blender module exists.
WITHOUT_BLENDER = ("tests/core", "tests/external", "tests/command_line")

QUICK = "--quick"


def _side_by_side(arguments: list[str]) -> list[str]:
    """Options that spread the tests over the cores, unless the user says how many processes (-n)."""
    cores = os.cpu_count() or 1
    if cores == 1 or any(word.startswith("-n") for word in arguments):
        return []
    # By files, so that what the tests of a file share is made once, in the order of tests/conftest.py.
    return ["-n", str(cores), "--dist", "loadfile", "--no-loadscope-reorder"]


def _one_thread_each() -> dict[str, str]:
    """The environment in which a process computes on one thread: processes are what is spread over the cores.

    Compiled modules are kept, also where the machine says otherwise: a hundred processes that tests start would each compile the
    program anew, a second every time.
    """
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {**kept, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


def _compile(python: Path) -> None:
    """Compile the program once, or the processes that share the tests would all do so at the same time."""
    folders = ("analysis_core", "blender_addon", "command_line", "simulated_dancer")
    command = [str(python), "-m", "compileall", "-q", "-j", "0", *folders]
    subprocess.run(command, cwd=bootstrap.ROOT, env=_one_thread_each(), check=False)


def main(arguments: list[str]) -> int:
    """Return pytest's exit code, or 2 when the environment could not be made."""
    try:
        bootstrap.check_python()
        if bootstrap.blender_exists():
            bootstrap.check_blender()
            python = bootstrap.prepare({"blender", "test"})
        else:
            bootstrap.step("There is no Blender module for this Python: only the tests that need none are run")
            python = bootstrap.prepare({"test"})
            arguments = arguments or list(WITHOUT_BLENDER)
    except bootstrap.SetupError as error:
        print(error, file=sys.stderr)
        return 2
    if QUICK in arguments:
        arguments = [*(word for word in arguments if word != QUICK), "-m", "not slow"]
    _compile(python)
    bootstrap.step("Running the tests")
    command = [str(python), "-m", "pytest", *_side_by_side(arguments), *arguments]
    code = subprocess.run(command, cwd=bootstrap.ROOT, env=_one_thread_each(), check=False).returncode
    if code < 0:
        print(f"The tests were ended by signal {-code}.", file=sys.stderr)
        return 1
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
