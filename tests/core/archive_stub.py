"""A stand-in for the review of one take, and a driver: workers of other processes import it by name."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import signal
import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from in_the_round.analysis_core.archive.pages import REVIEW_PAGE
from in_the_round.analysis_core.archive.task import UNFINISHED, Job, finding_rows, replace_folder
from made_record import make_folder, measured

#: The content of a file says what becomes of it.
DIES, HANGS, IS_REFUSED, SLOWLY = "dies", "hangs", "is refused", "slowly"
#: How long the work takes that is done slowly, seconds: long enough that some of it is left when a process is killed.
SLOW_S = 0.3


def finding(fault: str = "heel-lifts-early", **more: Any) -> dict[str, Any]:
    """One finding by the contract."""
    return {
        "id": "f1", "fault": fault, "measure": "height", "phase": "turn-1", "side": "left", "value": 31.0, "unit": "mm",
        "band": [0.0, 10.0], "plus_minus": 4.2, "severity": 1.0, "grade": "fault", "confidence": "high", "onset_s": 1.0,
        "decision": "open", **more,
    }  # fmt: skip


def work(job: Job) -> Mapping[str, Any]:
    """Write a made review, or do what the file says."""
    said = job.take.read_text(encoding="utf-8")
    if DIES in said:
        os.kill(os.getpid(), signal.SIGKILL)
    if HANGS in said:
        time.sleep(600)
    if IS_REFUSED in said:
        return {"state": "refused", "error": "It is no take."}
    if SLOWLY in said:
        time.sleep(SLOW_S)
    job.review.parent.mkdir(parents=True, exist_ok=True)
    made = job.review.with_name(f"{UNFINISHED}{secrets.token_hex(6)}")
    make_folder(made, [measured(float(len(said)))], sha=said, findings=[finding()])
    data = json.loads((made / "review.json").read_text(encoding="utf-8"))
    shutil.copy2(job.take, made / "movement.npz")
    (made / REVIEW_PAGE).write_text("made", encoding="utf-8")
    replace_folder(made, job.review)
    return {
        "state": "done", "verdict": "good", "rate_hz": 240.0, "duration_s": 20.0, "findings": finding_rows(data),
        "measured": data["measured"], "measures_version": "v1", "seconds": 0.1, "cpu_s": 0.1, "peak_mb": 100.0,
    }  # fmt: skip


if __name__ == "__main__":
    # Not above: workers load this module for its work alone, and each would load all of the archive.
    import archive_stub
    from in_the_round.analysis_core.archive.run import Options, run_archive

    sys.stdout.reconfigure(line_buffering=True)
    folder, out, given = Path(sys.argv[1]), Path(sys.argv[2]), json.loads(sys.argv[3])

    def say(text: str) -> None:
        sys.stdout.write(f"{text}\n")

    ran = run_archive(folder, out, Options(**given), watch=lambda now: say(f"done {now.done}"), work=archive_stub.work)
    say(json.dumps({"reviewed": ran.reviewed, "failed": ran.failed, "waiting": ran.waiting, "remarks": ran.remarks}))
