"""The kernels that use threads, with one and with two, on the same ground.

NUMBA_NUM_THREADS=2 python -m tests.kernels.two_threads GAP_SHARE
"""

import sys

import numba
import numpy as np

from screening.kernels import compiling
from screening.kernels.d8 import flow_directions
from screening.kernels.fill import fill_depressions
from screening.kernels.multiflow import accumulate_multiflow
from screening.kernels.shares import freeman
from screening.kernels.upstream_counts import count_upstream
from tests.made_ground import suburb


def run(elev, n_threads):
    """Fill, directions, counts and spread flow, with so many threads."""
    numba.set_num_threads(n_threads)
    assert compiling.use_threads(elev.size) == (n_threads == 2)
    filled = fill_depressions(elev, False)
    codes = flow_directions(filled, False)
    spread = accumulate_multiflow(filled, codes, np.ones(elev.shape), freeman())
    return filled, codes, count_upstream(codes), spread


if __name__ == "__main__":
    elev = suburb(600, 500, 2)
    elev[np.random.default_rng(1).random(elev.shape) < float(sys.argv[1])] = np.nan
    # Small ground in many strips, so that the threads meet often.
    compiling.SERIAL_CELLS, compiling.STRIP_ROWS = 1000, 7
    one, two = run(elev, 1), run(elev, 2)
    for ours, theirs in zip(one, two, strict=True):
        np.testing.assert_array_equal(ours, theirs)
    print(f"{len(one)} arrays the same")
