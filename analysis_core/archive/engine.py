"""The workers of an archive: processes of this machine, or of a cluster that runs already. Only this file knows the engine."""

from __future__ import annotations

import logging
import os
import secrets
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import dask
import psutil

from ..errors import OptionError, OutputError
from ..wording import archive as words
from .task import Job, review_take

#: One thread for each process; and memory that is given back to the system and faulted in again with every array costs a fifth
#: of the time (measured: two workers gain 1.4 without the last three and 1.8 with them). The last three are glibc's and do
#: nothing elsewhere. They must be set before arrays are loaded, so by the nanny that starts the worker.
ENVIRONMENT = {
    "OMP_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MALLOC_ARENA_MAX": "1",
    "MALLOC_TRIM_THRESHOLD_": "268435456",
    "MALLOC_MMAP_THRESHOLD_": "268435456",
}
_SETTINGS = {
    "distributed.nanny.pre-spawn-environ": ENVIRONMENT,
    # Memory and time for a profile that nobody looks at.
    "distributed.worker.profile.enabled": False,
    # A take that ends its process is tried once more; waiting ones stay at the scheduler, so that no neighbour is blamed.
    "distributed.scheduler.allowed-failures": 1,
    "distributed.scheduler.worker-saturation": 1.0,
}
#: What one worker needs beside the take, and how many times the file it needs for it. Measured, with room to spare.
_WORKER_BYTES, _TIMES_FILE, _SHARE_OF_FREE = 250e6, 16, 0.8
#: How long to wait for a first worker of a cluster, and for its answer, seconds.
_WAIT_S = 30
Work = Callable[[Job], Mapping[str, Any]]
_LOOPBACK = ("localhost", "127.0.0.1", "::1")


class EngineGone(Exception):
    """The cluster does not answer any more; what is done is done."""


def workers_that_fit(largest_file: int) -> int:
    """As many workers as there are cores and free memory for, at least one. largest_file: bytes."""
    free = psutil.virtual_memory().available
    fit = int(_SHARE_OF_FREE * free / (_TIMES_FILE * largest_file + _WORKER_BYTES))
    return max(1, min(os.cpu_count() or 1, fit))


def _library() -> Any:
    """The engine's library, which carries no types. It is slow to load, so not before there is something to do."""
    import distributed

    return distributed


@contextmanager
def _settings(**more: Any) -> Iterator[None]:
    """The engine's settings while it is in use. Its library first: it enters its own defaults, which the end would take away."""
    _library()
    with dask.config.set({**_SETTINGS, **more}):
        yield


def _work(job: Job, work: Work) -> dict[str, Any]:
    """On a worker: do one take, and say where it was done."""
    address = _library().get_worker().address
    job.running.write_text(address, encoding="utf-8")
    return {**work(job), "worker": address}


class Engine:
    """An engine that is ready. ``submit`` starts a take; ``done`` waits for the next ones that are finished."""

    def __init__(self, client: Any, name: str, work: Work = review_take) -> None:
        self._client = client
        self._taken = work
        self.name = name

    @property
    def workers(self) -> int:
        """How many workers there are now."""
        return len(self._client.scheduler_info().get("workers", {}))

    def submit(self, job: Job) -> Any:
        """Hand one take to the workers; returns its ticket."""
        return self._client.submit(_work, job, self._taken, pure=False, key=f"take-{secrets.token_hex(8)}")

    def done(self, tickets: Sequence[Any], seconds: float) -> list[Any]:
        """Tickets that are finished or were lost, waiting some seconds for the first. Raises EngineGone."""
        try:
            finished = list(_library().wait(tickets, timeout=seconds, return_when="FIRST_COMPLETED").done)
        except TimeoutError:
            finished = []
        except Exception as error:
            # A worker that dies takes the answers with it that were not fetched yet: those tickets are lost, not the engine.
            finished = [ticket for ticket in tickets if ticket.status != "pending"]
            if not finished:
                raise EngineGone from error
        if self._client.status not in ("running", "connecting"):
            raise EngineGone
        return finished

    def outcome(self, ticket: Any) -> dict[str, Any] | None:
        """What came of a finished ticket; None when it was lost with the worker that held it and is to be done again."""
        if ticket.status in ("lost", "cancelled"):
            return None
        error = ticket.exception()
        if error is None:
            found: dict[str, Any] = ticket.result()
            return found
        if isinstance(error, _library().KilledWorker):
            return {"state": "crashed", "error": words.DIED_TWICE}
        return {"state": "failed", "error": words.worker_failed(type(error).__name__, error)}

    def stop(self, ticket: Any, address: str | None) -> None:
        """Give up a take; the worker that hangs on it is started anew."""
        ticket.cancel()
        if address:
            with suppress(Exception):
                self._client.restart_workers([address], timeout=_WAIT_S, raise_for_error=False)


