"""The real data set: what its notes say must come out."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from screening.errors import InputError
from screening.inputs import inspect_inputs, load_block, open_elevation, open_site, read_elevation
from screening.models import LatLon, SiteRequest
from screening.report.words.notes import note_words
from screening.units import M_PER_US_FT

pytestmark = pytest.mark.realdata


def _bangor(data_dir: Path, **more: object) -> SiteRequest:
    folder = data_dir / "bangor"
    layers = {
        "lots": str(folder / "parcels_window.gpkg"),
        "structures": str(folder / "buildings_window.gpkg"),
        "roads": f"{folder / 'planimetry_window.gpkg'}::roads",
        "soils": str(folder / "soils_ssurgo_window.gpkg"),
    }
    return SiteRequest(elevation=folder / "dem_3ft_tin_DERIVED.tif", **{**layers, **more})  # type: ignore[arg-type]


def test_a_raster_whose_unit_is_not_tagged_needs_it_stated(data_dir: Path) -> None:
    path = data_dir / "alexandria" / "dtm.tif"
    with pytest.raises(InputError, match="--vertical-unit"):
        open_elevation(path)
    source = open_elevation(path, vertical_unit="m")
    grid, elev_m, _, _ = read_elevation(source, source.grid.bounds)
    assert (grid.crs, grid.cell_m, grid.shape) == ("EPSG:26918", 2.0, (259, 283))
    assert (grid.west_m, grid.north_m) == (321498.0, 4298018.0)
    assert np.isnan(elev_m).sum() == 276
    with rasterio.open(path) as raster:
        pixels = raster.read(1)
    np.testing.assert_array_equal(elev_m[pixels != -9999], pixels[pixels != -9999])


def test_footprints_in_degrees_fall_on_the_raster(data_dir: Path) -> None:
    folder = data_dir / "alexandria"
    request = SiteRequest(
        elevation=folder / "dtm.tif",
        vertical_unit="m",
        structures=str(folder / "buildings.geojson"),
        at=LatLon(38.8105, -77.0525),
    )
    site = open_site(request)
    block = load_block(site, site.elevation.grid.bounds)
    features = gpd.read_file(folder / "buildings.geojson")
    assert len(features) == 84
    assert len(block.structures) == len(features.explode())
    # Areas on the ellipsoid against areas on the UTM plane, whose scale there is 1.0 within 0.04 %.
    geod = features.crs.get_geod()
    on_ellipsoid_m2 = sum(abs(geod.geometry_area_perimeter(shape)[0]) for shape in features.geometry)
    assert block.structures.geometry.area.sum() == pytest.approx(on_ellipsoid_m2, rel=1e-3)
    assert 0 < (block.structures["lot_id"] == "site").sum() < 84


def test_feet_in_x_y_and_z_keep_every_cell(data_dir: Path) -> None:
    source = open_elevation(data_dir / "bangor" / "dem_3ft_tin_DERIVED.tif")
    assert (source.vertical_unit, source.is_resampled, source.grid.crs) == ("us-ft", False, "EPSG:26983")
    grid, elev_m, sides, _ = read_elevation(source, source.grid.bounds)
    with rasterio.open(source.path) as raster:
        feet = raster.read(1)
    np.testing.assert_array_equal(elev_m, (feet.astype(np.float64) * M_PER_US_FT).astype(np.float32))
    assert sides == 15
    to_metres = Transformer.from_crs("EPSG:26847", "EPSG:26983", always_xy=True)
    assert to_metres.transform(915_000.0, 420_000.0) == pytest.approx((grid.west_m, grid.north_m), abs=1e-6)
    assert to_metres.transform(918_000.0, 415_500.0) == pytest.approx(grid.bounds[2:0:-1], abs=1e-6)


def test_defects_of_the_parcels_are_mended_and_told(data_dir: Path) -> None:
    site = open_site(_bangor(data_dir))
    block = load_block(site, site.elevation.grid.bounds)
    assert len(site.lots) == 1199
    assert site.lots["lot_id"].is_unique
    assert site.lots.geometry.is_valid.all()
    assert not site.lots.has_z.any()
    assert block.structures["structure_id"].is_unique
    text = " | ".join(note_words(note) for note in block.notes)
    for words in (
        "5 ids in MAP_LOT stand for several lots",
        "5 lots without an id in MAP_LOT",
        "1 invalid geometries repaired",
        "1 slivers",
        "every group is unknown",
        "reach beyond the elevation raster",
    ):
        assert words in text
    assert set(block.soils["hsg"]) == {"unknown"}
    assert block.soils["mukey"].str.fullmatch(r"\d{6}").all()


def test_areas_in_metres_are_those_in_feet(data_dir: Path) -> None:
    site = open_site(_bangor(data_dir))
    feet = gpd.read_file(data_dir / "bangor" / "parcels_window.gpkg").set_index("MAP_LOT")
    for lot_id in ("053-216", "053-217"):
        ours = site.lots.set_index("lot_id").geometry[lot_id].area
        assert ours == pytest.approx(feet.geometry[lot_id].area * M_PER_US_FT**2, rel=1e-6)


def test_one_lot_by_id_by_repeated_id_and_by_place(data_dir: Path) -> None:
    one = open_site(_bangor(data_dir, lot_ids=("053-216",)))
    assert one.lots["lot_id"].tolist() == ["053-216"]
    inside = one.lots.geometry.iloc[0].representative_point()
    lon, lat = Transformer.from_crs("EPSG:26983", "EPSG:4326", always_xy=True).transform(inside.x, inside.y)
    assert open_site(_bangor(data_dir, at=LatLon(lat, lon))).lots["lot_id"].tolist() == ["053-216"]
    several = open_site(_bangor(data_dir, lot_ids=("047-268-A",))).lots["lot_id"].tolist()
    assert several[0] == "047-268-A"
    assert len(several) > 1
    assert all(name.startswith("047-268-A#") for name in several[1:])


def test_a_window_of_one_lot_gives_what_the_whole_gives(data_dir: Path) -> None:
    whole_site = open_site(_bangor(data_dir))
    whole = load_block(whole_site, whole_site.elevation.grid.bounds)
    site = open_site(_bangor(data_dir, lot_ids=("053-216",)))
    west, south, east, north = site.lots.total_bounds
    block = load_block(site, (west - 60, south - 60, east + 60, north + 60))
    ours = block.structures[block.structures["lot_id"] == "053-216"].set_index("structure_id")
    theirs = whole.structures[whole.structures["lot_id"] == "053-216"].set_index("structure_id")
    assert len(ours) >= 1
    assert sorted(ours.index) == sorted(theirs.index)
    col = round((block.grid.west_m - whole.grid.west_m) / whole.grid.cell_m)
    row = round((whole.grid.north_m - block.grid.north_m) / whole.grid.cell_m)
    same = whole.elev_m[row : row + block.grid.n_rows, col : col + block.grid.n_cols]
    np.testing.assert_array_equal(block.elev_m, same)


def test_inspection_of_real_inputs(data_dir: Path) -> None:
    found = inspect_inputs(_bangor(data_dir), rainfall=data_dir / "rainfall" / "depth_in_headerless_gulf_coast.csv")
    items = {item.subject: item for item in found.items}
    assert not found.can_run
    assert found.why_not.startswith("rainfall:")
    assert items["elevation"].ok
    assert items["lots"].facts["ids from"] == "MAP_LOT"
    assert items["lots"].facts["features"] == "1,358"
    assert items["soils"].facts["hsg"] == "unknown 27"
    assert inspect_inputs(_bangor(data_dir)).can_run
