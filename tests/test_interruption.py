"""A run that is killed at any moment leaves whole files under their names, or none; the next run completes."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.awkward.ground import rectangle, write, write_clean
from tests.batch.running import ROOT
from tests.whole_files import check_whole

N_KILLS = 38
KILLED_RUNS = {"site": 4, "driveway": 4, "batch": 4}
DRIVE = rectangle(34.0, 16.0, 40.0, 50.0)


def _start(command: str, options: list[str], out: Path) -> subprocess.Popen[bytes]:
    words = [sys.executable, "-c", "from screening.cli import main; main()", command, *options, "--out", str(out)]
    return subprocess.Popen(
        words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT, start_new_session=True
    )


def _kill(process: subprocess.Popen[bytes]) -> bool:
    """Kill it and all that it has started, as a power cut would; say whether it was still running."""
    is_running = process.poll() is None
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(600)
    return is_running


def test_check_whole_sees_a_cut(tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("<html><body>")
    with pytest.raises(AssertionError):
        check_whole(tmp_path / "map.html")


@pytest.mark.slow
@pytest.mark.parametrize("command", list(KILLED_RUNS))
def test_a_killed_run_leaves_nothing_half_written(command: str, tmp_path: Path) -> None:
    plain = write_clean(tmp_path / "plain")
    if command == "driveway":
        plain["driveways"] = write(tmp_path / "plain" / "drives.gpkg", [DRIVE], driveway_id=["D-1"])
    options = [word for name, value in plain.items() for word in (f"--{name}", value)] + ["--rain-mm", "75"]
    options += ["--workers", "1"] if command == "batch" else []
    begun = time.monotonic()
    assert _start(command, options, tmp_path / "whole").wait(600) == 0
    lasts_s = time.monotonic() - begun
    out, rng, n_killed = tmp_path / "out", random.Random(7), 0
    for number in range(KILLED_RUNS[command]):
        # Every other one among the last fifth, where files are written and moved.
        share = rng.uniform(0.8, 1.05) if number % 2 else rng.uniform(0.0, 1.0)
        process = _start(command, options, out)
        time.sleep(share * lasts_s)
        n_killed += _kill(process)
        for path in _final_files(out):
            check_whole(path)
    assert n_killed >= KILLED_RUNS[command] // 3
    assert _start(command, options, out).wait(600) == 0
    assert [path.relative_to(out) for path in _final_files(out)] == [
        path.relative_to(tmp_path / "whole") for path in _final_files(tmp_path / "whole")
    ]
    for path in _final_files(out):
        check_whole(path)


def _final_files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith(".writing"))


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_writers_killed_while_they_write_leave_nothing_half_written(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.killed_writes", str(tmp_path), str(N_KILLS)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    assert f"{N_KILLS} writers killed" in done.stdout
