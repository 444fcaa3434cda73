"""The flow chain of each program at hand: fill, D8 with flats drained, cells upstream.

As a program, run one of them in a process of its own and print what it took:

python -m tests.benchmarks.chains NAME SIDE ROUNDS
"""

import contextlib
import hashlib
import importlib.util
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import numpy as np

from tests.made_ground import F32, suburb

ROOT = Path(__file__).parents[2]
OURS = "screening"


class Chain(NamedTuple):
    """`fill` returns the exact filled surface, None if the program has none of its own; `whole` runs the chain."""

    fill: Callable[[], F32] | None
    whole: Callable[[], object] | None


def screening(elev: F32) -> Chain:
    from screening.kernels.d8 import flow_directions
    from screening.kernels.fill import fill_depressions
    from screening.kernels.upstream_counts import count_upstream

    def run(ground):
        return count_upstream(flow_directions(fill_depressions(ground, True), True))

    run(suburb(1200, 1000, 1))  # compile both with and without threads
    run(suburb(60, 60, 1))
    return Chain(lambda: fill_depressions(elev, True), lambda: run(elev))


def whitebox_default(elev: F32) -> Chain:
    return _whitebox(elev, "fill_depressions")


def whitebox_wang_and_liu(elev: F32) -> Chain:
    return _whitebox(elev, "fill_depressions_wang_and_liu")


def _whitebox(elev: F32, fill: str) -> Chain:
    from tests.kernels.peers import WhiteboxPeer

    folder = tempfile.TemporaryDirectory()  # its tools read the plain file again at each call
    peer = WhiteboxPeer(elev, Path(folder.name))
    tools = peer.hydrology

    def whole():
        assert Path(folder.name).is_dir()
        filled = getattr(tools, fill)(dem=peer.elev, fix_flats=True)
        return tools.d8_flow_accum(input=filled, out_type="cells")

    return Chain(None, whole)


def topotoolbox(elev: F32) -> Chain:
    import topotoolbox

    ground = topotoolbox.GridObject()
    ground.z, ground.cellsize = elev, 1.0
    return Chain(lambda: ground.fillsinks().z, lambda: topotoolbox.FlowObject(ground).flow_accumulation())


def pyflwdir(elev: F32) -> Chain:
    import pyflwdir

    def fill(ground):
        return pyflwdir.dem.fill_depressions(ground, outlets="edge", nodata=-9999.0)

    def run(ground):
        return pyflwdir.from_array(fill(ground)[1], ftype="d8", check_ftype=False).upstream_area()

    run(suburb(60, 60, 1))  # compile
    return Chain(lambda: fill(elev)[0], lambda: run(elev))


def richdem(elev: F32) -> Chain:
    """The program, or a fork that carries its name."""
    import richdem

    ground = richdem.rdarray(elev, no_data=-9999.0)
    ground.geotransform = (0, 1, 0, 0, 0, -1)

    def whole():
        filled = richdem.FillDepressions(ground, epsilon=True)
        return richdem.FlowAccumulation(filled, method="D8")

    return Chain(lambda: np.asarray(richdem.FillDepressions(ground, epsilon=False)), whole)


def scikit_image(elev: F32) -> Chain:
    from skimage.morphology import reconstruction

    def fill():
        seed = elev.copy()
        seed[1:-1, 1:-1] = elev.max()
        return reconstruction(seed, elev, method="erosion", footprint=np.ones((3, 3))).astype(np.float32)

    return Chain(fill, None)


CHAINS: dict[str, tuple[str, Callable[[F32], Chain]]] = {
    OURS: ("screening", screening),
    "whitebox-workflows, default fill": ("whitebox_workflows", whitebox_default),
    "whitebox-workflows, Wang & Liu": ("whitebox_workflows", whitebox_wang_and_liu),
    "topotoolbox, carve": ("topotoolbox", topotoolbox),
    "pyflwdir": ("pyflwdir", pyflwdir),
    "richdem, epsilon": ("richdem", richdem),
    "scikit-image": ("skimage", scikit_image),
}
"""Module to import and chain, by name."""


def is_installed(name: str) -> bool:
    return importlib.util.find_spec(CHAINS[name][0]) is not None


def run_apart(name: str, side: int, *, n_threads: int, rounds: int) -> dict:
    """Run one chain in a process of its own; n_threads binds those programs that heed the usual variables."""
    environment = {**os.environ, "NUMBA_NUM_THREADS": str(n_threads), "OMP_NUM_THREADS": str(n_threads)}
    command = [sys.executable, "-W", "ignore", "-m", "tests.benchmarks.chains", name, str(side), str(rounds)]
    done = subprocess.run(command, check=True, cwd=ROOT, env=environment, capture_output=True, text=True)
    return json.loads(done.stdout.strip().splitlines()[-1])


def memory_bytes(field: str) -> int:
    """`VmRSS`, held now, or `VmHWM`, the peak since `forget_peak`."""
    for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
        if line.startswith(field + ":"):
            return int(line.split()[1]) * 1024
    raise LookupError(field)


def forget_peak() -> None:
    """Let `VmHWM` begin at what is held now, where the system allows it."""
    with contextlib.suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def shortest_s(run: Callable[[], object], rounds: int) -> tuple[float, object]:
    """Shortest time [s], and the last answer."""
    best = float("inf")
    answer = None
    for _ in range(rounds):
        answer = None  # else two would be held at a time
        start = time.perf_counter()
        answer = run()
        best = min(best, time.perf_counter() - start)
    return best, answer


def measure(name: str, side: int, rounds: int) -> dict:
    """Best seconds of fill and chain, peak memory of the chain above what is held before, what was found."""
    elev = suburb(side, side, 42)
    chain = CHAINS[name][1](elev)
    found: dict = {"cells": elev.size, "input_bytes": elev.nbytes}
    forget_peak()
    before = memory_bytes("VmRSS")
    if chain.whole:
        found["chain_s"], _ = shortest_s(chain.whole, rounds)
        found["bytes_per_cell"] = (memory_bytes("VmHWM") - before) / elev.size
    if chain.fill:
        found["fill_s"], filled = shortest_s(chain.fill, rounds)
        found["fill_sha1"] = hashlib.sha1(np.ascontiguousarray(filled), usedforsecurity=False).hexdigest()
    found["process_peak_bytes"] = memory_bytes("VmHWM")
    return found


if __name__ == "__main__":
    print(json.dumps(measure(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))))
