"""Local-inertial shallow water on a grid: water in motion, step by step.

Bates, Horritt & Fewtrell 2010, doi 10.1016/j.jhydrol.2010.03.027, with the flow of a face weighted with those of its
neighbours as de Almeida, Bates, Freer & Souvignet 2012, doi 10.1029/2011WR011570, and friction fully implicit. The
advection of momentum is left out: bores and hydraulic jumps are not in it.
"""

import math
from types import FunctionType
from typing import Any, NamedTuple

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I64, compile_as, compiled
from screening.kernels.inertial_links import Links, empty_gaps, run_links
from screening.kernels.inertial_rows import (
    CLOSED_M,
    GRAVITY_M_S2,
    NEVER_S,
    Faces,
    Maxima,
    Step,
    Water,
    fastest_signal,
    flow_rows,
    move_rows,
    track_rows,
)

PITCH_CELLS = 16
"""Rows begin at multiples of this, a line of the processor's cache."""


class Scheme(NamedTuple):
    """How the steps are made."""

    cell_m: float
    own_weight: float
    """theta: 1 = a face's flow alone, less = its neighbours too."""
    least_depth_m: float
    froude_max: float
    wet_depth_m: float
    speed_depth_m: float
    track_s: float
    """Seconds between two looks at the maxima, at least a step."""


class Left(NamedTuple):
    """Water that left [m3], carried on from call to call, float64 (1,) each."""

    by_edges: F64
    by_links: F64
    by_gaps: F64


class Span(NamedTuple):
    """Steps that are made in one call."""

    start_s: float
    n_steps: int
    step_s: float
    is_tracked: bool


