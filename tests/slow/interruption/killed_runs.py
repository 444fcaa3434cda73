"""Run a command again and again in children that are killed at random moments; the last one is left to complete.

    python -m tests.slow.interruption.killed_runs COMMAND FOLDER NUMBER

Children are forked from a process that has all libraries, so every kill meets the command's own work: while libraries
are imported nothing is written.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import sys
import time
from pathlib import Path

import geopandas  # noqa: F401  (for the children)

import screening.batch.run
import screening.commands.driveway
import screening.site.screen  # noqa: F401  (for the children)
from screening.commands.main import cli
from tests.awkward.ground import rectangle, write, write_clean
from tests.slow.interruption.whole_files import check_whole

DRIVE = rectangle(34.0, 16.0, 40.0, 50.0)


def options_of(command: str, folder: Path) -> list[str]:
    """Write the inputs and name them."""
    plain = write_clean(folder)
    if command == "driveway":
        plain["driveways"] = write(folder / "drives.gpkg", [DRIVE], driveway_id=["D-1"])
    options = [word for name, value in plain.items() for word in (f"--{name}", value)] + ["--rain-mm", "75"]
    return [*options, "--workers", "1"] if command == "batch" else options


def start(words: list[str]) -> int:
    """Run the command in a child that leads a group of its own, and say nothing."""
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        os.setsid()
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (1, 2):
            os.dup2(nowhere, stream)
        cli.main(words, standalone_mode=True)
    except SystemExit as end:
        code = int(end.code or 0)
    finally:
        os._exit(code)


def complete(words: list[str]) -> float:
    """Run the command to its end, and say how long it takes [s]."""
    begun = time.monotonic()
    _, status = os.waitpid(start(words), 0)
    assert os.waitstatus_to_exitcode(status) == 0, status
    return time.monotonic() - begun


def kill(child: int) -> bool:
    """Kill it and all that it has started, as a power cut would; say whether it was still running."""
    for end in (os.killpg, os.kill):  # the group is not there before the child has made it
        with contextlib.suppress(ProcessLookupError):
            end(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL


def final_files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith(".writing"))


def kill_runs(command: str, folder: Path, n_kills: int) -> int:
    """Kill runs at moments spread over one run, then complete; what is left under final names must be whole.

    A run that ended before its kill does not count, and the next one begins in an empty folder.
    """
    words = [command, *options_of(command, folder / "plain"), "--out"]
    out, whole = folder / "out", folder / "whole"
    if command != "batch":  # it starts threads, and forks after that are unsafe
        # What a first run loads and makes once, the children have from here.
        cli.main([*words, str(folder / "first")], standalone_mode=False)
    lasts_s = complete([*words, str(whole)])
    rng, n_killed = random.Random(7), 0
    for number in range(4 * n_kills):
        # Every other one among the last fifth, where files are written and moved.
        share = rng.uniform(0.8, 1.05) if number % 2 else rng.uniform(0.0, 1.0)
        child = start([*words, str(out)])
        time.sleep(share * lasts_s)
        is_killed = kill(child)
        for path in final_files(out):
            check_whole(path)
        n_killed += is_killed
        if n_killed == n_kills:
            break
        if not is_killed:
            shutil.rmtree(out)
    complete([*words, str(out)])
    found = [path.relative_to(out) for path in final_files(out)]
    assert found == [path.relative_to(whole) for path in final_files(whole)], found
    for path in final_files(out):
        check_whole(path)
    return n_killed


if __name__ == "__main__":
    signal.alarm(1200)  # a child that hangs ends the test, and not the patience of whoever waits
    name, number = sys.argv[1], int(sys.argv[3])
    print(f"{kill_runs(name, Path(sys.argv[2]), number)} runs killed")
