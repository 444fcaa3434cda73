"""Georeferencing as one immutable value: north-up square cells, metres, one projected CRS."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import GridMismatchError, InputError

if TYPE_CHECKING:
    from affine import Affine

I32 = NDArray[np.int32]
I64 = NDArray[np.int64]
F64 = NDArray[np.float64]
Bounds = tuple[float, float, float, float]
"""West, south, east, north [m]."""


@dataclass(frozen=True, kw_only=True)
class Grid:
    """A north-up raster of square cells in a projected metre CRS.

    Parameters
    ----------
    crs
        Authority code such as `EPSG:26917`, or WKT where there is none.
    west_m, north_m
        Outer corner of the cell at row 0, column 0.
    cell_m
        Cell size [m].
    n_rows, n_cols
        Shape.

    Raises
    ------
    InputError
        The cell size or the shape is not positive.
    """

    crs: str
    west_m: float
    north_m: float
    cell_m: float
    n_rows: int
    n_cols: int

    def __post_init__(self) -> None:
        if not self.cell_m > 0 or self.n_rows < 1 or self.n_cols < 1:
            raise InputError(
                "The grid is empty",
                got=f"{self.n_rows} x {self.n_cols} cells of {self.cell_m} m",
                expected="at least one cell of positive size",
            )

    @property
    def shape(self) -> tuple[int, int]:
        """Rows, columns."""
        return self.n_rows, self.n_cols

    @property
    def cell_area_m2(self) -> float:
        """Area of a cell [m2]."""
        return self.cell_m**2

    @property
    def bounds(self) -> Bounds:
        """West, south, east, north [m]."""
        east = self.west_m + self.n_cols * self.cell_m
        return self.west_m, self.north_m - self.n_rows * self.cell_m, east, self.north_m

    @property
    def transform(self) -> Affine:
        """Affine from (column, row) to (x, y), as rasterio takes it."""
        from affine import Affine

        return Affine(self.cell_m, 0.0, self.west_m, 0.0, -self.cell_m, self.north_m)

    def x_of(self, col: float) -> float:
        """X [m] of the centre of a column."""
        return self.west_m + (col + 0.5) * self.cell_m

    def y_of(self, row: float) -> float:
        """Y [m] of the centre of a row."""
        return self.north_m - (row + 0.5) * self.cell_m


def check_same_grid(expected: Grid, got: Grid, *, what: str) -> None:
    """Refuse a value that lies on another grid.

    Raises
    ------
    GridMismatchError
        The grids differ in any part.
    """
    if expected != got:
        raise GridMismatchError(f"{what} lies on another grid", got=str(got), expected=str(expected))


def rasterize(grid: Grid, geometries: Sequence[Any], values: Sequence[int], *, all_touched: bool = False) -> I32:
    """Burn geometries on a grid by the cell-centre rule; where they overlap, the later one wins.

    Parameters
    ----------
    grid
        Where to burn.
    geometries
        Shapely geometries in the grid's CRS.
    values
        One positive number each.
    all_touched
        Take every cell that a geometry touches, in place of those whose centre it holds.

    Returns
    -------
    int32 array of the grid's shape, 0 where no geometry lies.
    """
    from rasterio.features import rasterize as burn

    pairs = [
        (shape, value)
        for shape, value in zip(geometries, values, strict=True)
        if shape is not None and not shape.is_empty
    ]
    if not pairs:
        return np.zeros(grid.shape, np.int32)
    burned: I32 = burn(
        pairs, out_shape=grid.shape, transform=grid.transform, fill=0, all_touched=all_touched, dtype="int32"
    )
    return burned


def cells_along(grid: Grid, line: Any, *, closed: bool) -> I64:
    """List the rows and columns along a line, in its direction, within the window.

    Parameters
    ----------
    grid
        Where the line lies.
    line
        A shapely LineString in the grid's CRS.
    closed
        Take every cell that the line crosses, and both cells beside a corner that it crosses, so that no
        eight-direction flow leaks through. Otherwise the cells met at quarter-cell steps: thin enough for a channel.

    Returns
    -------
    int64 (n, 2); a cell is listed again where the line comes back to it.
    """
    place = _crossed_places(grid, line) if closed else _places_in_quarter_cells(grid, line)
    cells = np.floor(place).astype(np.int64)
    if closed:
        # The window's south and east edges belong to its last cells.
        cells = np.where(place == grid.shape, cells - 1, cells)
        steps = np.abs(np.diff(cells, axis=0))
        corner = np.flatnonzero((steps == 1).all(axis=1))
        beside = np.column_stack((cells[corner, 0], cells[corner + 1, 1], cells[corner + 1, 0], cells[corner, 1]))
        cells = np.insert(cells, np.repeat(corner + 1, 2), beside.reshape(-1, 2), axis=0)
    cells = cells[((cells >= 0) & (cells < grid.shape)).all(axis=1)]
    is_new = np.ones(cells.shape[0], bool)
    is_new[1:] = (np.diff(cells, axis=0) != 0).any(axis=1)
    return cells[is_new]


def _places(grid: Grid, xy: F64) -> F64:
    """Coordinates as fractional rows and columns."""
    return np.column_stack(((grid.north_m - xy[:, 1]) / grid.cell_m, (xy[:, 0] - grid.west_m) / grid.cell_m))


def _places_in_quarter_cells(grid: Grid, line: Any) -> F64:
    import shapely

    length = shapely.length(line)
    steps = np.linspace(0.0, length, max(int(length / grid.cell_m * 4), 1) + 1)
    return _places(grid, shapely.get_coordinates(shapely.line_interpolate_point(line, steps)))


def _crossed_places(grid: Grid, line: Any) -> F64:
    """A place between each two crossings of the line with cell edges: one in each cell that it crosses."""
    import shapely

    between = []
    for start, end in itertools.pairwise(_places(grid, shapely.get_coordinates(line))):
        parts = [np.array([0.0, 1.0])]
        for a, b, n in zip(start, end, grid.shape, strict=True):
            if a != b:
                edges = np.arange(max(np.ceil(min(a, b)), 0.0), min(np.floor(max(a, b)), n) + 1)
                parts.append((edges - a) / (b - a))
        part = np.unique(np.clip(np.concatenate(parts), 0.0, 1.0))
        middle = (part[1:] + part[:-1]) / 2
        between.append(start + middle[:, np.newaxis] * (end - start))
    return np.concatenate(between)


def polygonize(grid: Grid, mask: NDArray[np.bool_], *, first_row: int = 0, first_col: int = 0) -> Any:
    """Outline the True cells of a mask that covers the grid, or a part of it.

    Parameters
    ----------
    grid
        Where the mask lies.
    mask
        bool (n_rows, n_cols) of the part.
    first_row, first_col
        Where the part begins.

    Returns
    -------
    A shapely Polygon or MultiPolygon [m] along the cell edges; empty if no cell is True.
    """
    import shapely
    from affine import Affine
    from rasterio.features import shapes

    west, north, cell = (
        grid.west_m + first_col * grid.cell_m,
        grid.north_m - first_row * grid.cell_m,
        grid.cell_m,
    )
    burned = mask.astype(np.uint8)
    found = shapes(burned, mask=mask, connectivity=8, transform=Affine(cell, 0.0, west, 0.0, -cell, north))
    # Cells that meet at a corner make one outline that touches itself: a zero buffer cuts it into valid parts.
    return shapely.union_all([shapely.geometry.shape(outline).buffer(0) for outline, _ in found])


def polygonize_cells(grid: Grid, cells: NDArray[np.integer[Any]]) -> Any:
    """Outline cells given by their flat indices, at a cost that follows their extent and not the grid's."""
    import shapely

    if cells.size == 0:
        return shapely.MultiPolygon()
    row, col = np.divmod(cells, grid.n_cols)
    top, left = int(row.min()), int(col.min())
    mask = np.zeros((int(row.max()) - top + 1, int(col.max()) - left + 1), bool)
    mask[row - top, col - left] = True
    return polygonize(grid, mask, first_row=top, first_col=left)


def polygonize_labels(grid: Grid, label: I32, n_labels: int) -> list[Any]:
    """Outline each label 1..n of a raster, in order."""
    from scipy import ndimage

    return [
        polygonize(grid, label[window] == number, first_row=window[0].start, first_col=window[1].start)
        for number, window in enumerate(ndimage.find_objects(label, max_label=n_labels), start=1)
    ]


def draw_path(grid: Grid, cells: NDArray[np.integer]) -> Any:
    """Draw a line through the centres of cells, given as flat indices; a point if there is one only."""
    import shapely

    row, col = np.divmod(cells, grid.n_cols)
    xy = np.column_stack((grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m))
    return shapely.LineString(xy) if len(xy) > 1 else shapely.Point(xy[0])
