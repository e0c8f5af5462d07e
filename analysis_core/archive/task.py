"""What a worker does with one take: review it, write the review whole, return a small outcome. Importable by workers."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import sys
import time
from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ..errors import InTheRoundError
from ..settings import Settings
from ..wording import archive as words
from ..write.locking import only_writer

if TYPE_CHECKING:
    from ..review import Review

Keep = Literal["all", "findings"]
UNFINISHED, EARLIER = ".unfinished-", ".earlier-"


@dataclass(frozen=True)
class Job:
    """One take to review. take, review, running: absolute paths; running is written when the work begins."""

    take: Path
    review: Path
    running: Path
    settings: Settings
    keep: Keep


def _peak_mb() -> float | None:
    """The most memory this process has had, MB; None where the system does not say."""
    try:
        import resource
    except ImportError:
        return None
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def finding_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The findings of a review.json as rows of the ledger."""
    return [{**finding, "low": finding["band"][0], "high": finding["band"][1]} for finding in data["findings"]]


def _write(job: Job, review: Review, folder: Path) -> dict[str, Any]:
    """Write a review into a folder beside the target; returns the object of review.json."""
    from ..review import MOVEMENT_FILE, REVIEW_FILE, write_again
    from .page_of_review import write_page

    if (job.review / REVIEW_FILE).is_file():
        # The teacher's decisions of an earlier review are carried over from it.
        shutil.copy2(job.review / REVIEW_FILE, folder / REVIEW_FILE)
    write_page(write_again(review, folder), folder)
    if job.keep == "findings":
        (folder / MOVEMENT_FILE).unlink()
    data: dict[str, Any] = json.loads((folder / REVIEW_FILE).read_text(encoding="utf-8"))
    return data


def replace_folder(new: Path, target: Path) -> None:
    """Put a finished folder in the place of another one, which is renamed away first: a folder cannot replace a full one."""
    earlier = target.with_name(f"{EARLIER}{target.name}")
    if target.exists():
        shutil.rmtree(earlier, ignore_errors=True)
        target.rename(earlier)
    new.rename(target)
    shutil.rmtree(earlier, ignore_errors=True)


def put_back(target: Path) -> None:
    """Undo what was killed between the two renames of ``replace_folder``: the earlier review holds the teacher's decisions."""
    earlier = target.with_name(f"{EARLIER}{target.name}")
    if earlier.exists():
        if target.exists():
            shutil.rmtree(earlier, ignore_errors=True)
        else:
            earlier.rename(target)


def review_take(job: Job) -> dict[str, Any]:
    """Review one take and write it whole. Returns state, error or verdict, findings, seconds: plain values, no arrays."""
    from ..analyse import analyse

    job.running.write_text(f"{os.getpid()} {time.time()}", encoding="utf-8")
    started, cpu = time.perf_counter(), time.process_time()
    job.review.parent.mkdir(parents=True, exist_ok=True)
    put_back(job.review)
    folder = job.review.with_name(f"{UNFINISHED}{secrets.token_hex(6)}")
    outcome: dict[str, Any] = {"state": "refused", "findings": [], "measured": []}
    try:
        folder.mkdir()
        review = analyse(job.take, job.settings)
        # From taking the decisions over to the folder's taking its place nobody decides in the one that goes. Windows renames no
        # folder that is held: there this moment stays open.
        with only_writer(job.review) if sys.platform != "win32" else nullcontext():
            data = _write(job, review, folder)
            replace_folder(folder, job.review)
        take = data["take"]
        outcome |= {
            "state": "done",
            "verdict": data["quality"]["verdict"],
            "rate_hz": take["rate_hz"],
            "duration_s": take["duration_s"],
            "findings": finding_rows(data),
            "measured": data.get("measured") or [],
            "measures_version": data.get("measures_version"),
        }
    except InTheRoundError as error:
        # A sentence of the reader; the folder's own name may say more than a table should.
        outcome["error"] = str(error).replace(f"{job.take.parent}{os.sep}", "")
    except MemoryError:
        outcome["error"] = words.TOO_LITTLE_MEMORY
    except OSError as error:
        outcome |= {"state": "waiting", "error": words.review_not_written(error.strerror or error)}
    except Exception as error:
        # A row with its error, not the end of the run.
        outcome |= {"state": "failed", "error": words.program_failed(type(error).__name__, error)}
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        job.running.unlink(missing_ok=True)
    return outcome | {"seconds": time.perf_counter() - started, "cpu_s": time.process_time() - cpu, "peak_mb": _peak_mb()}
