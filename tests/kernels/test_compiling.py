"""The same answers compiled and plain, with one thread and with two, from read-only and from large arrays."""

import os
import subprocess
import sys

import numpy as np
import pytest

from screening.kernels import compiling
from screening.kernels.basins import LONGEST_PATH, label_basins
from screening.kernels.d8 import flow_directions
from screening.kernels.fill import fill_depressions
from screening.kernels.multiflow import accumulate_multiflow
from screening.kernels.shares import freeman
from screening.kernels.upstream_counts import count_upstream
from tests.made_ground import bumps, suburb
from tests.places import ROOT


@pytest.mark.parametrize("gap_share", [0.0, 0.15])
def test_one_thread_and_two_give_the_same(gap_share):
    """In a process of its own: one of several test processes has one thread for its kernels."""
    command = [sys.executable, "-m", "tests.kernels.two_threads", str(gap_share)]
    environment = {**os.environ, "NUMBA_NUM_THREADS": "2"}
    done = subprocess.run(command, check=False, cwd=ROOT, env=environment, timeout=300, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "4 arrays the same"


@pytest.mark.parametrize("strip_rows", [1, 2, 50])
def test_strips_of_any_height_give_the_same(strip_rows, monkeypatch):
    elev = suburb(130, 90, 2)
    whole = fill_depressions(elev, True)
    codes = flow_directions(whole, True)
    count = count_upstream(codes)
    spread = accumulate_multiflow(whole, codes, np.ones(elev.shape), freeman())
    monkeypatch.setattr(compiling, "SERIAL_CELLS", 1)
    monkeypatch.setattr(compiling, "STRIP_ROWS", strip_rows)
    assert compiling.strip_rows(130, 90).size > 2
    np.testing.assert_array_equal(fill_depressions(elev, True), whole)
    np.testing.assert_array_equal(count_upstream(codes), count)
    # sums of fractions are added in another order
    in_strips = accumulate_multiflow(whole, codes, np.ones(elev.shape), freeman())
    np.testing.assert_allclose(in_strips, spread, rtol=1e-12)


@pytest.mark.parametrize(("n_rows", "n_cols"), [(1, 3000), (3000, 1), (2, 1500)])
def test_thin_grids_in_strips(n_rows, n_cols, monkeypatch):
    elev = bumps(n_rows, n_cols, 1, step_m=0.1, gap_share=0.1)
    whole = fill_depressions(elev, True)
    monkeypatch.setattr(compiling, "SERIAL_CELLS", 1)
    monkeypatch.setattr(compiling, "STRIP_ROWS", 1)
    np.testing.assert_array_equal(fill_depressions(elev, True), whole)


def test_small_grids_use_one_strip_and_no_threads():
    assert compiling.strip_rows(300, 400).tolist() == [0, 300]
    assert compiling.strip_rows(1000, 1000).tolist() == [0, 250, 500, 750, 1000]
    assert not compiling.use_threads(300 * 400)


def test_checkerboard_of_pits_fits_the_room_for_labels():
    # as many pits as can be: one in each 2 x 2 block
    for shape in ((31, 41), (30, 40), (1, 41), (41, 1)):
        elev = np.ones(shape, np.float32)
        elev[::2, ::2] = 0
        _, n_basins = label_basins(elev)
        assert n_basins == -(-shape[0] // 2) * -(-shape[1] // 2)


@pytest.mark.parametrize("shape", [(1, 5000), (5000, 1), (3, 5000)])
@pytest.mark.parametrize("turn", [1, -1])
def test_paths_longer_than_is_kept_lead_to_their_pit(shape, turn):
    assert max(shape) > 3 * LONGEST_PATH
    along = np.arange(max(shape), dtype=np.float32)[::turn]
    elev = np.array(np.broadcast_to(along[:, np.newaxis] if shape[1] == 1 else along, shape), order="C")
    elev[shape[0] // 2] -= 0.25  # one gutter, so one pit
    label, n_basins = label_basins(elev)
    assert n_basins == 1
    assert (label == 1).all()


def test_read_only_input_is_accepted_and_left_alone():
    elev = suburb(60, 50, 1)
    copy = elev.copy()
    elev.flags.writeable = False
    filled = fill_depressions(elev, True)
    filled.flags.writeable = False
    codes = flow_directions(filled, True)
    codes.flags.writeable = False
    assert count_upstream(codes).max() > 100
    np.testing.assert_array_equal(elev, copy)
