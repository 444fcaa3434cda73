"""Chunks handed to workers and taken back: what kills its worker is halved, and at last tried all alone."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.batch.parts import Part, write_part
from screening.batch.tasks import Chunk, ChunkReport, Job
from screening.batch.worker import screen_chunk
from screening.errors import OutputError, ScreeningError

if TYPE_CHECKING:
    from distributed import Client, Future

KILLED = "its worker process died each time, at last with nothing else running: out of memory, or a crash"
_AHEAD = 2
"""Chunks handed out per worker thread: one in work and one to go on with, however many millions of lots wait."""

OnDone = Callable[[Chunk, ChunkReport], None]


@dataclass(frozen=True)
class _Handed:
    chunk: Chunk
    is_alone: bool


def run_chunks(client: Client, job: Job, chunks: Iterable[Chunk], *, on_done: OnDone) -> None:
    """Screen chunks on the workers of a client, until every lot has its findings or its reason on disk.

    Parameters
    ----------
    client
        Of any Dask scheduler.
    job, chunks
        What to do.
    on_done
        Told of each chunk that is settled.

    Raises
    ------
    ScreeningError
        The outputs cannot be written, or the scheduler is gone; what is done is on disk.
    """
    from distributed import wait

    waiting, suspects = deque(chunks), deque[Chunk]()
    running: dict[Future[ChunkReport], _Handed] = {}
    n_handed = 0
    try:
        while waiting or suspects or running:
            room = _AHEAD * max(sum(client.nthreads().values()), 1)
            while len(running) < room and (waiting or (suspects and not running)):
                is_alone = not waiting
                chunk = suspects.popleft() if is_alone else waiting.popleft()
                n_handed += 1
                # A chunk that comes back must not be taken for the one that failed.
                future = client.submit(screen_chunk, job, chunk, key=f"{chunk.name}-{n_handed}", pure=False)
                running[future] = _Handed(chunk, is_alone)
                if is_alone:
                    break
            for future in wait(list(running), return_when="FIRST_COMPLETED").done:
                # What a worker had done is lost if it dies before it is asked; the scheduler has it made again.
                if future.status not in ("lost", "pending"):
                    _settle(future, running.pop(future), job, waiting, suspects, on_done)
    finally:
        client.cancel(list(running), force=True)


def _settle(
    future: Future[ChunkReport],
    handed: _Handed,
    job: Job,
    waiting: deque[Chunk],
    suspects: deque[Chunk],
    on_done: OnDone,
) -> None:
    """Take back a chunk: done, to be halved, to be tried alone, or given up."""
    chunk = handed.chunk
    if future.status == "cancelled":
        raise OutputError(
            "The connection to the Dask scheduler was lost", got=future.status,
            mend="run the same command again: what is done is kept",
        )  # fmt: skip
    error = future.exception()
    if error is None:
        on_done(chunk, future.result())
        return
    if isinstance(error, ScreeningError):
        raise error
    if len(chunk.lot_ids) > 1:
        middle = len(chunk.lot_ids) // 2
        waiting.extend(Chunk(chunk.block, half) for half in (chunk.lot_ids[:middle], chunk.lot_ids[middle:]))
    elif not handed.is_alone:
        suspects.append(chunk)
    else:
        is_killed = type(error).__name__ == "KilledWorker"
        reason = KILLED if is_killed else f"{type(error).__name__}: {error}"
        failed = dict.fromkeys(chunk.lot_ids, reason)
        write_part(job.out_dir, Part(chunk.name, (), failed), {})
        on_done(chunk, ChunkReport(failed, 0, 0.0, 0))
