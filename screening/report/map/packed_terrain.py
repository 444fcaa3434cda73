"""Ground, flow directions and standing water as packed grids, for the page's own questions to them.

Elevations are whole steps of a millimetre or a few, each less its neighbour to the west, deflated: a reader can draw a
profile, follow water from a place, and find what drains to it, with no program but the page.
"""

from __future__ import annotations

import base64
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import OutputError
from screening.grid import Grid
from screening.models import F32, F64, I64, U8, BlockResult
from screening.projections import degrees_of

MAX_PAGE_CELLS = 1_200_000
"""More are not put into a page: the ground is cut to a rectangle round the lots."""
MAX_ELEVATION_CHARS = 1_000_000
"""Coarser steps are taken until the elevations need no more."""
STEPS_M = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0)
NO_DATA = 65535
WATER_STEP_M = 0.001
MAX_PLACE_ERROR_CELLS = 0.02

ENDS, UNKNOWN, LED, LEAVES = 4, 9, 10, 11
"""Ways of a cell beside 0 to 8 (row by row from the north-west neighbour): it ends there, no data, it is led elsewhere
by a pipe or a downspout, it leaves the ground kept in the page."""
MAY_BE_MORE = 16
"""Added to the way of a cell that unseen water may reach."""

_TERMS = tuple((i, j) for i in range(4) for j in range(4 - i))
"""Powers of the cubic that leads from degrees to cells, and back."""


@dataclass(frozen=True, kw_only=True)
class Cut:
    """A rectangle of a grid, from its first row and column up to its last, not with it."""

    first_row: int
    last_row: int
    first_col: int
    last_col: int

    def of(self, values: NDArray[Any]) -> NDArray[Any]:
        """The part of a raster that lies in it."""
        return values[self.first_row : self.last_row, self.first_col : self.last_col]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows, columns."""
        return self.last_row - self.first_row, self.last_col - self.first_col


def packed_terrain(result: BlockResult) -> dict[str, Any] | None:
    """Pack what the page's tools ask of the ground; None where the lots alone are too large for a page.

    Parameters
    ----------
    result
        What was found.

    Returns
    -------
    JSON-ready data: shape, cubics between degrees and cells, packed `elev`, `way`, and what comes in or is led.
    """
    grid, flow = result.block.grid, result.flow
    cut = cut_of(result)
    cubics = place_cubics(grid, cut) if cut else None
    if cut is None or cubics is None:
        return None
    base_m, step_m, elev = pack_elevation(cut.of(result.surface.elev_m))
    way, led = ways_of(flow.receiver, flow.edge_sides, flow.link_cell, grid, cut)
    came = _coming_in(result, cut)
    return {
        "rows": cut.shape[0],
        "cols": cut.shape[1],
        "cell_m": grid.cell_m,
        "is_cut": cut.shape != grid.shape,
        **cubics,
        "base_m": base_m,
        "step_m": step_m,
        "elev": elev,
        "way": deflated(way.tobytes()),
        "led": led,
        "came": came,
    }


def cut_of(result: BlockResult) -> Cut | None:
    """The part of a result's grid that a page carries; None where the lots alone are too large."""
    bounds = tuple(float(value) for value in result.block.lots.total_bounds)
    return cut_around(result.block.grid, bounds, MAX_PAGE_CELLS)


