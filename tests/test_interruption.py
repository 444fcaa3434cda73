"""A run that is killed at any moment leaves whole files under their names, or none; the next run completes."""

from __future__ import annotations

import json
import random
import signal
import sqlite3
import subprocess
import sys
import time
import tomllib
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from tests.awkward.ground import write_clean

N_KILLS = 50


def _start(options: list[str], out: Path) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-c", "from screening.cli import main; main()", "site", *options, "--out", str(out)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def check_whole(path: Path) -> None:
    """Raise if a file is not whole: each format by its own end or structure."""
    if path.suffix == ".json":
        assert json.loads(path.read_text(encoding="utf-8"))["notes"]
    elif path.suffix == ".html":
        assert path.read_text(encoding="utf-8").rstrip().endswith("</html>"), path
    elif path.suffix == ".toml":
        assert "setback_well_m" in tomllib.loads(path.read_text(encoding="utf-8"))
    elif path.suffix == ".csv":
        assert path.read_bytes().endswith(b"\r\n")
        pd.read_csv(path)
    elif path.suffix == ".xlsx":
        assert zipfile.ZipFile(path).testzip() is None
    elif path.suffix in (".pdf", ".parquet"):
        assert path.read_bytes().rstrip().endswith((b"%%EOF", b"PAR1")), path
    else:
        with sqlite3.connect(path) as base:
            assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert base.execute("SELECT count(*) FROM summary").fetchone() == (1,)


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
    for number in range(N_KILLS):
        # Every other one among the last fifth, where files are written and moved.
        share = rng.uniform(0.8, 1.05) if number % 2 else rng.uniform(0.0, 1.0)
        process = _start(options, out)
        time.sleep(share * lasts_s)
        process.send_signal(signal.SIGKILL)
        n_killed += process.wait(600) == -signal.SIGKILL
        for path in out.glob("*") if out.exists() else ():
            if not path.name.startswith(".writing-"):
                check_whole(path)
    assert n_killed > N_KILLS // 2
    again = _start(options, out)
    assert again.wait(600) == 0
    assert sorted(path.name for path in out.iterdir()) == sorted(path.name for path in (tmp_path / "whole").iterdir())
    for path in out.iterdir():
        check_whole(path)
