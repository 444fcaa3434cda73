"""Barriers as crests of faces: a wall, a curb or a bank is a line between cells, not a row of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.grid import Grid, cells_along, rasterize
from screening.models import F32, F64, I64, Block, Bool, freeze
from screening.schema.codes.inputs import BarrierKind

# A line through the middles of cells would cross faces on both sides of it: it is moved by a hair.
_HAIR_CELLS = (1.3e-4, 0.7e-4)


@dataclass(frozen=True, kw_only=True, eq=False)
class Crests:
    """Crests of barriers on faces.

    Parameters
    ----------
    x_face, x_crest_m
        Faces between a cell and the one west of it, as flat indices of (n_rows, n_cols + 1), and their crests [m].
    y_face, y_crest_m
        Faces between a cell and the one north of it, as flat indices of (n_rows + 1, n_cols), and their crests [m].
    """

    x_face: I64
    x_crest_m: F64
    y_face: I64
    y_crest_m: F64

    def __post_init__(self) -> None:
        freeze(self.x_face, self.x_crest_m, self.y_face, self.y_crest_m)


def no_crests() -> Crests:
    """Ground without barriers."""
    return Crests(
        x_face=np.empty(0, np.int64), x_crest_m=np.empty(0), y_face=np.empty(0, np.int64), y_crest_m=np.empty(0)
    )


def barrier_crests(block: Block, elev_m: F32, *, curb_height_m: float) -> Crests:
    """Stand the barriers of a block on the faces that their lines cross.

    A face is crossed where the line crosses the way from the middle of one cell to that of the next, so no flow from
    side to side leaks through. The crest stands the barrier's height above the mean ground of the two cells. A curb is
    dropped where a driveway touches either cell. A barrier without a height is left out, a curb has the usual one.

    Parameters
    ----------
    block
        `barriers`, `driveways`.
    elev_m
        Ground without barriers, float32 [m].
    curb_height_m
        Of curbs without a height [m].
    """
    driveways = list(block.driveways.geometry)
    is_drive = rasterize(block.grid, driveways, [1] * len(driveways), all_touched=True) > 0
    parts: list[tuple[int, I64, F64]] = []
    for barrier in block.barriers.itertuples():
        is_curb, height_m = barrier.kind == BarrierKind.CURB, float(barrier.height_m)
        height_m = curb_height_m if is_curb and np.isnan(height_m) else height_m
        if np.isnan(height_m):
            continue
        for axis in (0, 1):
            parts.append((axis, *_crossed(block.grid, barrier.geometry, axis, elev_m, height_m, is_drive & is_curb)))
    faces: list[Any] = []
    for axis in (1, 0):
        own = [part for part in parts if part[0] == axis]
        faces.append(np.concatenate([np.empty(0, np.int64), *(face for _, face, _ in own)]))
        faces.append(np.concatenate([np.empty(0), *(crest for _, _, crest in own)]))
    x_face, x_crest_m, y_face, y_crest_m = faces
    return Crests(x_face=x_face, x_crest_m=x_crest_m, y_face=y_face, y_crest_m=y_crest_m)


def _crossed(grid: Grid, line: Any, axis: int, elev_m: F32, height_m: float, is_dropped: Bool) -> tuple[I64, F64]:
    """Inner faces across an axis that a line crosses, and their crests."""
    import shapely
    from shapely.affinity import translate

    at = cells_along(grid, line, closed=True)
    if not at.shape[0]:
        return np.empty(0, np.int64), np.empty(0)
    ahead = np.array([1, 0]) if axis == 0 else np.array([0, 1])
    # The face before each cell near the line, and the one after it.
    after = np.unique(np.concatenate((at, at + ahead)), axis=0)
    after = after[(after >= ahead).all(axis=1) & (after < grid.shape).all(axis=1)]
    before = after - ahead
    moved = translate(line, *(hair * grid.cell_m for hair in _HAIR_CELLS))
    shapely.prepare(moved)
    ways = shapely.linestrings(np.stack((_middles(grid, before), _middles(grid, after)), axis=1))
    is_dropped_here = is_dropped[tuple(before.T)] | is_dropped[tuple(after.T)]
    crossed = np.flatnonzero(shapely.intersects(moved, ways) & ~is_dropped_here)
    before, after = before[crossed], after[crossed]
    ground = elev_m[tuple(before.T)].astype(np.float64), elev_m[tuple(after.T)].astype(np.float64)
    crest = (ground[0] + ground[1]) / 2.0 + height_m
    known = ~np.isnan(crest)
    width = grid.n_cols + (1 if axis == 1 else 0)
    return (after[:, 0] * width + after[:, 1])[known], crest[known]


def _middles(grid: Grid, cells: I64) -> F64:
    return np.column_stack((grid.x_of(0) + cells[:, 1] * grid.cell_m, grid.y_of(0) - cells[:, 0] * grid.cell_m))
