"""Chunks handed to workers and taken back: what kills its worker is halved, and at last tried all alone."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.batch.parts import Part, write_part
from screening.batch.tasks import Chunk, ChunkReport, Job
from screening.batch.waiting import Waiter, reason_of
from screening.batch.worker import screen_chunk
from screening.errors import ScreeningError

if TYPE_CHECKING:
    from distributed import Client, Future

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
    waiter = Waiter(client)
    waiting, suspects = deque(chunks), deque[Chunk]()
    running: dict[Future[ChunkReport], _Handed] = {}
    n_handed = 0
    try:
        while waiting or suspects or running:
            room = _AHEAD * max(waiter.count_threads(), 1)
            while len(running) < room and (waiting or (suspects and not running)):
                is_alone = not waiting
                chunk = suspects.popleft() if is_alone else waiting.popleft()
                n_handed += 1
                # A chunk that comes back must not be taken for the one that failed.
                future = client.submit(screen_chunk, job, chunk, key=f"{chunk.name}-{n_handed}", pure=False)
                running[future] = _Handed(chunk, is_alone)
                if is_alone:
                    break
            for future, outcome in waiter.collect(running):
                _settle(outcome, running.pop(future), job, waiting, suspects, on_done)
    finally:
        client.cancel(list(running), force=True)


def _settle(
    outcome: ChunkReport | Exception,
    handed: _Handed,
    job: Job,
    waiting: deque[Chunk],
    suspects: deque[Chunk],
    on_done: OnDone,
) -> None:
    """Take back a chunk: done, to be halved, to be tried alone, or given up."""
    chunk = handed.chunk
    if isinstance(outcome, ScreeningError):
        raise outcome
    if not isinstance(outcome, Exception):
        on_done(chunk, outcome)
    elif len(chunk.lot_ids) > 1:
        middle = len(chunk.lot_ids) // 2
        waiting.extend(Chunk(chunk.block, half) for half in (chunk.lot_ids[:middle], chunk.lot_ids[middle:]))
    elif not handed.is_alone:
        suspects.append(chunk)
    else:
        failed = dict.fromkeys(chunk.lot_ids, reason_of(outcome))
        write_part(job.out_dir, Part(name=chunk.name, done=(), failed=failed), {})
        on_done(chunk, ChunkReport(failed=failed, n_cells=0, seconds=0.0, peak_bytes=0))
