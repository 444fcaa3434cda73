"""Chunks handed out and taken back, where a worker dies at a moment that only chance would find."""

import os
import signal
import time
from functools import partial

import distributed
import pytest

from screening.batch import driver
from screening.batch.cluster import open_client
from screening.batch.tasks import Chunk, ChunkReport

pytestmark = pytest.mark.slow


def report_chunk(folder, chunk):
    """Stands for the screening of a chunk: it leaves a mark in a folder each time."""
    (folder / f"{chunk.block}-{time.monotonic_ns()}").touch()
    return ChunkReport({}, os.getpid(), 0.0, 0)


def die_after(wait, client, futures, **options):
    """Wait as Dask does, and only then kill the worker that holds what was waited for."""
    done = wait(futures, **options)
    if not getattr(client, "has_killed", False):
        client.has_killed = True
        for pid in client.run(os.getpid).values():
            os.kill(pid, signal.SIGKILL)
        deadline = time.monotonic() + 60
        while all(future.status == "finished" for future in done.done):
            assert time.monotonic() < deadline
            time.sleep(0.001)
    return done


def test_a_worker_that_dies_with_what_it_has_done_costs_nothing(monkeypatch, tmp_path):
    settled = []
    monkeypatch.setattr(driver, "screen_chunk", report_chunk)
    with open_client(n_workers=1, scheduler=None) as client:
        monkeypatch.setattr(distributed, "wait", partial(die_after, distributed.wait, client))
        chunks = [Chunk(0, ("L-1",)), Chunk(1, ("L-2",))]
        driver.run_chunks(client, tmp_path, chunks, on_done=lambda chunk, report: settled.append((chunk, report)))
    assert sorted(chunk.block for chunk, _ in settled) == [0, 1]
    assert not any(report.failed for _, report in settled)
    n_made = [len(list(tmp_path.glob(f"{block}-*"))) for block in (0, 1)]
    assert sum(n_made) > 2  # what was lost was made again
