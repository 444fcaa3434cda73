"""An invented town of any size, as files: elevation at 1 m, lots in rows along streets, houses and driveways."""

from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from rasterio.transform import from_origin

from tests.blocks import CRS, NORTH, WEST
from tests.made_ground import suburb

PITCH_M = 100
"""One lot of 40 x 30 m to the hectare, so 100 to the square kilometre."""


def make_town(folder: Path, *, n_rows: int, n_cols: int, seed: int = 5, around_m: int = 200) -> dict[str, Path]:
    """Write `elevation.tif`, `lots.gpkg`, `structures.gpkg` and `driveways.gpkg`: n_rows x n_cols lots.

    Returns
    -------
    Paths by input.
    """
    paths = {
        "elevation": folder / "elevation.tif",
        **{name: folder / f"{name}.gpkg" for name in ("lots", "structures", "driveways")},
    }
    shape = (n_rows * PITCH_M + 2 * around_m, n_cols * PITCH_M + 2 * around_m)
    write_elevation(paths["elevation"], suburb(*shape, seed))
    row, col = (value.ravel() for value in np.mgrid[:n_rows, :n_cols])
    west, top = WEST + around_m + col * PITCH_M + 30.0, NORTH - around_m - row * PITCH_M - 30.0
    ids = [f"L-{number:05d}" for number in range(row.size)]
    layers = {
        "lots": ({"lot_id": ids}, shapely.box(west, top - 30, west + 40, top)),
        "structures": (
            {"structure_id": [f"S{name}" for name in ids]},
            shapely.box(west + 12, top - 22, west + 26, top - 12),
        ),
        "driveways": (
            {"driveway_id": [f"D{name}" for name in ids]},
            shapely.box(west + 27, top - 30, west + 31, top - 12),
        ),
    }
    for name, (columns, shapes) in layers.items():
        gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS).to_file(paths[name])
    return paths


def write_elevation(path: Path, elev_m: np.ndarray) -> None:
    """Write a tiled raster in metres."""
    profile = {
        "driver": "GTiff",
        "height": elev_m.shape[0],
        "width": elev_m.shape[1],
        "count": 1,
        "dtype": "float32",
        "crs": CRS,
        "transform": from_origin(WEST, NORTH, 1, 1),
        "nodata": -9999.0,
        "tiled": True,
        "blockxsize": 256,
        "blockysize": 256,
        "compress": "deflate",
    }
    with rasterio.open(path, "w", **profile) as raster:
        raster.units = ("m",)
        raster.write(elev_m, 1)
