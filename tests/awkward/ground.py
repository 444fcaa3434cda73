"""One made-up valley with a low spot on a lot, written in any encoding and CRS."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import shapely
from affine import Affine
from pyproj import Transformer

from tests.inputs.files import write_raster

UTM = "EPSG:26917"
WEST, NORTH = 500_100.0, 4_400_200.0
N_ROWS, N_COLS = 60, 84


def height_m(x: Any, y: Any) -> Any:
    """Ground [m] at a place of the UTM zone: ridges on three sides, a valley to the south, a bowl on its way."""
    col, row = (np.asarray(x) - WEST), (NORTH - np.asarray(y))
    valley = 120.0 - 0.04 * np.abs(row - 6.0) + 0.06 * (30.0 - np.abs(np.abs(col - 42.0) - 30.0))
    bowl = 1.5 * np.exp(-((col - 42.3) ** 2 + (row - 32.2) ** 2) / 100.0)
    return valley - bowl


def clean_pixels() -> np.ndarray:
    """The valley at cells of 1 m, in hundredths of a metre, float32."""
    return sampled(Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH), (N_ROWS, N_COLS))


def sampled(transform: Affine, shape: tuple[int, int], *, crs: Any = UTM) -> np.ndarray:
    """Heights at the cell centres of any raster, in hundredths of a metre, float32; NaN off the valley."""
    row, col = np.mgrid[: shape[0], : shape[1]] + 0.5
    a, b, c, d, e, f = tuple(transform)[:6]
    x, y = a * col + b * row + c, d * col + e * row + f
    if crs != UTM:
        x, y = Transformer.from_crs(crs, UTM, always_xy=True).transform(x, y)
    heights = np.round(100 * height_m(x, y)) / 100
    off = (x < WEST) | (x > WEST + N_COLS) | (y > NORTH) | (y < NORTH - N_ROWS)
    return np.where(off, np.nan, heights).astype(np.float32)


def rectangle(col: float, row: float, col_end: float, row_end: float) -> shapely.Polygon:
    """A rectangle in metres east and south of the corner of the valley."""
    return shapely.box(WEST + col, NORTH - row_end, WEST + col_end, NORTH - row)


LOT = rectangle(22.0, 15.0, 62.0, 50.0)
HOUSE = rectangle(24.0, 16.0, 34.0, 20.0)


def frame(shapes: Sequence[Any], *, crs: Any = UTM, **columns: Any) -> gpd.GeoDataFrame:
    """Geometries with columns."""
    return gpd.GeoDataFrame(columns, geometry=list(shapes), crs=crs)


def write(path: Path, shapes: Sequence[Any], *, crs: Any = UTM, to: Any = None, **columns: Any) -> str:
    """Write a layer in the format of its name, in another CRS if told."""
    layer = frame(shapes, crs=crs, **columns)
    (layer.to_crs(to) if to else layer).to_file(path, engine="pyogrio")
    return str(path)


def write_clean(folder: Path) -> dict[str, str]:
    """Write the valley, the lot and the house plainly; options of the command by name."""
    folder.mkdir(parents=True, exist_ok=True)
    return {
        "elevation": str(write_raster(folder / "clean.tif", clean_pixels(), crs=UTM)),
        "lots": write(folder / "lots.gpkg", [LOT], lot_id=["A-1"]),
        "structures": write(folder / "houses.gpkg", [HOUSE], structure_id=["H-1"], kind=["house"]),
    }
