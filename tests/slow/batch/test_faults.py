"""What may go wrong in a long run: whatever it is, every lot is accounted for exactly once."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time

import geopandas as gpd
import pandas as pd
import psutil
import pytest
import rasterio
import shapely

from screening.batch.parts import read_parts
from tests.blocks import NORTH, WEST
from tests.places import ROOT
from tests.slow.batch.running import finish, run, start, summary_of, verdicts_of
from tests.town import make_town

N_LOTS = 24
N_LEFT = 4
"""Parts that are still to do where a fault is put into half a run: the others are of the run nothing disturbed."""
MIDDLING_WINDOWS = "window_margin_m = 10.0\nwindow_look_m = 200.0\n"
SMALL_WINDOWS = "window_margin_m = 10.0\nwindow_look_m = 20.0\nwindow_limit_m = 40.0\n"


@pytest.fixture(scope="module")
def town(tmp_path_factory):
    folder = tmp_path_factory.mktemp("town")
    paths = make_town(folder, n_rows=6, n_cols=4, around_m=60)
    (folder / "own.toml").write_text(MIDDLING_WINDOWS, encoding="utf-8")
    return {**paths, "criteria": folder / "own.toml"}


@pytest.fixture(scope="module")
def whole_run(town, tmp_path_factory):
    """The folder of a run that nothing has disturbed."""
    out = tmp_path_factory.mktemp("undisturbed")
    done = run(town, out, "--workers", 2, faults={})
    assert done.returncode == 0, done.stderr
    return out


@pytest.fixture(scope="module")
def undisturbed(whole_run):
    return summary_of(whole_run)


amid_a_run = pytest.mark.parametrize("n_left", [None, N_LEFT], ids=["whole run", "half run"])
"""Faults are put into a run that begins with nothing, and into one that goes on with what an earlier one has left."""


def begin(whole_run, out, *, n_left=N_LEFT, but=()):
    """Fill a folder as a run leaves it that was stopped with parts still to do: the first, or those that hold lots.

    Gives how many parts are there. Where all are to do (None), none is.
    """
    if n_left is None:
        return 0
    parts = read_parts(whole_run)
    left = [part for part in parts if set(but) & set(part.done)]
    left += [part for part in sorted(parts, key=lambda part: part.name) if part not in left][: n_left - len(left)]
    assert len(left) == n_left < len(parts)
    shutil.copytree(whole_run / "parts", out / "parts")
    for name in ("lots.parquet", "run.json"):
        shutil.copy(whole_run / name, out / name)
    for path in [path for part in left for path in (out / "parts").glob(f"{part.name}.*")]:
        path.unlink()
    assert len(read_parts(out)) == len(parts) - n_left
    return len(parts) - n_left


def assert_each_lot_once(out, n_lots=N_LOTS):
    found = summary_of(out)
    assert len(found) == found.lot_id.nunique() == n_lots
    assert (found.reason.ne("") == found.status.ne("assessed")).all()
    assert set(verdicts_of(out).lot_id.str.removeprefix("'")) <= set(found.lot_id)
    assert not list((out / "parts").glob(".writing*"))
    return found


def assert_same(found, expected):
    pd.testing.assert_frame_equal(pd.DataFrame(found), pd.DataFrame(expected))


def wait_for_parts(out, n, process):
    deadline = time.monotonic() + 300
    while len(list((out / "parts").glob("*.json"))) < n:
        assert process.poll() is None and time.monotonic() < deadline, process.stderr.read()
        time.sleep(0.05)


def workers_of(process):
    children = psutil.Process(process.pid).children(recursive=True)
    return [child for child in children if "spawn_main" in str(child.cmdline())]


@amid_a_run
def test_a_worker_killed_amid_the_run_costs_nothing(town, whole_run, undisturbed, tmp_path, n_left):
    n_begun = begin(whole_run, tmp_path, n_left=n_left)
    process = start(town, tmp_path, "--workers", 2, faults={"seconds": 1.0})
    wait_for_parts(tmp_path, n_begun + 1, process)
    victims = workers_of(process)
    assert victims
    victims[0].kill()
    done = finish(process)
    assert done.returncode == 0, done.stderr
    assert_same(assert_each_lot_once(tmp_path), undisturbed)


@amid_a_run
def test_the_driver_killed_and_the_command_run_again(town, whole_run, undisturbed, tmp_path, n_left):
    n_begun = begin(whole_run, tmp_path, n_left=n_left)
    process = start(town, tmp_path, "--workers", 1, faults={"seconds": 1.0})
    wait_for_parts(tmp_path, n_begun + 2, process)
    workers = workers_of(process)
    os.kill(process.pid, signal.SIGKILL)
    process.communicate()
    gone, alive = psutil.wait_procs(workers, timeout=60)
    assert gone and not alive  # workers end with their driver
    kept = {part.name for part in read_parts(tmp_path)}
    n_kept = sum(len(part.done) for part in read_parts(tmp_path))
    done = run(town, tmp_path, "--workers", 1, faults={})
    assert done.returncode == 0, done.stderr
    assert f"{N_LOTS - n_kept} of them in " in done.stdout
    assert kept < {part.name for part in read_parts(tmp_path)}
    assert_same(assert_each_lot_once(tmp_path), undisturbed)


@amid_a_run
def test_ctrl_c_says_what_is_kept_and_how_to_go_on(town, whole_run, undisturbed, tmp_path, n_left):
    n_begun = begin(whole_run, tmp_path, n_left=n_left)
    process = start(town, tmp_path, "--workers", 2, faults={"seconds": 5.0})
    wait_for_parts(tmp_path, n_begun + 1, process)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does: workers get it too
    done = finish(process)
    assert done.returncode == 1
    assert f"of {N_LOTS} lots are settled and kept" in done.stderr and "Run the same command again" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "summary.csv").exists()
    assert run(town, tmp_path, faults={}).returncode == 0
    assert_same(assert_each_lot_once(tmp_path), undisturbed)


@amid_a_run
def test_a_lot_that_kills_its_worker_costs_only_itself(town, whole_run, undisturbed, tmp_path, n_left):
    begin(whole_run, tmp_path, n_left=n_left, but=["L-00005"])
    done = run(town, tmp_path, "--workers", 2, faults={"poison": ["L-00005"]})
    assert done.returncode == 1
    found = assert_each_lot_once(tmp_path).set_index("lot_id")
    assert found.index[found.status == "failed"].tolist() == ["L-00005"]
    assert "worker process died" in found.reason["L-00005"] and pd.isna(found.visit_rank["L-00005"])
    assert "1 lots: its worker process died" in done.stderr
    again = run(town, tmp_path, faults={})
    assert again.returncode == 1 and " of them in " not in again.stdout  # it counts as settled
    retried = run(town, tmp_path, "--retry-failed", faults={})
    assert retried.returncode == 0 and "1 of them in " in retried.stdout
    assert_same(assert_each_lot_once(tmp_path), undisturbed)


def test_a_lot_that_breaks_the_method_costs_only_itself(town, tmp_path):
    done = run(town, tmp_path, faults={"broken": ["L-00011"], "lots_max": N_LOTS})
    found = assert_each_lot_once(tmp_path).set_index("lot_id")
    assert done.returncode == 1
    assert found.reason[found.reason != ""].to_dict() == {"L-00011": "ZeroDivisionError: planted"}


@amid_a_run
def test_a_full_disk_is_said_and_what_was_done_is_kept(town, whole_run, undisturbed, tmp_path, n_left):
    n_begun = begin(whole_run, tmp_path, n_left=n_left)
    done = run(town, tmp_path, "--workers", 1, faults={"full_disk": n_begun + 2})
    assert done.returncode == 2 and "No space left on device" in done.stderr and "Traceback" not in done.stderr
    assert len(read_parts(tmp_path)) == n_begun + 2
    assert run(town, tmp_path, faults={}).returncode == 0
    assert_same(assert_each_lot_once(tmp_path), undisturbed)


def test_an_output_that_cannot_be_written_is_said(town, tmp_path):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    done = run(town, tmp_path / "file" / "out")
    assert done.returncode == 2 and "cannot write its files" in done.stderr and "Traceback" not in done.stderr


def test_a_corrupt_tile_costs_the_lots_whose_window_it_meets(town, tmp_path):
    (tmp_path / "small.toml").write_text(SMALL_WINDOWS, encoding="utf-8")
    broken = tmp_path / "elevation.tif"
    shutil.copy(town["elevation"], broken)
    with rasterio.open(broken) as raster:
        offset = int(raster.get_tag_item("BLOCK_OFFSET_0_0", "TIFF", bidx=1))
    with broken.open("r+b") as file:
        file.seek(offset)
        file.write(b"\xff" * 64)
    out = tmp_path / "out"
    done = run({**town, "elevation": broken, "criteria": tmp_path / "small.toml"}, out, faults={})
    assert done.returncode == 1
    found = assert_each_lot_once(out).set_index("lot_id").sort_index()
    failed = found[found.status == "failed"]
    assert failed.reason.str.contains("cannot be read").all()
    # The tile is 256 cells wide, and a window reaches at most 40 m to each side.
    on_tile = shapely.box(WEST, NORTH - 256, WEST + 256, NORTH)
    assert set(found.index[found.intersects(on_tile)]) <= set(failed.index)
    assert failed.intersects(on_tile.buffer(40, join_style="mitre")).all()
    assert (found.status == "assessed").sum() + len(failed) == N_LOTS


def test_odd_lots_and_ids_are_each_a_row(town, tmp_path):
    lots = gpd.read_file(town["lots"])
    ids = ["../x", "CON", "a" * 300, "two\nlines", "twice", "twice", None, "=1+1", "", *lots.lot_id[9:]]
    shapes = lots.geometry.tolist()
    shapes[10] = None
    shapes[11] = shapely.Polygon()
    shapes[12] = shapely.affinity.translate(shapes[12], 50_000, 0)
    odd = gpd.GeoDataFrame({"lot_id": ids}, geometry=shapes, crs=lots.crs)
    odd.to_file(tmp_path / "lots.gpkg", geometry_type="Polygon")
    out = tmp_path / "out"
    done = run({**town, "lots": tmp_path / "lots.gpkg"}, out, faults={"lots_max": 12})
    assert done.returncode == 1, done.stderr
    found = assert_each_lot_once(out).set_index("lot_id")
    assert found.reason[found.reason != ""].to_dict() == {
        "L-00010": "no usable polygon",
        "L-00011": "no usable polygon",
        "L-00012": "outside the elevation raster",
    }
    named = ["../x", "CON", "a" * 300, "two\nlines", "twice", "twice#2", "unnamed-1", "=1+1", "unnamed-2"]
    assert (found.status[named] == "assessed").all()
    table = pd.read_csv(out / "summary.csv", encoding="utf-8-sig")
    assert len(table) == N_LOTS and "'=1+1" in set(table.lot_id)
    with sqlite3.connect(out / "summary.gpkg") as base:
        assert base.execute("SELECT count(DISTINCT lot_id) FROM summary").fetchone() == (N_LOTS,)
    assert {path.name for path in tmp_path.iterdir()} == {"lots.gpkg", "out"}  # nothing beside the folder


def test_changed_inputs_are_noticed_and_discarded_when_told_so(town, whole_run, tmp_path):
    paths = {**town, "structures": tmp_path / "structures.gpkg"}
    shutil.copy(town["structures"], paths["structures"])
    out = tmp_path / "out"
    shutil.copytree(whole_run, out)
    same = run(paths, out, faults={})
    assert same.returncode == 0 and " of them in " not in same.stdout  # its parts count while nothing has changed
    gpd.read_file(paths["structures"]).iloc[1:].to_file(paths["structures"])
    refused = run(paths, out, faults={})
    assert refused.returncode == 2 and "where --structures differed" in refused.stderr
    restarted = run(paths, out, "--restart", faults={"lots_max": N_LOTS})
    assert restarted.returncode == 0 and f"{N_LOTS} of them in " in restarted.stdout
    found = assert_each_lot_once(out).set_index("lot_id")
    assert found.n_structures["L-00000"] == 0 and found.n_structures["L-00001"] == 1


def test_any_scheduler_by_its_address(town, whole_run, undisturbed, tmp_path):
    trying = start(town, tmp_path / "a", "--scheduler", "tcp://127.0.0.1:9")
    address_file, processes = tmp_path / "scheduler.json", []
    for role in ("scheduler", "worker"):
        program = [sys.executable, "-m", f"distributed.cli.dask_{role}", "--scheduler-file", str(address_file)]
        ports = ["--port", "0", "--no-dashboard"] if role == "scheduler" else ["--nthreads", "1", "--no-dashboard"]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        processes.append(subprocess.Popen([*program, *ports], cwd=ROOT, **quiet))
    begin(whole_run, tmp_path / "b")
    try:
        while not address_file.exists():
            time.sleep(0.1)
        time.sleep(0.5)
        address = pd.read_json(address_file, typ="series")["address"]
        done = run(town, tmp_path / "b", "--scheduler", address, faults={})
    finally:
        for process in reversed(processes):
            process.terminate()
            process.wait(60)
    unreachable = finish(trying)
    assert unreachable.returncode == 2 and "cannot be reached" in unreachable.stderr
    assert done.returncode == 0 and " of them in " in done.stdout, done.stderr
    assert_same(assert_each_lot_once(tmp_path / "b"), undisturbed)
