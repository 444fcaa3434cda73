"""A run that is killed at any moment leaves whole files under their names, or none; the next run completes."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.awkward.ground import write_clean
from tests.whole_files import check_whole

N_KILLS = 50
N_KILLED_RUNS = 12


def _start(options: list[str], out: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", "from screening.cli import main; main()", "site", *options, "--out", str(out)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def test_check_whole_sees_a_cut(tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("<html><body>")
    with pytest.raises(AssertionError):
        check_whole(tmp_path / "map.html")


@pytest.mark.slow
def test_a_killed_run_leaves_nothing_half_written(tmp_path: Path) -> None:
    plain = write_clean(tmp_path / "plain")
    options = [word for name, value in plain.items() for word in (f"--{name}", value)] + ["--rain-mm", "75"]
    begun = time.monotonic()
    whole = _start(options, tmp_path / "whole")
    assert whole.wait(600) == 0
    lasts_s = time.monotonic() - begun
    out, rng, n_killed = tmp_path / "out", random.Random(7), 0
    for number in range(N_KILLED_RUNS):
        # Every other one among the last fifth, where files are written and moved.
        share = rng.uniform(0.8, 1.05) if number % 2 else rng.uniform(0.0, 1.0)
        process = _start(options, out)
        time.sleep(share * lasts_s)
        process.send_signal(signal.SIGKILL)
        n_killed += process.wait(600) == -signal.SIGKILL
        for path in out.glob("*") if out.exists() else ():
            if not path.name.startswith(".writing-"):
                check_whole(path)
    assert n_killed > N_KILLED_RUNS // 2
    again = _start(options, out)
    assert again.wait(600) == 0
    assert sorted(path.name for path in out.iterdir()) == sorted(path.name for path in (tmp_path / "whole").iterdir())
    for path in out.iterdir():
        check_whole(path)


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_writers_killed_while_they_write_leave_nothing_half_written(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "tests.killed_writes", str(tmp_path), str(N_KILLS)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[1])
    assert done.returncode == 0, done.stderr
    assert f"{N_KILLS} writers killed" in done.stdout