def padded(shape: tuple[int, int], fill: float = 0.0) -> F32:
    """Make a grid with its ring, float32 (n_rows + 3, pitch)."""
    pitch = -(-(shape[1] + 2) // PITCH_CELLS) * PITCH_CELLS
    return np.full((shape[0] + 3, pitch), np.float32(fill), np.float32)


def inside(grid: F32, shape: tuple[int, int]) -> F32:
    """Look at a padded grid without its ring."""
    return grid[1 : shape[0] + 1, 1 : shape[1] + 1]


def padded_cell(cell: I64, shape: tuple[int, int]) -> I64:
    """Flat indices of the padded grid from those of the grid; negative ones stay."""
    pitch = -(-(shape[1] + 2) // PITCH_CELLS) * PITCH_CELLS
    row, col = np.divmod(np.asarray(cell, np.int64), shape[1])
    return np.where(cell >= 0, (row + 1) * pitch + col + 1, cell).astype(np.int64)


def still_water(shape: tuple[int, int]) -> Water:
    """Make dry ground at rest."""
    water = Water(*(padded(shape) for _ in range(6)))
    inside(water.share, shape)[:] = 1.0
    return water


def no_maxima(shape: tuple[int, int]) -> Maxima:
    """Make maxima that nothing has reached yet."""
    return Maxima(padded(shape), padded(shape), padded(shape), padded(shape, NEVER_S), padded(shape))


def nothing_left() -> Left:
    """Begin a balance."""
    return Left(np.zeros(1), np.zeros(1), np.zeros(1))


def advance(
    water: Water,
    faces: Faces,
    source: F32,
    *,
    shape: tuple[int, int],
    scheme: Scheme,
    span: Span,
    links: Links,
    gaps: I64,
    maxima: Maxima,
    left: Left,
    n_threads: int = 1,
) -> float:
    """Advance the water by some steps, in place.

    Parameters
    ----------
    water : Water
        Changed.
    faces : Faces
        Crests and roughness.
    source : (n_rows + 3, pitch) float32
        Runoff that falls on each cell [m/s].
    shape : (int, int)
        Rows and columns without the ring.
    scheme : Scheme
    span : Span
        How many steps, how long.
    links : Links
        What they took is added up in them.
    gaps : (n,) int64
        Cells that swallow what reaches them, flat indices of the padded grid.
    maxima : Maxima
        Changed.
    left : Left
        Changed.
    n_threads : int
        1 = never touch the thread pool. Results are the same but for the order of the sum that left over the edges.

    Returns
    -------
    The fastest signal at the end [m/s], for the length of the next steps.
    """
    dt, dx = span.step_s, scheme.cell_m
    step = Step(
        friction=np.float32(0.5 * GRAVITY_M_S2 * dt),
        pull=np.float32(GRAVITY_M_S2 * dt / dx),
        own=np.float32(scheme.own_weight),
        beside=np.float32(0.5 * (1.0 - scheme.own_weight)),
        least_depth=np.float32(scheme.least_depth_m),
        froude=np.float32(scheme.froude_max * math.sqrt(GRAVITY_M_S2)),
        ratio=np.float32(dt / dx),
    )
    n_strips = min(n_threads, shape[0])
    strips = np.linspace(1, shape[0] + 1, n_strips + 1).round().astype(np.int64)
    # A copy, because a read-only array would have the kernel compiled again.
    gaps = gaps.copy()
    run = _advance_threaded if n_strips > 1 else _advance_plain
    spent = run(
        water=water,
        faces=faces,
        source=source,
        step=step,
        shape=shape,
        scheme=scheme,
        span=span,
        links=links,
        gaps=gaps,
        maxima=maxima,
        left=left,
        strips=strips,
    )
    return float(spent)


def _advance(
    water: Water,
    faces: Faces,
    source: F32,
    step: Step,
    shape: tuple[int, int],
    scheme: Scheme,
    span: Span,
    links: Links,
    gaps: I64,
    maxima: Maxima,
    left: Left,
    strips: I64,
) -> Any:
    n_rows, n_cols = shape
    n_strips = strips.size - 1
    dt, dx = span.step_s, scheme.cell_m
    every = max(int(scheme.track_s / dt), 1)
    # A number of each strip, a cache line apart.
    lost, fastest = np.zeros(16 * n_strips), np.zeros(16 * n_strips)
    added = np.float32(dt)
    tracked = 0
    for number in range(span.n_steps):
        _fill_ring(water.depth, n_rows, n_cols)
        # A strip writes its own rows of flows and shares, and the row of faces below with the same numbers as the
        # strip below: which of them comes first does not matter.
        for strip in prange(n_strips):
            flow_rows(strips[strip], strips[strip + 1], n_cols, faces, water, step)
        for strip in prange(n_strips):
            lost[16 * strip] += move_rows(
                first=strips[strip],
                end=strips[strip + 1],
                n_rows=n_rows,
                n_cols=n_cols,
                water=water,
                source=source,
                added=added,
                ratio=step.ratio,
            )
        left.by_links[0] += run_links(water.depth, links, dx * dx, dt)
        left.by_gaps[0] += empty_gaps(water.depth, gaps, dx * dx)
        if span.is_tracked and ((number + 1) % every == 0 or number + 1 == span.n_steps):
            now, passed = np.float32(span.start_s + (number + 1) * dt), np.float32((number + 1 - tracked) * dt)
            tracked = number + 1
            for strip in prange(n_strips):
                track_rows(
                    first=strips[strip],
                    end=strips[strip + 1],
                    n_cols=n_cols,
                    water=water,
                    maxima=maxima,
                    now=now,
                    passed=passed,
                    wet=np.float32(scheme.wet_depth_m),
                    speed=np.float32(scheme.speed_depth_m),
                )
            _forget_speeds(maxima.speed, links.cell)
            _forget_speeds(maxima.speed, gaps)
    for strip in prange(n_strips):
        fastest[16 * strip] = fastest_signal(
            strips[strip], strips[strip + 1], n_cols, water, np.float32(scheme.speed_depth_m)
        )
    left.by_edges[0] += lost.sum() * dt * dx
    return fastest.max()


@compiled
def _fill_ring(depth: F32, n_rows: int, n_cols: int) -> None:
    """Ghost cells are as deep as the edge cell beside them, on ground that falls away: water runs out, never in."""
    for j in range(1, n_cols + 1):
        depth[0, j] = depth[1, j]
        depth[n_rows + 1, j] = depth[n_rows, j]
    for i in range(1, n_rows + 1):
        depth[i, 0] = depth[i, 1]
        depth[i, n_cols + 1] = depth[i, n_cols]


@compiled
def _forget_speeds(speed: F32, cells: I64) -> None:
    """Where a link or a gap empties a cell, what flows in over no depth is no speed."""
    flat = speed.ravel()
    for cell in cells:
        flat[cell] = np.float32(0.0)


def _named(name: str) -> FunctionType:
    """A copy of `_advance` under a name of its own: the disk cache does not tell compile options apart."""
    copy = FunctionType(_advance.__code__, _advance.__globals__, name)
    copy.__qualname__, copy.__module__ = name, __name__
    return copy


_advance_plain: Any = compiled(_named("_advance_plain"))
_advance_threaded: Any = compile_as(parallel=True)(_named("_advance_threaded"))

__all__ = [
    "CLOSED_M",
    "GRAVITY_M_S2",
    "NEVER_S",
    "Faces",
    "Left",
    "Links",
    "Maxima",
    "Scheme",
    "Span",
    "Water",
    "advance",
    "inside",
    "no_maxima",
    "nothing_left",
    "padded",
    "padded_cell",
    "still_water",
]
