"""The ground of one driveway: how much of each cell it covers, its outline in metres, and the way water takes on it."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.driveways.outline import Outline, trace_outline
from screening.grid import Grid
from screening.models import F64, I32, I64, U8, FlowField, Surface, freeze

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_SUB = 4
"""Tracers begin at 4 x 4 places in a cell, an even number: sampled crowns lie on the middle lines of cells."""


@dataclass(frozen=True, kw_only=True, eq=False)
class DrivewayTerrain:
    """A piece of the window round one driveway, all arrays (n_rows, n_cols) of that piece.

    Parameters
    ----------
    grid
        Of the piece.
    first_row, first_col
        Where it begins in the window.
    shape
        The driveway without what a structure covers.
    outline
        Of that shape.
    covered_frac
        Share of each cell that the shape covers, exactly, float64; 0 where there is no elevation.
    ground_m
        Ground with curbs and swales, without walls: structures are taken away, float64; NaN beyond the cells that
        touch the shape and their neighbours. Beside a structure it is carried on in a straight line.
    filled_m
        The same with low spots filled, as far as it overflows in the piece, or to a wall.
    receiver
        By steepest descent on `filled_m`, flat indices of the piece, int32.
    code
        As `kernels.tracers` takes it, uint8.
    pond
        Number of the low spot, 0 = none, int32.
    pond_order, pond_volume_m3, pond_cell
        Numbers from the highest down; what each holds on the shape, by number; its lowest cell on the shape, by number.
    """

    grid: Grid
    first_row: int
    first_col: int
    shape: BaseGeometry
    outline: Outline
    covered_frac: F64
    ground_m: F64
    filled_m: F64
    receiver: I32
    code: U8
    pond: I32
    pond_order: I64
    pond_volume_m3: F64
    pond_cell: I64

    def __post_init__(self) -> None:
        freeze(self.covered_frac, self.ground_m, self.filled_m, self.receiver, self.code, self.pond)
        freeze(self.pond_order, self.pond_volume_m3, self.pond_cell)

    @property
    def area_m2(self) -> float:
        """Area of the shape that has elevation."""
        return float(self.covered_frac.sum()) * self.grid.cell_area_m2

    def in_cells(self, xy: F64) -> F64:
        """Places [m] as columns and rows of the piece, from its north-west corner."""
        return np.column_stack(((xy[:, 0] - self.grid.west_m), (self.grid.north_m - xy[:, 1]))) / self.grid.cell_m

    def window_cells(self, cells: I64, window: Grid) -> I64:
        """Flat indices in the window of cells of the piece."""
        row, col = np.divmod(cells, self.grid.n_cols)
        return np.asarray((row + self.first_row) * window.n_cols + col + self.first_col, np.int64)


def lay_out(shape: BaseGeometry, surface: Surface, flow: FlowField) -> DrivewayTerrain | None:
    """Lay out the ground of a driveway.

    A cell belongs to it by the share of its area that the shape covers, found exactly. Water moves on the ground of all
    cells that the shape touches and of their neighbours; low spots are filled to where they overflow in that
    piece. A structure takes what comes to it: no water is held up by its wall.

    Parameters
    ----------
    shape
        Polygon or MultiPolygon [m] without what structures cover.
    surface, flow
        Of the same window.

    Returns
    -------
    The ground; None where the shape covers no cell with elevation.
    """
    grid = surface.grid
    place = _piece(grid, shape)
    if place is None:
        return None
    rows, cols = place
    piece = Grid(
        crs=grid.crs,
        west_m=grid.west_m + cols.start * grid.cell_m,
        north_m=grid.north_m - rows.start * grid.cell_m,
        cell_m=grid.cell_m,
        n_rows=rows.stop - rows.start,
        n_cols=cols.stop - cols.start,
    )
    is_wall = surface.structure_index[rows, cols] > 0
    terrain = np.where(is_wall, np.nan, surface.routed_elev_m[rows, cols]).astype(np.float32)
    covered = np.where(np.isnan(terrain), 0.0, _covered_frac(piece, shape))
    if not covered.any():
        return None
    is_drain = _drains_in(flow, grid, rows, cols) & ~is_wall
    return _settle(
        piece=piece,
        first_row=rows.start,
        first_col=cols.start,
        shape=shape,
        terrain=terrain,
        covered=covered,
        is_wall=is_wall,
        is_drain=is_drain,
    )


def _settle(
    piece: Grid,
    first_row: int,
    first_col: int,
    shape: BaseGeometry,
    terrain: Any,
    covered: F64,
    is_wall: Any,
    is_drain: Any,
) -> DrivewayTerrain:
    """Fill the ground, lead it down, and measure what its low spots hold."""
    from scipy import ndimage

    from screening.kernels.d8 import flow_directions, receivers
    from screening.kernels.fill import fill_depressions
    from screening.kernels.tracers import AT_DRAIN, AT_WALL, ON_PATCH

    around = np.ones((3, 3), bool)
    near = ndimage.binary_dilation(covered > 0, around)
    known = np.where(near & ~is_drain, terrain, np.float32(np.nan)).astype(np.float32)
    filled = fill_depressions(known, True)
    receiver = receivers(flow_directions(filled, True)).reshape(filled.shape)
    code = np.zeros(known.shape, np.uint8)
    code[covered > 0] = ON_PATCH
    code[is_wall] = AT_WALL
    code[is_drain] = AT_DRAIN
    depth = np.where(np.isnan(filled), 0.0, filled.astype(np.float64) - known)
    pond, n_ponds = ndimage.label((depth > 0) & (covered > 0), around)
    pond = pond.astype(np.int32)
    numbers = np.arange(1, n_ponds + 1)
    held = np.bincount(pond.ravel(), (depth * covered).ravel(), minlength=n_ponds + 1) * piece.cell_area_m2
    volume = np.asarray(np.where(np.arange(n_ponds + 1) > 0, held, 0.0), np.float64)
    level = np.array([filled[pond == number].max() for number in numbers], np.float64)
    lowest = [int(np.flatnonzero(pond == n)[np.argmin(known[pond == n])]) for n in numbers]
    is_gone = is_wall | is_drain
    bare, full = _carried_on(known.astype(np.float64), is_gone), _carried_on(filled.astype(np.float64), is_gone)
    return DrivewayTerrain(
        grid=piece,
        first_row=first_row,
        first_col=first_col,
        shape=shape,
        outline=trace_outline(shape),
        covered_frac=covered,
        ground_m=bare,
        filled_m=full,
        receiver=receiver,
        code=code,
        pond=pond,
        pond_order=numbers[np.argsort(-level, kind="stable")].astype(np.int64),
        pond_volume_m3=volume,
        pond_cell=np.array([-1, *lowest], np.int64),
    )


def sample_cells(terrain: DrivewayTerrain) -> tuple[I64, F64, U8]:
    """Give places spread over the cells that the shape touches.

    Returns
    -------
    Flat index of the cell in the piece, place (n, 2) [m], and whether it lies in the shape. A cell of which no place
    lies in the shape gives one in the middle of the part that it covers.
    """
    import shapely

    piece = terrain.grid
    cells = np.flatnonzero(terrain.covered_frac.ravel() > 0).astype(np.int64)
    offset = (np.arange(_SUB) + 0.5) / _SUB
    row, col = np.divmod(cells, piece.n_cols)
    x = (col[:, None, None] + offset[None, None, :]) + np.zeros((1, _SUB, 1))
    y = (row[:, None, None] + offset[None, :, None]) + np.zeros((1, 1, _SUB))
    xy = np.column_stack((piece.west_m + x.ravel() * piece.cell_m, piece.north_m - y.ravel() * piece.cell_m))
    owner = np.repeat(cells, _SUB * _SUB)
    shapely.prepare(terrain.shape)
    inside = shapely.contains_xy(terrain.shape, xy[:, 0], xy[:, 1])
    missed = cells[~np.isin(cells, owner[inside])]
    if missed.size:
        parts = shapely.intersection(_boxes(piece, missed), terrain.shape)
        middle = shapely.get_coordinates(shapely.point_on_surface(parts))
        owner, xy = np.concatenate((owner, missed)), np.concatenate((xy, middle))
        inside = np.concatenate((inside, np.ones(missed.size, bool)))
    return owner, xy, inside.astype(np.uint8)


def _piece(grid: Grid, shape: BaseGeometry) -> tuple[slice, slice] | None:
    """Rows and columns that the shape touches, and one more around, within the window."""
    west, south, east, north = shape.bounds
    margin = np.array([-1, 2])
    row = np.floor((grid.north_m - np.array([north, south])) / grid.cell_m).astype(int) + margin
    col = np.floor((np.array([west, east]) - grid.west_m) / grid.cell_m).astype(int) + margin
    row, col = np.clip(row, 0, grid.n_rows), np.clip(col, 0, grid.n_cols)
    if row[1] <= row[0] or col[1] <= col[0]:
        return None
    return slice(int(row[0]), int(row[1])), slice(int(col[0]), int(col[1]))


def _boxes(grid: Grid, cells: I64) -> Any:
    import shapely

    row, col = np.divmod(cells, grid.n_cols)
    west, north = grid.west_m + col * grid.cell_m, grid.north_m - row * grid.cell_m
    return shapely.box(west, north - grid.cell_m, west + grid.cell_m, north)


def _covered_frac(grid: Grid, shape: BaseGeometry) -> F64:
    """Share of each cell that the shape covers, exactly: cells are cut only where its outline crosses them."""
    import shapely

    boxes = _boxes(grid, np.arange(grid.n_rows * grid.n_cols, dtype=np.int64))
    shapely.prepare(shape)
    frac = shapely.covers(shape, boxes).astype(np.float64)
    cut = np.flatnonzero((frac == 0) & shapely.intersects(shape, boxes))
    frac[cut] = shapely.area(shapely.intersection(boxes[cut], shape)) / grid.cell_area_m2
    # Cells that only the rounding of coordinates touches are none of its own.
    frac[frac < 1e-9] = 0.0
    return np.asarray(frac.reshape(grid.shape), np.float64)


def _drains_in(flow: FlowField, grid: Grid, rows: slice, cols: slice) -> Any:
    """Cells of a piece from which water goes under the ground."""
    row, col = np.divmod(flow.link_cell, grid.n_cols)
    is_in = (row >= rows.start) & (row < rows.stop) & (col >= cols.start) & (col < cols.stop)
    mask = np.zeros((rows.stop - rows.start, cols.stop - cols.start), bool)
    mask[row[is_in] - rows.start, col[is_in] - cols.start] = True
    return mask


def _carried_on(terrain: F64, is_gone: Any) -> F64:
    """Carry the ground on in a straight line into the cells of walls and drains beside it."""
    straight = np.zeros((2, *terrain.shape))
    nearest = np.zeros((2, *terrain.shape))
    n_rows, n_cols = terrain.shape
    wide = np.pad(terrain, 2, constant_values=np.nan)
    for row_step, col_step in itertools.product((-1, 0, 1), (-1, 0, 1)):
        near, far = (
            wide[2 + n * row_step : 2 + n * row_step + n_rows, 2 + n * col_step : 2 + n * col_step + n_cols]
            for n in (1, 2)
        )
        for total, values in ((straight, 2.0 * near - far), (nearest, near)):
            known = ~np.isnan(values)
            total += np.where(known, values, 0.0), known
    # By the nearest alone where no ground beyond shows the way.
    total, count = np.where(straight[1] > 0, straight, nearest)
    carried = np.divide(total, count, out=np.full(terrain.shape, np.nan), where=count > 0)
    return np.where(is_gone & np.isnan(terrain), carried, terrain)
