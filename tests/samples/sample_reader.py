"""Read the sample files and route them by means that share no code with the script that wrote them.

Fill: scikit-image reconstruction by erosion. Flow paths: pyflwdir, which sends D8 to the lowest neighbour,
where the script takes the steepest.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from pyproj import Transformer
from scipy.ndimage import binary_dilation, label
from shapely.geometry import shape

pyflwdir = pytest.importorskip("pyflwdir")
reconstruction = pytest.importorskip("skimage.morphology").reconstruction

SAMPLES = Path(__file__).parents[2] / "data_samples"
VECTORS = ("lots", "structures", "driveways", "roads", "soils", "drains", "wells", "septic")
EIGHT = np.ones((3, 3), dtype=bool)
OUTLET_M = -1000.0


@dataclass(frozen=True)
class Layer:
    """One GeoJSON file in the raster's CRS, keyed by its first property."""

    shapes: dict[str, shapely.Geometry]
    properties: dict[str, dict[str, object]]


def read_layer(name: str) -> Layer:
    """Read longitude and latitude, and bring them to metres."""
    move = Transformer.from_crs("EPSG:4326", "EPSG:26917", always_xy=True)
    shapes, properties = {}, {}
    for feature in json.loads((SAMPLES / f"{name}.geojson").read_text(encoding="utf-8"))["features"]:
        key = next(iter(feature["properties"].values()))
        degrees = shape(feature["geometry"])
        shapes[key] = shapely.transform(degrees, lambda xy: np.column_stack(move.transform(*xy.T)))
        properties[key] = feature["properties"]
    return Layer(shapes, properties)


class Sample:
    """The files, their masks, and the surface with buildings standing as walls."""

    def __init__(self) -> None:
        with rasterio.open(SAMPLES / "elevation.tif") as src:
            self.profile, self.units = src.profile, src.units
            self.z = src.read(1, masked=True).astype("float64").filled(np.nan)
            west, north = src.transform.c, src.transform.f
        rows, cols = self.z.shape
        x, y = np.meshgrid(west + np.arange(cols) + 0.5, north - np.arange(rows) - 0.5)
        self.x, self.y, self.points = x, y, shapely.points(x, y)
        self.layers = {name: read_layer(name) for name in VECTORS}
        self.cells = {
            name: {key: self.inside(area) for key, area in self.layers[name].shapes.items()}
            for name in ("lots", "structures", "driveways")
        }
        self.buildings = np.any(list(self.cells["structures"].values()), axis=0)
        self.walled = self.z.copy()
        for cells in self.cells["structures"].values():
            self.walled[cells] = np.nanmax(self.z[cells]) + 3.0
        self.filled, self.walled_filled = fill(self.z), fill(self.walled)
        nodata = np.where(np.isnan(self.walled), -9999.0, self.walled)
        self.receiver = downstream(nodata)

    def inside(self, area: shapely.Geometry) -> np.ndarray:
        shapely.prepare(area)
        return shapely.intersects(area, self.points)

    def beside(self, mask: np.ndarray) -> np.ndarray:
        return binary_dilation(mask, EIGHT) & ~self.buildings

    def at(self, place: dict[str, float]) -> tuple[int, int]:
        nearest = np.argmin(np.hypot(self.x - place["x_m"], self.y - place["y_m"]))
        row, col = np.unravel_index(nearest, self.z.shape)
        return int(row), int(col)

    def upstream(self, target: np.ndarray) -> np.ndarray:
        """Cells whose path meets the target: pull the mark down the receivers until nothing changes."""
        meets, count = target.ravel().copy(), -1
        while count != meets.sum():
            count = meets.sum()
            for _ in range(50):
                meets |= meets[self.receiver]
        return meets.reshape(target.shape)


def fill(z: np.ndarray) -> np.ndarray:
    """Fill closed depressions of a surface that drains over its edge and into voids."""
    mask = np.where(np.isnan(z), OUTLET_M, z)
    seed = np.full_like(mask, mask.max())
    seed[np.isnan(z)] = OUTLET_M
    for edge in (np.s_[0], np.s_[-1], np.s_[:, 0], np.s_[:, -1]):
        seed[edge] = mask[edge]
    outlet = binary_dilation(np.isnan(z), EIGHT)
    seed[outlet] = mask[outlet]
    return reconstruction(seed, mask, method="erosion", footprint=EIGHT)


def downstream(z: np.ndarray) -> np.ndarray:
    """Receiver of each cell by D8; outlets and voids point at themselves."""
    _, codes = pyflwdir.dem.fill_depressions(z.astype("float32"), nodata=-9999.0)
    receiver = pyflwdir.from_array(codes, ftype="d8").idxs_ds.astype("int64")
    return np.where(receiver < 0, np.arange(receiver.size), receiver)


def pond_at(z: np.ndarray, filled: np.ndarray, cell: tuple[int, int]) -> np.ndarray:
    """Depth of the full pond that holds one cell, zero elsewhere [m]."""
    groups, _ = label((filled == filled[cell]) & (filled > z), EIGHT)
    assert groups[cell] > 0, "no pond here"
    return np.where(groups == groups[cell], filled - z, 0.0)
