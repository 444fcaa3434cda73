"""The coarser elevation around a window: CRS, units, reach, and what is refused."""

import dataclasses

import numpy as np
import pytest
from affine import Affine
from click.testing import CliRunner
from pyproj import Transformer
from rasterio.warp import Resampling, reproject

from screening.commands.main import cli
from screening.errors import InputError
from screening.inputs import inspect_inputs, open_site
from screening.inputs.raster import beyond
from screening.inputs.raster.beyond import add_context_elevation
from screening.models import LatLon, Rain, SiteRequest
from screening.report.words.notes import note_words
from screening.schema.codes.notes import UnseenWater
from screening.schema.criteria import Criteria
from screening.site.screen import screen_site
from screening.units import M_PER_US_FT
from tests.inputs.files import NORTH, UTM, WEST, write_raster

OHIO_FEET = "EPSG:3735"
RAIN = Rain(depth_mm=60.0, label="60 mm", source="test")
CRITERIA = Criteria.of(n_realisations=0, window_look_m=60.0, context_window_m=60.0, window_margin_m=30.0)
FAR = Affine(10.0, 0.0, WEST - 600, 0.0, -10.0, NORTH + 800)


def ground(x, y):
    """A valley that falls to the south between ridges 200 m to its sides; its head lies 600 m north of the raster."""
    away = np.abs(x - (WEST + 100))
    return 150 - 0.04 * np.abs(y - (NORTH + 600)) + 0.05 * np.minimum(away, 400 - away)


