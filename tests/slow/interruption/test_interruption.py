"""A run that is killed at any moment leaves whole files under their names, or none; the next run completes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.places import ROOT
from tests.slow.interruption.whole_files import check_whole

N_KILLS = 50
KILLED_RUNS = {"site": 26, "driveway": 18, "batch": 12}

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def _run(module: str, *words: object) -> str:
    """Run one of the killers in a process of its own."""
    command = [sys.executable, "-m", module, *map(str, words)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT, timeout=1200)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_check_whole_sees_a_cut(tmp_path: Path) -> None:
    (tmp_path / "map.html").write_text("<html><body>")
    with pytest.raises(AssertionError):
        check_whole(tmp_path / "map.html")


@needs_fork
@pytest.mark.parametrize("command", list(KILLED_RUNS))
def test_a_killed_run_leaves_nothing_half_written(command: str, tmp_path: Path) -> None:
    said = _run("tests.slow.interruption.killed_runs", command, tmp_path, KILLED_RUNS[command])
    assert f"{KILLED_RUNS[command]} runs killed" in said


@needs_fork
def test_writers_killed_while_they_write_leave_nothing_half_written(tmp_path: Path) -> None:
    assert f"{N_KILLS} writers killed" in _run("tests.slow.interruption.killed_writes", tmp_path, N_KILLS)