def cut_around(grid: Grid, bounds: tuple[float, ...], max_cells: int) -> Cut | None:
    """Cut a grid to the widest margin round a place that keeps the number of cells.

    Parameters
    ----------
    grid
        To cut.
    bounds
        West, south, east, north of what must be in it [m].
    max_cells
        Most cells.

    Returns
    -------
    The rectangle; None where the place alone has more.
    """
    west, south, east, north = bounds
    first_row, last_row = np.floor((grid.north_m - north) / grid.cell_m), np.ceil((grid.north_m - south) / grid.cell_m)
    first_col, last_col = np.floor((west - grid.west_m) / grid.cell_m), np.ceil((east - grid.west_m) / grid.cell_m)

    def with_margin(margin: int) -> Cut:
        rows = np.clip((first_row - margin, last_row + margin), 0, grid.n_rows).astype(int)
        cols = np.clip((first_col - margin, last_col + margin), 0, grid.n_cols).astype(int)
        return Cut(first_row=int(rows[0]), last_row=int(rows[1]), first_col=int(cols[0]), last_col=int(cols[1]))

    def n_cells(margin: int) -> int:
        rows, cols = with_margin(margin).shape
        return rows * cols

    least, most = 0, max(grid.shape)
    if n_cells(0) > max_cells:
        return None
    while least < most:
        middle = (least + most + 1) // 2
        least, most = (middle, most) if n_cells(middle) <= max_cells else (least, middle - 1)
    return with_margin(least)


def pack_elevation(elev_m: F32) -> tuple[float, float, str]:
    """Pack elevations in the finest steps that 16 bits and the weight of a page allow.

    Parameters
    ----------
    elev_m
        2-D float32 [m], NaN = no data.

    Returns
    -------
    Elevation of step 0 [m], step [m], and the packed steps.
    """
    known = np.isfinite(elev_m)
    low = float(np.floor(float(elev_m[known].min()) * 1000.0) / 1000.0) if known.any() else 0.0
    for step in STEPS_M:
        steps = np.round((np.where(known, elev_m, low).astype(np.float64) - low) / step)
        if steps.max(initial=0.0) >= NO_DATA:
            continue
        packed = pack_steps(np.where(known, steps, NO_DATA).astype(np.uint16))
        if len(packed) <= MAX_ELEVATION_CHARS:
            return low, step, packed
    raise OutputError("The elevations cannot be packed", got=f"{known.sum()} cells", expected="a smaller window")


def pack_depth(depth_m: F32) -> str:
    """Pack depths of standing water in millimetres; no data counts as dry."""
    depth = np.nan_to_num(depth_m.astype(np.float64), nan=0.0)
    return pack_steps(np.clip(np.round(depth / WATER_STEP_M), 0, NO_DATA - 1).astype(np.uint16))


def pack_steps(steps: NDArray[np.uint16]) -> str:
    """Deflate whole numbers, each less its western neighbour (the first of a row: less its northern one).

    The low bytes of all come first, then the high bytes; differences wrap round at 16 bits.
    """
    change = steps.copy()
    change[:, 1:] -= steps[:, :-1]
    change[1:, 0] -= steps[:-1, 0]
    planes = (change & 255).astype(np.uint8).tobytes() + (change >> 8).astype(np.uint8).tobytes()
    return deflated(planes)


def deflated(content: bytes) -> str:
    """Deflate (RFC 1950) and write in base64 (RFC 4648)."""
    return base64.b64encode(zlib.compress(content, 6)).decode("ascii")


def ways_of(receiver: I64, edge_sides: U8, link_cell: I64, grid: Grid, cut: Cut) -> tuple[U8, list[list[int]]]:
    """Say of each cell of a cut where its water goes.

    Parameters
    ----------
    receiver, edge_sides, link_cell
        Of the flow field of the whole grid.
    grid, cut
        The grid, and the part kept.

    Returns
    -------
    Way of each cell, uint8 (see `ENDS` and `MAY_BE_MORE`), and pairs of cells of the cut: led from, led to.
    """
    cells = cut.of(np.arange(grid.n_rows * grid.n_cols).reshape(grid.shape)).ravel()
    to = np.asarray(receiver, np.int64)[cells]
    row, col = cells // grid.n_cols, cells % grid.n_cols
    to_row, to_col = to // grid.n_cols, to % grid.n_cols
    way = ((to_row - row + 1) * 3 + (to_col - col + 1)).astype(np.int64)
    is_inside = (to_row >= cut.first_row) & (to_row < cut.last_row)
    is_inside &= (to_col >= cut.first_col) & (to_col < cut.last_col)
    is_led = np.isin(cells, link_cell)
    way[is_led] = LED
    way[~is_inside] = LEAVES
    way[to < 0] = UNKNOWN
    led = [
        [int(here), int((to_row[here] - cut.first_row) * cut.shape[1] + to_col[here] - cut.first_col)]
        for here in np.flatnonzero(way == LED)
    ]
    unseen = (cut.of(edge_sides).ravel() > 0) & (to >= 0)
    return (way + np.where(unseen, MAY_BE_MORE, 0)).astype(np.uint8), led


