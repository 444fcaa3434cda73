"""Workers: a cluster on this machine by default, or any Dask scheduler by its address."""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from screening.errors import InputError
from screening.workers import count_processors

if TYPE_CHECKING:
    from distributed import Client, LocalCluster

WORKER_BYTES = 4 << 30
"""Memory of a worker [B]: libraries and kernels 0.5 GB, and 210 B for each of at most 14 million cells of a window. A
worker that passes 95 % of it is ended, and its chunk taken up again in halves."""
_KEPT_BYTES = 1 << 30
"""Freed memory that a worker keeps [B]."""
_SETTINGS = {
    # A chunk whose worker dies is given to another once, then handed back: the driver halves it.
    "distributed.scheduler.allowed-failures": 1,
    # One chunk a worker: a chunk that waits at a worker that dies would be blamed too.
    "distributed.scheduler.worker-saturation": 1.0,
    # Chunks hand back counts, so there is nothing to spill; a worker that pauses at what one chunk holds would wait
    # for itself.
    "distributed.worker.memory.target": False,
    "distributed.worker.memory.spill": False,
    "distributed.worker.memory.pause": False,
    "distributed.worker.memory.terminate": 0.95,
    "distributed.admin.tick.limit": "1h",
    # Dask has glibc hand every large array back to the system when it is freed, and ask for it, zeroed, when the next
    # is made: a fifth of a chunk's time. Workers keep what a chunk has taken for the next one, in one arena.
    "distributed.nanny.pre-spawn-environ.MALLOC_TRIM_THRESHOLD_": _KEPT_BYTES,
    "distributed.nanny.pre-spawn-environ.MALLOC_MMAP_THRESHOLD_": _KEPT_BYTES,
    "distributed.nanny.pre-spawn-environ.MALLOC_ARENA_MAX": 1,
}


@contextmanager
def open_client(*, n_workers: int | None, scheduler: str | None) -> Iterator[Client]:
    """Connect to a scheduler, or start one with workers on this machine and end them afterwards.

    Parameters
    ----------
    n_workers
        Worker processes on this machine, one thread each; None = as many as processors and memory allow.
    scheduler
        Address of a running Dask scheduler, such as `tcp://host:8786`. Its `allowed-failures` is its own: 1 costs the
        fewest restarts.

    Raises
    ------
    InputError
        The scheduler cannot be reached, or no worker can be started.
    """
    import dask
    from distributed import Client

    with dask.config.set(_SETTINGS):
        if scheduler:
            with _connect(scheduler) as client:
                yield client
            return
        with _interrupts_held():
            cluster = _start_cluster(n_workers or default_workers())
        with cluster, Client(cluster) as client:
            yield client


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Start processes that leave Ctrl-C to the driver: what is ignored here they ignore from their start."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def default_workers() -> int:
    """Workers that this machine has processors and memory for, at least one."""
    import psutil

    by_memory = int(psutil.virtual_memory().available // WORKER_BYTES)
    return max(min(count_processors(), by_memory), 1)


def _start_cluster(n_workers: int) -> LocalCluster:
    from distributed import LocalCluster

    try:
        return LocalCluster(
            n_workers=n_workers,
            threads_per_worker=1,
            memory_limit=WORKER_BYTES,
            dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL,
        )
    except (OSError, RuntimeError) as error:
        raise InputError(
            "Worker processes cannot be started",
            got=f"{n_workers} workers: {error}",
            expected="processes that this machine lets start",
            mend='ask for fewer --workers; in a program, call it under `if __name__ == "__main__":`',
        ) from error


def _connect(address: str) -> Client:
    from distributed import Client

    # That a scheduler is gone is said by who waits for it, in a line.
    logging.getLogger("distributed.client").setLevel(logging.CRITICAL)
    try:
        return Client(address, timeout=10)
    except (OSError, ValueError) as error:
        raise InputError(
            "The Dask scheduler cannot be reached",
            got=f"{address}: {error}",
            expected="the address of a running scheduler, such as tcp://host:8786",
            mend="start one with `dask scheduler` and workers with `dask worker`, or leave out --scheduler",
        ) from error
