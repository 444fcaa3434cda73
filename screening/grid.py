"""Georeferencing as one immutable value: north-up square cells, metres, one projected CRS."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import GridMismatchError, InputError

if TYPE_CHECKING:
    from affine import Affine

I32 = NDArray[np.int32]
Bounds = tuple[float, float, float, float]
"""West, south, east, north [m]."""


@dataclass(frozen=True)
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