def _log_to(file: Path) -> None:
    """The engine's own log goes to a file, never to the terminal."""
    handler = logging.FileHandler(file, delay=True, encoding="utf-8")
    for name in ("distributed", "tornado", "asyncio", "bokeh"):
        logger = logging.getLogger(name)
        logger.handlers, logger.propagate = [handler], False


@contextmanager
def local_engine(workers: int, out: Path, work: Work = review_take) -> Iterator[Engine]:
    """Worker processes of this machine, which listen on its loopback only."""
    with _settings():
        _log_to(out / "engine.log")
        with (
            _library().LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                # The default ends a worker at an equal share of memory: a long take would look like a crash.
                memory_limit=0,
                host="127.0.0.1",
                dashboard_address="127.0.0.1:0",
                silence_logs=logging.CRITICAL,
            ) as cluster,
            _library().Client(cluster) as client,
        ):
            yield Engine(client, words.THIS_MACHINE, work)


def _facts() -> dict[str, Any]:
    """On a worker: what must be the same everywhere, and what should be set."""
    import numpy

    from ..findings.catalogue import profile_names
    from .versions import program_version

    return {
        "program": program_version(),
        "python": sys.version.split()[0],
        "numpy": numpy.__version__,
        "levels": profile_names(),
        "missing": sorted(name for name in ENVIRONMENT if os.environ.get(name) != ENVIRONMENT[name]),
    }


def _sees(path: str, word: str) -> bool:
    """On a worker: whether a file of the client is there with its content."""
    try:
        return Path(path).read_text(encoding="utf-8") == word
    except OSError:
        return False


def _check_address(address: str, insecure: bool) -> None:
    parts = urlsplit(address)
    if parts.scheme not in ("tcp", "tls") or not parts.hostname or not parts.port:
        raise OptionError(f"{address} is no address of a scheduler. Write tcp://127.0.0.1:8786 or tls://host:8786.")
    if parts.scheme == "tcp" and parts.hostname not in _LOOPBACK and not insecure:
        raise OptionError(
            f"{address}: whoever reaches such a port can run programs and read recordings. Use tls:// with certificates, or add "
            "--insecure on a network that nobody else can reach."
        )


def _check_workers(client: Any, out: Path, note: Callable[[str], None]) -> None:
    """The same program and the same files everywhere. Raises OutputError."""
    word = secrets.token_hex(16)
    probe = out / f".probe-{word[:8]}"
    probe.write_text(word, encoding="utf-8")
    try:
        seen = client.run(_sees, str(probe), word)
        facts = client.run(_facts)
    finally:
        probe.unlink(missing_ok=True)
    blind = [address for address, found in seen.items() if not found]
    if blind:
        raise OutputError(f"{out} is not the same folder on {blind[0]}. FOLDER and --out must have the same paths everywhere.")
    here = _facts()
    for address, there in facts.items():
        other = {key for key in ("program", "python", "numpy", "levels") if there[key] != here[key]}
        if other:
            what = ", ".join(sorted(other))
            raise OutputError(f"{address} has another {what} than here: reviews could not be compared. Install the same.")
        if there["missing"]:
            block = " ".join(f"{name}={ENVIRONMENT[name]}" for name in there["missing"])
            note(words.faster_with(address, block))


@contextmanager
def running_engine(
    address: str,
    out: Path,
    *,
    insecure: bool,
    note: Callable[[str], None],
    work: Work = review_take,
) -> Iterator[Engine]:
    """A cluster that runs already. Raises OptionError or OutputError when it cannot be used."""
    _check_address(address, insecure)
    with _settings(**{"distributed.comm.timeouts.connect": f"{_WAIT_S}s"}):
        _log_to(out / "engine.log")
        try:
            client = _library().Client(address, timeout=_WAIT_S)
        except (OSError, TimeoutError) as error:
            raise OutputError(f"No scheduler answers at {address}. Start one, or leave --scheduler out.") from error
        with client:
            try:
                client.wait_for_workers(1, timeout=_WAIT_S)
            except TimeoutError as error:
                raise OutputError(f"The scheduler at {address} has no workers. Start some with: dask worker {address}") from error
            _check_workers(client, out, note)
            yield Engine(client, address, work)