def drawn(transform, n_rows, n_cols):
    col, row = np.meshgrid(np.arange(n_cols) + 0.5, np.arange(n_rows) + 0.5)
    return ground(*(transform * (col, row))).astype(np.float32)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Fine elevation of 200 m x 200 m, and the ground around it in several coarser rasters."""
    folder = tmp_path_factory.mktemp("beyond")
    write_raster(folder / "fine.tif", drawn(Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH), 200, 200))
    wide = drawn(FAR, 120, 140)
    write_raster(folder / "metres.tif", wide, transform=FAR)
    write_raster(folder / "feet.tif", (wide / M_PER_US_FT).astype(np.float32), transform=FAR, unit="us-ft")
    write_raster(folder / "silent.tif", wide, transform=FAR, unit=None)
    for crs, size, name in ((OHIO_FEET, 33.0, "state.tif"), ("EPSG:4326", 1e-4, "degrees.tif")):
        to = Transformer.from_crs(UTM, crs, always_xy=True)
        west, north = to.transform(WEST - 600, NORTH + 800)
        there = Affine(size, 0.0, west, 0.0, -size, north)
        pixels = np.full((140, 170), -9999.0, np.float32)
        reproject(
            wide,
            pixels,
            src_transform=FAR,
            src_crs=UTM,
            dst_transform=there,
            dst_crs=crs,
            dst_nodata=-9999.0,
            resampling=Resampling.bilinear,
        )
        write_raster(folder / name, pixels, crs=crs, transform=there, nodata=-9999.0)
    near = Affine(1.0, 0.0, WEST - 300, 0.0, -1.0, NORTH + 700)
    write_raster(folder / "whole.tif", drawn(near, 900, 800), transform=near)
    write_raster(folder / "fine_again.tif", drawn(Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH), 200, 200))
    write_raster(folder / "away.tif", wide, transform=Affine(10.0, 0.0, WEST + 9000, 0.0, -10.0, NORTH))
    return folder


def request(folder, context=None, **options):
    lon, lat = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(WEST + 100, NORTH - 120)
    path = folder / context if context else None
    return SiteRequest(
        elevation=folder / "fine.tif", at=LatLon(lat, lon), radius_m=20.0, context_elevation=path, **options
    )


def screened(folder, context=None, criteria=CRITERIA, **options):
    return screen_site(request(folder, context, **options), criteria=criteria, rain=RAIN).result


def test_the_coarser_elevation_gives_what_the_fine_one_ends_before(folder):
    alone, found = screened(folder).summary.iloc[0], screened(folder, "metres.tif").summary.iloc[0]
    assert alone.edge_contaminated and not found.edge_contaminated
    criteria = CRITERIA.replaced(window_look_m=600.0)
    whole = screen_site(
        dataclasses.replace(request(folder), elevation=folder / "whole.tif"), criteria=criteria, rain=RAIN
    ).summary.iloc[0]
    assert not whole.edge_contaminated
    assert found.contributing_area_m2 == pytest.approx(whole.contributing_area_m2, rel=0.03)
    assert alone.contributing_area_m2 < 0.15 * found.contributing_area_m2


@pytest.mark.parametrize("context", ["feet.tif", "state.tif", "degrees.tif"])
def test_feet_and_other_crs_find_the_same(folder, context):
    metres, other = screened(folder, "metres.tif"), screened(folder, context)
    assert other.block.context_elevation.grid.crs == other.block.grid.crs
    rel = 1e-9 if context == "feet.tif" else 0.03
    assert other.summary.contributing_area_m2.iloc[0] == pytest.approx(
        metres.summary.contributing_area_m2.iloc[0], rel=rel
    )
    assert not other.summary.edge_contaminated.any()
    converted = [note_words(note) for note in other.notes if note.subject == "context elevation"]
    assert any("feet" in text or "us-ft" in text or "resampled" in text for text in converted)


def test_a_unit_that_is_not_said_is_asked_for_by_the_right_option(folder):
    with pytest.raises(InputError, match=r"context elevation silent\.tif.*--context-vertical-unit"):
        open_site(request(folder, "silent.tif"))
    found = screened(folder, "silent.tif", context_vertical_unit="m")
    assert not found.summary.edge_contaminated.any()


def test_a_raster_elsewhere_is_refused(folder):
    with pytest.raises(InputError, match="does not meet the elevation raster"):
        open_site(request(folder, "away.tif"))


def test_a_raster_that_is_no_coarser_is_told_and_ends_where_it_ends(folder):
    result = screened(folder, "fine_again.tif")
    texts = [note_words(note) for note in result.notes if note.kind == "caution"]
    assert any("no coarser than the elevation" in text for text in texts)
    assert any("cut by" in text for text in texts)
    assert result.summary.edge_contaminated.all()


def test_it_is_read_as_far_as_is_asked_and_can_be_held(folder, monkeypatch):
    criteria = CRITERIA.replaced(context_limit_m=200.0)
    result = screened(folder, "metres.tif", criteria)
    grid, window = result.block.context_elevation.grid, result.block.grid
    assert grid.north_m - window.north_m == pytest.approx(200, abs=10)
    assert result.summary.edge_contaminated.all()  # the head of the valley is not seen
    monkeypatch.setattr(beyond, "CONTEXT_CELLS_MAX", 2500)
    site = open_site(request(folder, "metres.tif"))
    block = dataclasses.replace(result.block, notes=(), context_elevation=None)
    limited = add_context_elevation(block, site.context_elevation, criteria=CRITERIA)
    assert limited.context_elevation.elev_m.size <= 2500
    assert any("would pass 2,500 cells" in note_words(note) for note in limited.notes)


def test_the_window_grows_no_farther_than_it_needs_to(folder):
    # Above a lot at the lower end the valley would take the window to the end of the fine raster.
    result = screened(folder, "metres.tif")
    assert result.block.grid.north_m <= NORTH - 100 + 60 + 1e-6
    assert UnseenWater.FROM_CONTEXT in [dict(note.values).get("beyond") for note in result.notes]
    assert screened(folder).block.grid.north_m == NORTH


def test_inspect_and_site_know_the_option(folder, tmp_path):
    items = {item.subject: item for item in inspect_inputs(request(folder, "state.tif")).items}
    facts = items["context elevation"].facts
    assert facts["screened in"] == items["elevation"].facts["screened in"] and "resampled" in facts["cell size"]
    found = inspect_inputs(request(folder, "away.tif"))
    assert not found.can_run and "does not meet" in found.why_not
    place = request(folder).at
    common = ["--elevation", folder / "fine.tif", "--at", f"{place.lat},{place.lon}", "--radius", 20]
    common += ["--context-elevation", folder / "silent.tif", "--context-vertical-unit", "m"]
    shown = CliRunner().invoke(cli, [str(part) for part in ["inspect", *common]])
    assert shown.exit_code == 0 and "context elevation: ok" in shown.output
    made = CliRunner().invoke(cli, [str(part) for part in ["site", *common, "--rain-mm", 60, "--out", tmp_path]])
    assert made.exit_code == 0, made.output
    assert "silent.tif" in (tmp_path / "result.json").read_text()
    assert "of which from beyond" in (tmp_path / "map.html").read_text()
