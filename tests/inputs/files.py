"""Small rasters and layers written for the input tests."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from affine import Affine

UTM = "EPSG:26917"
WEST, NORTH = 500_100.0, 4_400_200.0
N_ROWS, N_COLS = 9, 14


def terrain(n_rows: int = N_ROWS, n_cols: int = N_COLS) -> np.ndarray:
    """A plane with a bump, in hundredths of a metre, so that whole-number encodings hold it exactly."""
    row, col = np.mgrid[:n_rows, :n_cols]
    return (np.round(100 * (120.0 + 0.25 * row + 0.11 * col + np.sin(row * col))) / 100).astype(np.float32)


def write_raster(
    path: Path,
    pixels: np.ndarray,
    *,
    crs: Any = UTM,
    transform: Affine | None = None,
    unit: str | None = "metre",
    nodata: float | None = None,
    scale: float = 1.0,
    offset: float = 0.0,
    **options: Any,
) -> Path:
    """Write a GeoTIFF of 1 m cells at a fixed corner, or as told."""
    bands = pixels if pixels.ndim == 3 else pixels[None]
    with rasterio.open(
        path,
        "w",
        driver=options.pop("driver", "GTiff"),
        height=bands.shape[1],
        width=bands.shape[2],
        count=bands.shape[0],
        dtype=bands.dtype,
        crs=crs,
        nodata=nodata,
        transform=transform or Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH),
        **options,
    ) as out:
        out.write(bands)
        if unit:
            out.units = (unit,) * bands.shape[0]
        if (scale, offset) != (1.0, 0.0):
            out.scales, out.offsets = (scale,) * bands.shape[0], (offset,) * bands.shape[0]
    return path


def write_layer(path: Path, shapes: Sequence[Any], *, crs: Any = UTM, layer: str | None = None, **columns: Any) -> str:
    """Write geometries with columns; the format follows the name."""
    frame = gpd.GeoDataFrame(columns, geometry=list(shapes), crs=crs)
    frame.to_file(path, engine="pyogrio", **({"layer": layer} if layer else {}))
    return str(path)


def square(col: float, row: float, size: float = 4.0) -> shapely.Polygon:
    """A square whose north-west corner lies `col` metres east and `row` metres south of the raster's."""
    west, north = WEST + col, NORTH - row
    return shapely.box(west, north - size, west + size, north)
