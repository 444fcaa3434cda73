"""The command in a process of its own, as a user runs it, and what its folder then says."""

import json
import os
import signal
import subprocess
import sys

import geopandas as gpd
import pandas as pd
from click.testing import CliRunner

from screening.commands.main import cli
from tests.places import ROOT

PROGRAM = ["-c", "from screening.commands.main import main; main()"]
DRIVEN = ["-m", "tests.slow.batch.driven"]


def command(paths, out, more, faults):
    inputs = [part for name, path in paths.items() for part in (f"--{name.replace('_', '-')}", path)]
    program = PROGRAM if faults is None else DRIVEN
    return [sys.executable, *program, "batch", *map(str, [*inputs, "--rain-mm", 75, "--out", out, *more])]


def _heed_interrupts():
    """What a shell starts in the background ignores Ctrl-C, and so would all that it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def start(paths, out, *more, faults=None):
    variables = {"PYTHONPATH": str(ROOT), "NUMBA_NUM_THREADS": "1", "BATCH_FAULTS": json.dumps(faults)}
    return subprocess.Popen(
        command(paths, out, more, faults),
        cwd=ROOT,
        env={**os.environ, **variables},
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=_heed_interrupts,
    )


def run(paths, out, *more, faults=None):
    return finish(start(paths, out, *more, faults=faults))


def run_here(paths, out, *more):
    """The command in this process, where it is to start no workers: what it prints and its exit code."""
    return CliRunner().invoke(cli, command(paths, out, more, None)[len([sys.executable, *PROGRAM]) :])


def finish(process):
    stdout, stderr = process.communicate(timeout=300)
    return subprocess.CompletedProcess(process.args, process.returncode, stdout, stderr)


def summary_of(out):
    return gpd.read_parquet(out / "summary.parquet")


def verdicts_of(out):
    return pd.read_csv(out / "verdicts.csv", encoding="utf-8-sig")
