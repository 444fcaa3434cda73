"""Chunks handed out and taken back, where a worker dies at a moment that only chance would find."""

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from functools import partial

import dask
import distributed
import pytest

from screening.batch import driver, waiting
from screening.batch.cluster import open_client
from screening.batch.tasks import Chunk, ChunkReport
from screening.errors import OutputError
from tests.places import ROOT


def report_chunk(folder, chunk):
    """Stands for the screening of a chunk: it leaves a mark in a folder each time."""
    (folder / f"{chunk.block}-{time.monotonic_ns()}").touch()
    return ChunkReport(failed={}, n_cells=os.getpid(), seconds=0.0, peak_bytes=0)


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


def close_workers_after(wait, client, futures, **options):
    """Wait as Dask does, once with all workers gone for good, as Dask leaves one that dies amid its start."""
    if not getattr(client, "has_closed", False):
        client.has_closed = True
        for nanny in client.cluster.workers.values():
            client.sync(nanny.close)
    return wait(futures, **options)


def test_workers_that_dask_gives_up_are_started_again(monkeypatch, tmp_path):
    settled = []
    monkeypatch.setattr(driver, "screen_chunk", report_chunk)
    monkeypatch.setattr(waiting, "_LOOK_S", 0.5)
    patience = dask.config.set({"distributed.deploy.lost-worker-timeout": "0.5s"})
    with patience, open_client(n_workers=1, scheduler=None) as client:
        monkeypatch.setattr(distributed, "wait", partial(close_workers_after, distributed.wait, client))
        chunks = [Chunk(block, (f"L-{block}",)) for block in range(4)]
        driver.run_chunks(client, tmp_path, chunks, on_done=lambda chunk, report: settled.append(chunk.block))
    assert sorted(settled) == [0, 1, 2, 3]


@contextmanager
def scheduler_without_workers(folder):
    address_file = folder / "scheduler.json"
    program = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--scheduler-file", str(address_file)]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    process = subprocess.Popen([*program, "--port", "0", "--no-dashboard"], cwd=ROOT, **quiet)
    try:
        deadline = time.monotonic() + 60
        while not address_file.exists() or not address_file.read_text(encoding="utf-8").rstrip().endswith("}"):
            assert process.poll() is None and time.monotonic() < deadline
            time.sleep(0.05)
        yield process, json.loads(address_file.read_text(encoding="utf-8"))["address"]
    finally:
        process.kill()
        process.wait(60)


def test_a_run_without_workers_or_scheduler_ends_and_says_so(monkeypatch, tmp_path):
    monkeypatch.setattr(waiting, "_LOOK_S", 0.2)
    monkeypatch.setattr(waiting, "_NO_WORKER_S", 1.0)
    chunks = [Chunk(0, ("L-1",))]
    with (
        scheduler_without_workers(tmp_path) as (process, address),
        open_client(n_workers=None, scheduler=address) as client,
    ):
        with pytest.raises(OutputError, match=r"has no worker any more.*run the same command again"):
            driver.run_chunks(client, tmp_path, chunks, on_done=print)
        process.kill()
        with pytest.raises(OutputError, match=r"connection to the Dask scheduler was lost.*the same command again"):
            driver.run_chunks(client, tmp_path, chunks, on_done=print)
