from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from affine import Affine
from pyproj import CRS, Transformer

from screening.errors import InputError
from screening.inputs import open_elevation, read_elevation
from screening.schema.codes.notes import NoteCode
from tests.inputs.files import NORTH, UTM, WEST, terrain, write_raster

EVERYWHERE = (-1e9, -1e9, 1e9, 1e9)
PLACES = {"north": (-80.37, 39.75, "EPSG:26917"), "south": (151.21, -33.87, "EPSG:32756")}


def _plane_in_degrees(path: Path, lon: float, lat: float, *, crs: str, step: float = 1e-5) -> Path:
    """A raster whose elevation is a plane in longitude and latitude."""
    row, col = np.mgrid[:60, :80]
    pixels = (100.0 + 0.02 * col - 0.01 * row).astype(np.float32)
    return write_raster(path, pixels, crs=crs, transform=Affine(step, 0, lon, 0, -step, lat))


@pytest.mark.parametrize("place", ["north", "south"])
def test_degrees_go_to_the_utm_zone_on_their_datum(tmp_path: Path, place: str) -> None:
    lon, lat, utm = PLACES[place]
    crs = "EPSG:4269" if place == "north" else "EPSG:4326"
    source = open_elevation(_plane_in_degrees(tmp_path / "degrees.tif", lon, lat, crs=crs))
    assert source.is_resampled
    assert source.grid.crs == utm
    # 1e-5 degrees of longitude is 0.857 and 0.925 m there (GRS 80 ellipsoid); two figures are kept.
    assert source.grid.cell_m == {"north": 0.86, "south": 0.93}[place]
    grid, elev_m, _, _ = read_elevation(source, EVERYWHERE)
    x = grid.west_m + (np.arange(grid.n_cols) + 0.5) * grid.cell_m
    y = grid.north_m - (np.arange(grid.n_rows) + 0.5) * grid.cell_m
    at_lon, at_lat = Transformer.from_crs(utm, crs, always_xy=True).transform(*np.meshgrid(x, y))
    expected = 100.0 + 0.02 * ((at_lon - lon) / 1e-5 - 0.5) - 0.01 * ((lat - at_lat) / 1e-5 - 0.5)
    inner = (np.abs(at_lon - lon - 40e-5) < 39e-5) & (np.abs(lat - at_lat - 30e-5) < 29e-5)
    assert inner.sum() > 4000
    np.testing.assert_allclose(elev_m[inner], expected[inner], atol=2e-5)


def test_cells_lie_on_one_lattice_and_agree_bit_for_bit_between_windows(tmp_path: Path) -> None:
    lon, lat, _ = PLACES["north"]
    rough = np.random.default_rng(7).normal(100, 5, (60, 80)).astype(np.float32)
    rough[20:23, 30] = np.nan
    transform = Affine(1e-5, 0, lon, 0, -1e-5, lat)
    source = open_elevation(write_raster(tmp_path / "rough.tif", rough, crs="EPSG:4269", transform=transform))
    whole, all_m, _, _ = read_elevation(source, EVERYWHERE)
    west, _, _, north = whole.bounds
    for shift in (0.0, 3.3, 17.9):
        window = (west + shift, north - 41.7, west + shift + 33.1, north - shift)
        grid, elev_m, _, _ = read_elevation(source, window)
        assert grid.west_m == round(grid.west_m / grid.cell_m) * grid.cell_m
        assert grid.north_m == round(grid.north_m / grid.cell_m) * grid.cell_m
        row = round((whole.north_m - grid.north_m) / grid.cell_m)
        col = round((grid.west_m - whole.west_m) / grid.cell_m)
        same = all_m[row : row + grid.n_rows, col : col + grid.n_cols]
        np.testing.assert_array_equal(elev_m, same)
        assert np.isfinite(elev_m).sum() > 300


