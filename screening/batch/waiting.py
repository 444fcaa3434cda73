"""Tasks waited for, whatever becomes of the workers and of the scheduler."""

from __future__ import annotations

import asyncio
import concurrent.futures
import time
from collections.abc import Collection
from contextlib import suppress
from typing import TYPE_CHECKING, TypeVar

from screening.errors import OutputError

if TYPE_CHECKING:
    from distributed import Client, Future

_KILLED = "its worker process died each time: out of memory, or a crash"
_LOOK_S = 5.0
"""Time between looks at whether workers are there [s]."""
_NO_WORKER_S = 600.0
"""Time without any worker after which a run ends [s]: a cluster that grows on demand takes minutes to start one."""

_CANCELLED = (asyncio.CancelledError, concurrent.futures.CancelledError)
"""What Dask raises where the scheduler is gone: one or the other by its version."""

Result = TypeVar("Result")


def reason_of(error: Exception) -> str:
    """Say why a task failed."""
    is_killed = type(error).__name__ == "KilledWorker"
    return _KILLED if is_killed else f"{type(error).__name__}: {error}"


class Waiter:
    """Waits for tasks, and has workers of this machine that are gone started again meanwhile.

    A nanny starts its worker again, but not one that dies within moments of its start, nor one that takes longer than
    the cluster's patience; Dask then gives up both, and a run without workers would wait for ever.
    """

    def __init__(self, client: Client) -> None:
        self._client = client
        self._last_seen = time.monotonic()

    def count_threads(self) -> int:
        """Count threads of workers that are there, and ask for the workers that are not.

        Raises
        ------
        OutputError
            There has been no worker for long, or the scheduler is gone.
        """
        try:
            n_threads = int(sum(self._client.nthreads().values()))
        except (OSError, RuntimeError) as error:
            raise _lost(error) from error
        now = time.monotonic()
        if n_threads:
            self._last_seen = now
        elif now - self._last_seen > _NO_WORKER_S:
            raise OutputError(
                "The Dask scheduler has no worker any more",
                got=f"none for {_NO_WORKER_S / 60:.0f} minutes",
                mend="look at why workers end (memory, time limits), then run the same command again: what is done is "
                "kept",
            )
        if self._client.cluster is not None:
            self._client.cluster.scale(len(self._client.cluster.worker_spec))
        return n_threads

    def collect(self, futures: Collection[Future[Result]]) -> list[tuple[Future[Result], Result | Exception]]:
        """Wait until at least one task is settled, and take back what each gave or the error that ended it.

        Raises
        ------
        OutputError
            There has been no worker for long, or the scheduler is gone.
        """
        from distributed import wait

        while True:
            settled = []
            try:
                with suppress(asyncio.TimeoutError):
                    done = wait(list(futures), timeout=_LOOK_S, return_when="FIRST_COMPLETED").done
                    settled = [taken for future in done for taken in _take(future)]
            except _CANCELLED as error:
                raise _lost(error) from error
            if settled:
                return settled
            self.count_threads()


def _take(future: Future[Result]) -> list[tuple[Future[Result], Result | Exception]]:
    """Take back a task; nothing where it is being made again, because a worker died with what it had done."""
    if future.status in ("pending", "lost"):
        return []
    try:
        return [(future, future.result(timeout=_LOOK_S))]
    except Exception as error:
        return [(future, error)] if future.status == "error" else []


def _lost(error: BaseException) -> OutputError:
    return OutputError(
        "The connection to the Dask scheduler was lost",
        got=type(error).__name__,
        mend="run the same command again: what is done is kept",
    )
