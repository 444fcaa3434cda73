"""The ground as moving water meets it: levels, crests of faces, walls, gaps, roughness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.errors import InputError
from screening.grid import Grid, check_same_grid
from screening.models import F32, F64, I64, Block, Bool, Storm, Surface, freeze
from screening.motion.crests import Crests, barrier_crests, no_crests
from screening.motion.settings import MotionSettings, roughness_of
from screening.schema.covers import COVERS
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from screening.kernels.inertial import Faces

_GAP_DROP_M = 0.05
"""A gap lies so far below the lowest ground beside it: what reaches it is gone."""
_EDGE_FALL_LEAST, _EDGE_FALL_MOST = 1e-3, 1.0
"""Slopes between which the ground is carried on beyond the edge, so that water runs out."""


@dataclass(frozen=True, eq=False, kw_only=True)
class MotionGround:
    """The ground of a simulation.

    Parameters
    ----------
    grid
        The window.
    elev_m
        Ground with cuts and without barriers, float32 [m]; NaN = no data.
    is_wall
        Cells that hold no water and let none through.
    is_sink
        Gaps beside known ground: they swallow what reaches them.
    roughness_n
        Manning's n, float32.
    faces
        Crests and roughness as the kernel takes them.
    gap_cells
        `is_sink` as flat indices of the padded grid, int64.
    """

    grid: Grid
    elev_m: F32
    is_wall: Bool
    is_sink: Bool
    roughness_n: F32
    faces: Faces
    gap_cells: I64

    def __post_init__(self) -> None:
        freeze(self.is_wall, self.is_sink, self.roughness_n, self.gap_cells)

    @property
    def is_open(self) -> Bool:
        """Cells that can hold water."""
        return ~self.is_wall & ~np.isnan(self.elev_m)


def ground_of(
    block: Block,
    surface: Surface,
    storm: Storm,
    *,
    criteria: Criteria,
    settings: MotionSettings,
    inflow_cells: I64 | None = None,
) -> MotionGround:
    """Take the ground of a simulation from the surface of a block.

    Swales and breaches are cut as they are in the surface. Barriers are not raised over whole cells: they stand on the
    faces that their lines cross.

    Parameters
    ----------
    block, surface, storm
        Of the same window; the storm has the ground covers.
    criteria
        `nodata_drains`, and the height of curbs without one.
    settings
        `roughness_factor`.
    inflow_cells
        Flat indices of edge cells where water comes in from beyond: the edge is closed there, or it would leave again.
    """
    for what, grid in (("the surface", surface.grid), ("the storm", storm.grid)):
        check_same_grid(block.grid, grid, what=what)
    is_wall = surface.structure_index > 0
    # Barriers and closed edges raise cells, cuts lower them: the lower of both grounds has the cuts alone.
    elev_m = np.fmin(surface.elev_m, np.where(is_wall, surface.elev_m, surface.routed_elev_m))
    names = np.array([roughness_of("open space"), *(roughness_of(cover.name) for cover in COVERS)], np.float32)
    rough = names[storm.ground_cover.cover] * np.float32(settings.roughness_factor)
    is_closed = np.zeros(block.grid.shape, bool)
    if inflow_cells is not None:
        is_closed.ravel()[inflow_cells] = True
    return lay_ground(
        block.grid,
        elev_m,
        is_wall=is_wall,
        roughness_n=rough,
        crests=barrier_crests(block, elev_m, curb_height_m=criteria.terrain.curb_height_m),
        gaps_drain=criteria.terrain.nodata_drains,
        is_edge_closed=is_closed,
    )


def lay_ground(
    grid: Grid,
    elev_m: F32,
    *,
    is_wall: Bool | None = None,
    roughness_n: F32 | float = 0.05,
    crests: Crests | None = None,
    gaps_drain: bool = True,
    is_edge_closed: Bool | bool = False,
) -> MotionGround:
    """Lay out the faces of a ground.

    Parameters
    ----------
    grid
        The window.
    elev_m
        float32 or float64 [m], NaN = a gap.
    is_wall
        Cells that hold no water and let none through.
    roughness_n
        Manning's n, of all cells or of each.
    crests
        Barriers on faces.
    gaps_drain
        Gaps swallow what reaches them; else they stand as walls.
    is_edge_closed
        Edge cells, or all of them, over whose outer faces nothing leaves.

    Raises
    ------
    InputError
        No cell has an elevation, or a roughness is not positive.
    """
    from scipy import ndimage

    from screening.kernels.inertial import padded_cell

    wall = np.zeros(grid.shape, bool) if is_wall is None else is_wall
    is_gap = np.isnan(elev_m) & ~wall
    if not (~is_gap & ~wall).any():
        raise InputError("The window has no open ground", got="walls and gaps alone", expected="some elevation")
    rough = np.broadcast_to(np.asarray(roughness_n, np.float32), grid.shape)
    if not (rough > 0).all():
        raise InputError("The roughness cannot be used", got=f"{rough.min():g}", expected="Manning's n above 0")
    known = np.where(is_gap | wall, np.inf, elev_m)
    lowest = ndimage.minimum_filter(known, size=3, mode="constant", cval=np.inf)
    is_sink = is_gap & np.isfinite(lowest) & gaps_drain
    level = np.where(is_sink, lowest - _GAP_DROP_M, elev_m).astype(np.float64)
    closed = wall | (is_gap & ~is_sink)
    faces = _faces(grid, level, closed, rough, crests or no_crests(), np.broadcast_to(is_edge_closed, grid.shape))
    return MotionGround(
        grid=grid,
        elev_m=np.asarray(elev_m, np.float32),
        is_wall=wall,
        is_sink=is_sink,
        roughness_n=rough,
        faces=faces,
        gap_cells=padded_cell(np.flatnonzero(is_sink), grid.shape),
    )


def _faces(grid: Grid, level_m: F64, closed: Bool, rough: F32, crests: Crests, is_edge_closed: Bool) -> Faces:
    """Crests of all faces above the ground on their two sides."""
    from screening.kernels.inertial import Faces, padded

    (n_rows, n_cols), pitch = grid.shape, padded(grid.shape).shape[1]
    shut = np.ones((n_rows + 3, pitch), bool)
    ring = closed | is_edge_closed
    shut[0, 1 : n_cols + 1], shut[n_rows + 1, 1 : n_cols + 1] = ring[0], ring[-1]
    shut[1 : n_rows + 1, 0], shut[1 : n_rows + 1, n_cols + 1] = ring[:, 0], ring[:, -1]
    shut[1 : n_rows + 1, 1 : n_cols + 1] = closed
    level = _with_ring(level_m, pitch, grid.cell_m)
    x_before, x_after = _crests_along(level, shut, 1, crests.x_face, crests.x_crest_m, (n_rows, n_cols + 1))
    y_before, y_after = _crests_along(level, shut, 0, crests.y_face, crests.y_crest_m, (n_rows + 1, n_cols))
    around = ((1, 2), (1, pitch - n_cols - 1))
    return Faces(x_before, x_after, y_before, y_after, np.pad(rough * rough, around, mode="edge"))


def _crests_along(
    level: F64, shut: Bool, axis: int, face: I64, crest_m: F64, shape: tuple[int, int]
) -> tuple[F32, F32]:
    """Crests of the faces across one axis, above the cells before and after them."""
    from screening.kernels.inertial import CLOSED_M

    before = np.roll(level, 1, axis)
    top = np.maximum(before, level)
    row, col = np.divmod(face, shape[1])
    np.maximum.at(top, (row + 1, col + 1), crest_m)
    is_shut = shut | np.roll(shut, 1, axis)
    first = np.where(is_shut, CLOSED_M, top - before).astype(np.float32)
    return first, np.where(is_shut, CLOSED_M, top - level).astype(np.float32)


def _with_ring(level_m: F64, pitch: int, cell_m: float) -> F64:
    """The ground with a ring that falls on as the ground does at the edge."""
    n_rows, n_cols = level_m.shape
    level = np.full((n_rows + 3, pitch), np.nan)
    inner = level[1 : n_rows + 1, 1 : n_cols + 1]
    inner[:] = level_m

    def beyond(edge: F64, inward: F64) -> F64:
        fall = np.clip(inward - edge, _EDGE_FALL_LEAST * cell_m, _EDGE_FALL_MOST * cell_m)
        return np.asarray(edge - np.nan_to_num(fall, nan=_EDGE_FALL_LEAST * cell_m), np.float64)

    second = min(1, n_rows - 1), min(1, n_cols - 1)
    level[0, 1 : n_cols + 1] = beyond(inner[0], inner[second[0]])
    level[n_rows + 1, 1 : n_cols + 1] = beyond(inner[-1], inner[-1 - second[0]])
    level[1 : n_rows + 1, 0] = beyond(inner[:, 0], inner[:, second[1]])
    level[1 : n_rows + 1, n_cols + 1] = beyond(inner[:, -1], inner[:, -1 - second[1]])
    return np.nan_to_num(level)


def coarsen(ground: MotionGround, factor: int) -> MotionGround:
    """Lay the ground out again with cells `factor` times as wide; what is left over at the south and east is dropped.

    Levels are means of the open cells, half-walled cells are walls, barriers are left out: it tells when water
    comes, not how much of it comes where.
    """
    grid = ground.grid
    shape = grid.n_rows // factor, grid.n_cols // factor
    open_share = block_mean(ground.is_open.astype(np.float64), factor)
    level_sum = block_mean(np.where(ground.is_open, ground.elev_m, 0.0).astype(np.float64), factor)
    level = np.divide(level_sum, open_share, out=np.full(shape, np.nan), where=open_share > 0)
    is_wall = block_mean(ground.is_wall.astype(np.float64), factor) >= 0.5
    coarse = Grid(
        crs=grid.crs,
        west_m=grid.west_m,
        north_m=grid.north_m,
        cell_m=grid.cell_m * factor,
        n_rows=shape[0],
        n_cols=shape[1],
    )
    rough = block_mean(ground.roughness_n.astype(np.float64), factor).astype(np.float32)
    return lay_ground(coarse, level.astype(np.float32), is_wall=is_wall, roughness_n=rough)


def block_mean(values: F64, factor: int) -> F64:
    """Means of squares of `factor` cells."""
    n_rows, n_cols = values.shape[0] // factor, values.shape[1] // factor
    whole = values[: n_rows * factor, : n_cols * factor]
    return np.asarray(whole.reshape(n_rows, factor, n_cols, factor).mean(axis=(1, 3)), np.float64)
