"""Rasters read back by rasterio: values, place, units, no data, meaning of codes."""

import numpy as np
import pytest
import rasterio
from pyproj import CRS

from screening.capture.rejections import REASONS
from screening.errors import OutputError
from screening.flow.dispersive import dispersive_area_m2
from screening.kernels.direction_codes import NODATA, OUTLET
from screening.report import write_outputs, write_rasters
from screening.report.outputs import FILE_NAMES
from screening.report.tables import rasters
from screening.report.tables.rasters import RASTERS


@pytest.fixture(scope="module")
def read(sample_result, tmp_path_factory):
    """Band, profile, unit, description and tags of each raster of the sample neighbourhood."""
    found = {}
    for name, path in write_rasters(sample_result, tmp_path_factory.mktemp("rasters")).items():
        with rasterio.open(path) as raster:
            tags = raster.tags(1)
            found[name] = raster.read(1), raster.profile, raster.units[0], raster.descriptions[0], tags
    return found


def test_place_and_tags(read, sample_result):
    grid = sample_result.block.grid
    assert set(read) == set(RASTERS)
    for name, (band, profile, unit, description, _) in read.items():
        assert band.shape == grid.shape
        assert CRS.from_wkt(profile["crs"].to_wkt()) == CRS.from_user_input(grid.crs)
        assert profile["transform"] == grid.transform
        assert profile["tiled"] and profile["blockxsize"] == profile["blockysize"] == 512
        assert profile["compress"] == "zstd"
        assert (unit or "", description) == (RASTERS[name].unit, RASTERS[name].description)
        assert profile["nodata"] == RASTERS[name].nodata
    assert [RASTERS[name].unit for name in ("filled_elevation", "contributing_area", "slope")] == ["m", "m2", "%"]


def test_values(read, sample_result):
    flow = sample_result.flow
    known = np.isfinite(flow.filled_elev_m)
    expected = {
        "filled_elevation": flow.filled_elev_m,
        "contributing_area": flow.contributing_area_m2,
        "dispersive_area": dispersive_area_m2(flow),
        "low_spot_depth": sample_result.depressions.depth_m,
        "standing_water": sample_result.ponding.water_depth_m,
    }
    for name, values in expected.items():
        band = read[name][0]
        assert band.dtype == np.float32
        np.testing.assert_array_equal(band[known], values[known].astype(np.float32), err_msg=name)
        assert (band[~known] == -9999).all()
        assert np.ptp(band[known]) > 0
    np.testing.assert_array_equal(read["infiltration_reasons"][0], sample_result.zones.reasons)


def test_directions_lead_to_the_receivers(read, sample_result):
    band, flow = read["flow_direction"][0], sample_result.flow
    n_cols = flow.grid.n_cols
    steps = {1: 1, 2: n_cols + 1, 4: n_cols, 8: n_cols - 1, 16: -1, 32: -n_cols - 1, 64: -n_cols, 128: 1 - n_cols}
    cell = np.arange(band.size).reshape(band.shape)
    receiver = flow.receiver.reshape(band.shape)
    for code, step in steps.items():
        assert (band == code).any()
        np.testing.assert_array_equal(receiver[band == code], cell[band == code] + step)
    np.testing.assert_array_equal(band == 0, flow.flow_dir_d8 == OUTLET)
    np.testing.assert_array_equal(band == 255, flow.flow_dir_d8 == NODATA)


def test_codes_are_explained_in_the_file(read):
    assert read["flow_direction"][4]["code_128"] == "north-east"
    assert read["flow_direction"][4]["code_0"] == "outlet"
    said = {
        meaning: int(tag.removeprefix("code_"))
        for tag, meaning in read["infiltration_reasons"][4].items()
        if tag.startswith("code_")
    }
    assert said == {"candidate": 0, **REASONS}


def test_slope_of_a_plane(tiny_result, tmp_path):
    with rasterio.open(write_rasters(tiny_result, tmp_path)["slope"]) as raster:
        band = raster.read(1)
    # 0.03 down the rows and 0.02 along the columns, away from the bowl and the gap
    np.testing.assert_allclose(band[30:, 30:], 100 * np.hypot(0.03, 0.02), rtol=1e-3)
    assert (band[:3, :4] == -9999).all()


def test_rasters_go_with_the_other_outputs_when_asked(tiny_result, tmp_path):
    written = write_outputs(tiny_result, tmp_path, rasters=True, briefs=("none",))
    assert set(written) == set(FILE_NAMES) | set(RASTERS)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(path.name for path in written.values())


def test_a_failure_leaves_nothing(tiny_result, tmp_path, monkeypatch):
    def fail(result, name, path):
        path.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(rasters, "write_raster", fail)
    with pytest.raises(OutputError, match="No space left"):
        write_rasters(tiny_result, tmp_path)
    assert not list(tmp_path.iterdir())
