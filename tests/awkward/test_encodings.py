"""One terrain in any combination of type, scale, offset, unit, order of rows and layout reads as the same ground."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.inputs import open_elevation, read_elevation
from screening.units import VERTICAL_UNITS_M
from tests.awkward.ground import N_COLS, N_ROWS, NORTH, UTM, WEST, clean_pixels
from tests.inputs.files import write_raster

_TAGS = {"m": "metre", "ft": "foot", "us-ft": "US survey foot", "cm": "centimetre"}
_EVERYWHERE = (-1e9, -1e9, 1e9, 1e9)


@given(
    dtype=st.sampled_from(["int16", "uint16", "int32", "float32", "float64"]),
    step=st.sampled_from([0.002, 0.005, 0.01]),
    offset=st.sampled_from([0.0, 50.0, 117.0]),
    unit=st.sampled_from(list(_TAGS)),
    by_option=st.booleans(),
    is_south_up=st.booleans(),
    is_tiled=st.booleans(),
    compress=st.sampled_from(["none", "deflate", "lzw"]),
    n_bands=st.integers(1, 3),
    nodata=st.sampled_from([None, -9999.0]),
)
@settings(max_examples=60, deadline=None)
def test_any_encoding_is_the_same_ground(
    dtype: str,
    step: float,
    offset: float,
    unit: str,
    by_option: bool,
    is_south_up: bool,
    is_tiled: bool,
    compress: str,
    n_bands: int,
    nodata: float | None,
) -> None:
    ground = clean_pixels().astype(np.float64)
    factor = VERTICAL_UNITS_M[unit]
    # Steps are of the ground; what is stored is in the unit of the file.
    is_whole = not dtype.startswith("float")
    scale, shift = (step / factor, offset / factor) if is_whole else (1.0, 0.0)
    stored = (ground / factor - shift) / scale
    stored = np.round(stored) if is_whole else stored
    limits = np.iinfo(dtype) if is_whole else np.finfo(dtype)
    if stored.min() < limits.min or stored.max() > limits.max or (nodata and dtype == "uint16"):
        return  # the file could not hold it
    pixels = stored.astype(dtype)[::-1] if is_south_up else stored.astype(dtype)
    transform = Affine(1, 0, WEST, 0, 1, NORTH - N_ROWS) if is_south_up else Affine(1, 0, WEST, 0, -1, NORTH)
    layout = {"tiled": True, "blockxsize": 16, "blockysize": 16} if is_tiled else {}
    with tempfile.TemporaryDirectory() as folder:
        path = write_raster(
            Path(folder) / "a.tif",
            np.stack([pixels] + [pixels * 0] * (n_bands - 1)),
            crs=UTM,
            transform=transform,
            unit=None if by_option else _TAGS[unit],
            nodata=nodata,
            scale=scale,
            offset=shift,
            compress=compress,
            **layout,
        )
        source = open_elevation(path, vertical_unit=unit if by_option else None)
        grid, elev_m, _, _ = read_elevation(source, _EVERYWHERE)
    assert (grid.west_m, grid.north_m, grid.shape) == (WEST, NORTH, (N_ROWS, N_COLS))
    # Half a step of what is stored, and one step of float32 at this height.
    np.testing.assert_allclose(elev_m, ground, atol=(step / 2 if is_whole else 0.0) + 2e-5)
