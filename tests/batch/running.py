"""The command in a process of its own, as a user runs it, and what its folder then says."""

import os
import subprocess
import sys
from pathlib import Path

import geopandas as gpd
import pandas as pd

ROOT = Path(__file__).parents[2]
PROGRAM = "from screening.cli import main; main()"


def command(paths, out, *more):
    inputs = [part for name, path in paths.items() for part in (f"--{name.replace('_', '-')}", path)]
    return [sys.executable, "-c", PROGRAM, "batch", *map(str, [*inputs, "--rain-mm", 75, "--out", out, *more])]


def environment(**more):
    return {**os.environ, "PYTHONPATH": str(ROOT), "NUMBA_NUM_THREADS": "1", **more}


def start(paths, out, *more, **variables):
    return subprocess.Popen(
        command(paths, out, *more), cwd=ROOT, env=environment(**variables), text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip


def run(paths, out, *more, **variables):
    return subprocess.run(
        command(paths, out, *more), cwd=ROOT, env=environment(**variables), text=True, capture_output=True, timeout=900
    )


def summary_of(out):
    return gpd.read_parquet(out / "summary.parquet")


def verdicts_of(out):
    return pd.read_csv(out / "verdicts.csv", encoding="utf-8-sig")
