import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.transform import from_origin

import screening
from screening.errors import InputError
from screening.models import LatLon, Rain, SiteRequest
from screening.report.words.notes import note_words
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import choose_rain
from screening.site.samples import samples_dir
from screening.site.screen import screen_site
from tests.blocks import CRS, NORTH, WEST

RAIN = Rain(depth_mm=75.0, label="75 mm", source="test")


def write_raster(path, elev):
    profile = {
        "driver": "GTiff",
        "height": elev.shape[0],
        "width": elev.shape[1],
        "count": 1,
        "dtype": "float32",
        "crs": CRS,
        "transform": from_origin(WEST, NORTH, 1, 1),
        "nodata": -9999.0,
    }
    with rasterio.open(path, "w", **profile) as raster:
        raster.write(elev.astype(np.float32), 1)
        raster.units = ("m",)
    return path


def place(row, col):
    lon, lat = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(WEST + col, NORTH - row)
    return LatLon(lat, lon)


def below_a_ridge():
    """A strip 900 m long and 300 m wide that falls both ways from row 250, with valleys 60 m apart."""
    row, col = np.mgrid[:900, :300].astype(float)
    return 200 - 0.05 * np.abs(row - 250) - 0.01 * np.abs(col - 150) + 0.3 * np.abs(((col + 30) % 60) - 30)


@pytest.fixture(scope="module")
def ridge(tmp_path_factory):
    return write_raster(tmp_path_factory.mktemp("ridge") / "ridge.tif", below_a_ridge())


def test_window_grows_until_it_closes(ridge):
    found = screen_site(SiteRequest(elevation=ridge, at=place(650, 180), radius_m=20.0), rain=RAIN)
    result = found.result
    # Rows 250 (the ridge) to the lot drain to it; the window must hold the ridge, and need not hold the raster.
    top = (NORTH - result.block.grid.north_m) / 1.0
    assert top < 250
    assert result.block.grid.n_rows < 900
    assert not result.summary.edge_contaminated.any()
    whole = screen_site(
        SiteRequest(elevation=ridge, at=place(650, 180), radius_m=20.0),
        rain=RAIN,
        criteria=Criteria.of(window_margin_m=800.0),
    )
    for name in ("contributing_area_m2", "off_lot_area_m2", "runoff_m3", "run_on_m3", "visit_score"):
        assert found.summary[name].tolist() == pytest.approx(whole.summary[name].tolist(), rel=1e-9), name


def test_window_that_reaches_its_limit_says_so(ridge):
    request = SiteRequest(elevation=ridge, at=place(650, 180), radius_m=20.0)
    limited = screen_site(request, rain=RAIN, criteria=Criteria.of(window_limit_m=100.0))
    assert limited.summary.edge_contaminated.tolist() == [True]
    assert any("limit of 100 m to the north" in note_words(note) for note in limited.result.notes)


def test_window_at_the_end_of_the_data_says_so(tmp_path):
    without_ridge = write_raster(tmp_path / "cut.tif", below_a_ridge()[400:])
    limited = screen_site(SiteRequest(elevation=without_ridge, at=place(250, 180), radius_m=15.0), rain=RAIN)
    assert limited.summary.edge_contaminated.tolist() == [True]
    assert any("elevation ends to the north" in note_words(note) for note in limited.result.notes)


def test_window_looks_behind_what_may_hold_water_up(tmp_path):
    """A slope that runs into a dam 100 m below the lot: only a look beyond the first window finds the pond."""
    row, col = np.mgrid[:500, :200].astype(float)
    elev = 150 - 0.02 * row + 0.1 * np.abs(col - 100)
    elev[320:330] = 146.0  # ground at the lot is 144 m and at the dam 143.4
    site = SiteRequest(elevation=write_raster(tmp_path / "dam.tif", elev), at=place(220, 100), radius_m=15.0)
    found = screen_site(site, rain=RAIN)
    assert found.result.block.grid.n_rows > 320
    assert found.summary.n_low_spots.tolist() == [1]
    assert found.summary.low_spot_depth_max_m.iloc[0] == pytest.approx(146.0 - elev[319, 100], abs=0.01)


def test_rain_is_settled_from_what_is_given(tmp_path):
    table, criteria = samples_dir() / "rainfall.csv", Criteria()
    assert choose_rain(rain_mm=80.0, criteria=criteria).depth_mm == 80.0
    asked = choose_rain(rainfall=table, storm="2yr-1h", criteria=criteria)
    assert asked.label == "2yr-1h" and not asked.is_assumed
    assert choose_rain(rainfall=table, criteria=criteria).is_assumed
    typed = choose_rain(rainfall=table, rain_mm=108.204, criteria=criteria)
    assert typed.return_period_yr == pytest.approx(10) and typed.is_duration_assumed and not typed.is_assumed
    assumed = choose_rain(criteria=criteria)
    assert assumed.is_assumed and assumed.depth_mm == criteria.storm.assumed_rain_mm
    for wrong in (
        {"storm": "2yr-1h"},
        {"storm": "2yr-1h", "rain_mm": 20.0},
        {"rain_mm": -1.0},
        {"rain_mm": float("nan")},
    ):
        with pytest.raises(InputError):
            choose_rain(criteria=criteria, **wrong)


def test_result_shows_its_map_in_a_notebook(sample_screening):
    html = sample_screening._repr_html_()
    assert html.startswith("<iframe") and "Sample neighbourhood" in html
    told = sample_screening.summary
    assert (
        told["main_finding"].str.len().min() > 0
        and told["lot_id"].tolist() == sample_screening.result.summary["lot_id"].tolist()
    )


def test_public_names():
    assert sorted(screening.__all__) == [
        "BlockResult",
        "Criteria",
        "CriteriaError",
        "ImprovementScreening",
        "InputError",
        "LatLon",
        "OutputError",
        "Rain",
        "Screening",
        "ScreeningError",
        "SiteRequest",
        "choose_rain",
        "demo_request",
        "inspect_inputs",
        "load_block",
        "open_site",
        "read_criteria",
        "read_improvements",
        "read_rainfall",
        "screen_block",
        "screen_site",
        "try_improvements",
        "write_outputs",
    ]
    for name in screening.__all__:
        assert getattr(screening, name).__doc__, name
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = screening.nothing


def test_with_coarser_elevation_around_a_window_still_looks_behind_a_dam(tmp_path):
    """The valley stays open to the north at the least window; the dam below the lot lies beyond it."""
    row, col = np.mgrid[:500, :200].astype(float)
    elev = 150 - 0.02 * row + 0.1 * np.abs(col - 100)
    elev[320:330] = 146.0
    path = write_raster(tmp_path / "dam.tif", elev)
    site = SiteRequest(elevation=path, at=place(220, 100), radius_m=15.0, context_elevation=path)
    criteria = Criteria.of(context_window_m=60.0, window_look_m=120.0)
    found = screen_site(site, rain=RAIN, criteria=criteria)
    assert found.result.block.grid.n_rows > 320 - 220 + 15 + 60
    assert found.summary.n_low_spots.tolist() == [1]
    # Without the dam nothing changes behind it, and the window stays small though its catchment is open.
    plain = write_raster(tmp_path / "plain.tif", 150 - 0.02 * row + 0.1 * np.abs(col - 100))
    site = SiteRequest(elevation=plain, at=place(220, 100), radius_m=15.0, context_elevation=plain)
    assert screen_site(site, rain=RAIN, criteria=criteria).result.block.grid.n_rows <= 30 + 120 + 2
