"""Run several commands one after the other in one process and tell how each ended; started by tests, with a fault of the machine.

Reads from standard input a JSON list of argument lists; answers with a JSON list of [exit code, standard output, standard error].
"""

from __future__ import annotations

import contextlib
import io
import json
import sys

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


if __name__ == "__main__":
    begin_again_in_utf8()
    # A pipe, which neither a full disk nor a limit on files can stop.
    sys.stdout.write(json.dumps([ended(arguments) for arguments in json.load(sys.stdin)]))