def test_web_mercator_metres_are_not_taken_for_ground_metres(tmp_path: Path) -> None:
    to_web = Transformer.from_crs(4326, 3857, always_xy=True)
    x, y = to_web.transform(-80.37, 39.75)
    transform = Affine(1.0, 0, x, 0, -1.0, y)
    source = open_elevation(write_raster(tmp_path / "web.tif", terrain(40, 50), crs="EPSG:3857", transform=transform))
    assert source.grid.crs == "EPSG:32617"
    assert source.grid.cell_m == pytest.approx(np.cos(np.radians(39.75)), abs=0.006)
    assert NoteCode.SCALE_RESAMPLED in [note.code for note in source.notes]


def test_no_data_is_not_spread_nor_filled(tmp_path: Path) -> None:
    pixels = np.full((20, 30), 50.0, dtype=np.float32)
    pixels[8:12, 10:20] = -9999
    transform = Affine(1.0, 0, WEST, 0, -2.0, NORTH)
    source = open_elevation(write_raster(tmp_path / "void.tif", pixels, transform=transform, nodata=-9999))
    grid, elev_m, _, _ = read_elevation(source, EVERYWHERE)
    assert (grid.cell_m, grid.shape) == (1.0, (40, 30))
    known = np.isfinite(elev_m)
    assert np.unique(elev_m[known]).tolist() == [50.0]
    np.testing.assert_array_equal(known, np.repeat(pixels, 2, axis=0) > 0)


def test_rotated_raster_is_put_upright(tmp_path: Path) -> None:
    transform = Affine.translation(WEST, NORTH) @ Affine.rotation(30) @ Affine.scale(1.0, -1.0)
    row, col = np.mgrid[:50, :70]
    x, y = (
        transform @ (col + 0.5, row + 0.5) if hasattr(transform, "__matmul__") else transform * (col + 0.5, row + 0.5)
    )
    pixels = (20.0 + 0.05 * (x - WEST) + 0.02 * (y - NORTH)).astype(np.float32)
    source = open_elevation(write_raster(tmp_path / "turned.tif", pixels, transform=transform))
    assert source.is_resampled
    assert source.grid.crs == UTM
    grid, elev_m, _, _ = read_elevation(source, EVERYWHERE)
    at_x, at_y = np.meshgrid(grid.west_m + np.arange(grid.n_cols) + 0.5, grid.north_m - np.arange(grid.n_rows) - 0.5)
    expected = 20.0 + 0.05 * (at_x - WEST) + 0.02 * (at_y - NORTH)
    known = np.isfinite(elev_m)
    assert known.sum() == pytest.approx(50 * 70, rel=0.02)
    # At the rim the nearest pixel stands for the ones beyond it: half a pixel of slope.
    assert np.abs(elev_m - expected)[known].max() < 0.05
    assert np.median(np.abs(elev_m - expected)[known]) < 1e-5


def test_lattice_extent_covers_the_raster_and_poles_are_refused(tmp_path: Path) -> None:
    lon, lat, utm = PLACES["north"]
    source = open_elevation(_plane_in_degrees(tmp_path / "d.tif", lon, lat, crs="EPSG:4269"))
    to_utm = Transformer.from_crs(CRS(4269), utm, always_xy=True)
    west, south, east, north = source.grid.bounds
    for corner in ((0, 0), (80, 0), (0, 60), (80, 60)):
        x, y = to_utm.transform(lon + corner[0] * 1e-5, lat - corner[1] * 1e-5)
        assert west <= x <= east
        assert south <= y <= north
    wide = _plane_in_degrees(tmp_path / "wide.tif", lon, lat, crs="EPSG:4326", step=0.4)
    with pytest.raises(InputError, match="spans too many degrees"):
        open_elevation(wide)
    with pytest.raises(InputError, match="no UTM zone"):
        open_elevation(_plane_in_degrees(tmp_path / "pole.tif", lon, 89.0, crs="EPSG:4326"))
