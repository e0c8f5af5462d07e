"""Set up .venv when it is not there, then run every test; what follows is passed on to pytest.

python3 scripts/test.py
python3 scripts/test.py tests/core -k turn
"""

from __future__ import annotations

import os
import subprocess
import sys

import bootstrap

#: What can be tested where no Blender module exists.
WITHOUT_BLENDER = ("tests/core", "tests/external", "tests/command_line")


def _side_by_side(arguments: list[str]) -> list[str]:
    """Options that spread the tests over the cores, unless the user says how many processes (-n)."""
    cores = os.cpu_count() or 1
    if cores == 1 or any(word.startswith("-n") for word in arguments):
        return []
    return ["-n", str(cores), "--dist", "worksteal"]


def _one_thread_each() -> dict[str, str]:
    """The environment in which a process computes on one thread: processes are what is spread over the cores."""
    return {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


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
    bootstrap.step("Running the tests")
    command = [str(python), "-m", "pytest", *_side_by_side(arguments), *arguments]
    code = subprocess.run(command, cwd=bootstrap.ROOT, env=_one_thread_each(), check=False).returncode
    if code < 0:
        print(f"The tests were ended by signal {-code}.", file=sys.stderr)
        return 1
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