def _coming_in(result: BlockResult, cut: Cut) -> list[list[float]]:
    """Cells of the cut that ground outside it drains to, and how much ground [m2]."""
    flow, grid = result.flow, result.block.grid
    is_kept = np.zeros(grid.shape, bool)
    cut.of(is_kept)[:] = True
    kept, receiver = is_kept.ravel(), np.asarray(flow.receiver, np.int64)
    outside = np.flatnonzero(~kept & (receiver >= 0))
    outside = outside[kept[receiver[outside]]]
    cell = np.concatenate((receiver[outside], flow.inflow.cell))
    area = np.concatenate((flow.contributing_area_m2.ravel()[outside], flow.inflow.area_m2))
    cell, area = cell[kept[cell]], area[kept[cell]]
    where, at = np.unique(cell, return_inverse=True)
    total = np.bincount(at, weights=area, minlength=where.size)
    place = (where // grid.n_cols - cut.first_row) * cut.shape[1] + where % grid.n_cols - cut.first_col
    return [[int(p), round(float(t), 1)] for p, t in zip(place, total, strict=True)]


def place_cubics(grid: Grid, cut: Cut) -> dict[str, Any] | None:
    """Fit cubics that lead from degrees to cells of a cut and back, so that a page needs no projections.

    Parameters
    ----------
    grid, cut
        The grid, and the part kept.

    Returns
    -------
    `to_cell`, coefficients of column and row by powers of scaled degrees; `to_degrees`, those of longitude and latitude
    by powers of scaled cells; `center` (longitude, latitude, column, row), and `reach`, what each is scaled by. None
    where a cubic misses a place by more than a fiftieth of a cell: the window is too large for one.
    """
    n_rows, n_cols = cut.shape
    col, row = (part.ravel() for part in np.meshgrid(np.linspace(0, n_cols, 9), np.linspace(0, n_rows, 9)))
    x = grid.west_m + (col + cut.first_col) * grid.cell_m
    y = grid.north_m - (row + cut.first_row) * grid.cell_m
    lon, lat = degrees_of(grid.crs).transform(x, y)
    known = np.column_stack((lon, lat, col, row))
    center = np.array([round(float(v), 7) for v in (known.min(axis=0) + known.max(axis=0)) / 2])
    reach = np.array([round(float(v), 7) for v in np.ptp(known, axis=0) / 2])
    scaled = (known - center) / reach
    to_cell, by_degrees = _fit(scaled[:, :2], scaled[:, 2:])
    to_degrees, by_cells = _fit(scaled[:, 2:], scaled[:, :2])
    missed = (by_degrees - scaled[:, 2:], by_cells - scaled[:, :2])
    if max(float(np.abs(miss * reach[2:]).max()) for miss in missed) > MAX_PLACE_ERROR_CELLS:
        return None
    return {"to_cell": to_cell, "to_degrees": to_degrees, "center": center.tolist(), "reach": reach.tolist()}


def _fit(given: F64, wanted: F64) -> tuple[list[list[float]], F64]:
    terms = np.column_stack([given[:, 0] ** i * given[:, 1] ** j for i, j in _TERMS])
    found = np.round(np.linalg.lstsq(terms, wanted, rcond=None)[0], 12)
    # A zero has one sign, so that two builds are the same to the byte.
    found = found + 0.0
    return found.T.tolist(), terms @ found
