"""The whole job on real data that nobody here made; skipped where they are absent."""

import geopandas as gpd
import numpy as np
import pytest
from skimage.morphology import reconstruction

from screening.flow.dispersive import dispersive_area_m2
from screening.kernels.fill import fill_depressions
from screening.models import LatLon, Rain, SiteRequest
from screening.schema.criteria import Criteria
from screening.site.screen import screen_site
from screening.units import M_PER_US_FT
from tests.kernels.peers import WhiteboxPeer

pytestmark = [pytest.mark.realdata, pytest.mark.slow]

RAIN = Rain(depth_mm=76.2, label="stated depth", source="stated depth")


@pytest.fixture(scope="module")
def alexandria(real_data):
    folder = real_data / "alexandria"
    request = SiteRequest(
        elevation=folder / "dtm.tif",
        structures=str(folder / "buildings.geojson"),
        vertical_unit="m",
        at=LatLon(38.8106, -77.0525),
        radius_m=60.0,
    )
    return screen_site(request, rain=RAIN).result


@pytest.fixture(scope="module")
def bangor(real_data):
    folder = real_data / "bangor"
    request = SiteRequest(
        elevation=folder / "dem_3ft_tin_DERIVED.tif",
        lots=str(folder / "parcels_window.gpkg"),
        structures=str(folder / "buildings_window.gpkg"),
        roads=f"{folder / 'planimetry_window.gpkg'}::roads",
        soils=str(folder / "soils_ssurgo_window.gpkg"),
        lot_ids=("053-208", "053-211", "053-212"),
    )
    return screen_site(request, rain=RAIN, units="us").result


def fill_by_skimage(elev):
    """Exact fill with the window edge and gaps as outlets, by a library that is not of this field."""
    known = ~np.isnan(elev)
    ground = np.where(known, elev, -1e6)
    seed = np.full(elev.shape, ground.max())
    seed[0], seed[-1], seed[:, 0], seed[:, -1] = ground[0], ground[-1], ground[:, 0], ground[:, -1]
    seed[~known] = -1e6
    return np.where(known, reconstruction(seed, ground, method="erosion", footprint=np.ones((3, 3))), np.nan)


@pytest.mark.parametrize("site", ["alexandria", "bangor"])
def test_fill_agrees_with_an_independent_one(site, request):
    result = request.getfixturevalue(site)
    expected = fill_by_skimage(result.surface.routed_elev_m.astype(np.float64))
    assert np.array_equal(result.flow.filled_elev_m, expected.astype(np.float32), equal_nan=True)


@pytest.mark.parametrize("site", ["alexandria", "bangor"])
def test_fill_agrees_with_programs_of_the_field(site, request, tmp_path):
    """On the bare ground of each window: pyflwdir, and whitebox-workflows after Wang & Liu."""
    import pyflwdir

    ground = request.getfixturevalue(site).surface.elev_m
    filled = fill_depressions(ground, True)
    nodata = np.float32(-9999.0)
    by_pyflwdir, _ = pyflwdir.dem.fill_depressions(
        np.where(np.isnan(ground), nodata, ground), nodata=-9999.0, outlets="edge"
    )
    assert np.array_equal(filled, np.where(by_pyflwdir == nodata, np.nan, by_pyflwdir), equal_nan=True)
    peer = WhiteboxPeer(ground, tmp_path)
    by_whitebox = peer.to_array(peer.hydrology.fill_depressions_wang_and_liu(dem=peer.elev, fix_flats=False))
    assert np.array_equal(filled, np.where(by_whitebox == nodata, np.nan, by_whitebox), equal_nan=True)


@pytest.mark.parametrize("site", ["alexandria", "bangor"])
def test_water_is_conserved(site, request):
    result = request.getfixturevalue(site)
    balance = result.ponding
    assert balance.ponded_m3 + balance.left_window_m3 == pytest.approx(balance.runoff_m3, rel=1e-9)
    flow = result.flow
    outlets = flow.receiver == np.arange(flow.receiver.size)
    area = np.count_nonzero(flow.receiver >= 0) * flow.grid.cell_area_m2
    assert flow.contributing_area_m2.ravel()[outlets].sum() == pytest.approx(area, rel=1e-9)
    assert dispersive_area_m2(flow).ravel()[outlets].sum() == pytest.approx(area, rel=1e-9)


def test_alexandria_is_screened_in_its_own_metres(alexandria):
    assert alexandria.block.grid.crs == "EPSG:26918" and alexandria.block.grid.cell_m == 2.0
    assert alexandria.summary.lot_id.tolist() == ["site"]
    assert alexandria.summary.area_m2.iloc[0] == pytest.approx(np.pi * 60**2, rel=0.01)
    assert len(alexandria.structures) == 8
    # No soils, no driveways: not assessed, never passed.
    outcomes = {(v.subject_kind, v.outcome) for v in alexandria.verdicts if v.statistic in ("infiltration_area_m2", "")}
    assert outcomes == {("lot", "not assessed"), ("driveway", "not assessed")}


def test_alexandria_holds_no_water_inside_walls(alexandria):
    inside = alexandria.surface.structure_index > 0
    assert alexandria.depressions.depth_m[inside].max() == 0
    assert alexandria.depressions.depth_m.max() > 0.5  # there are low spots beside them


def test_bangor_is_screened_in_metres(bangor, real_data):
    grid = bangor.block.grid
    assert grid.cell_m == pytest.approx(3 * M_PER_US_FT, rel=1e-12)
    # The file holds US survey feet of height: 24.9 to 52.7 m over the whole raster.
    assert 24.9 < np.nanmin(bangor.block.elev_m) < np.nanmax(bangor.block.elev_m) < 52.8
    parcels = gpd.read_file(real_data / "bangor" / "parcels_window.gpkg").set_index("MAP_LOT")
    for row in bangor.summary.itertuples():
        assert row.area_m2 == pytest.approx(parcels.geometry[row.lot_id].area * M_PER_US_FT**2, rel=1e-5)


def test_bangor_soils_without_groups_stay_unknown(bangor):
    assert set(bangor.block.soils.hsg) == {"unknown"}
    assert bangor.summary.hsg.tolist() == ["unknown 100%"] * 3
    assert set(bangor.summary.infiltration_status) <= {"not assessed", "none found"}
    assert bangor.summary.infiltration_area_m2.sum() == 0
    assert any("group" in note.text for note in bangor.notes if note.subject == "soils")


def test_bangor_in_feet_and_in_metres_finds_the_same(bangor, real_data, tmp_path):
    """The same ground, brought to metres by hand beforehand and read as a metre raster: the same numbers."""
    import rasterio
    from affine import Affine

    source = real_data / "bangor" / "dem_3ft_tin_DERIVED.tif"
    with rasterio.open(source) as feet:
        elev, transform = feet.read(1), feet.transform
        profile = feet.profile | {"crs": "EPSG:26983"}
        known = elev != feet.nodata
    scale = M_PER_US_FT
    profile["transform"] = Affine(
        transform.a * scale, 0, transform.c * scale, 0, transform.e * scale, transform.f * scale
    )
    with rasterio.open(tmp_path / "metres.tif", "w", **profile) as metres:
        metres.write(np.where(known, (elev.astype(np.float64) * scale).astype(np.float32), profile["nodata"]), 1)
        metres.units = ("m",)
    folder = real_data / "bangor"
    request = SiteRequest(
        elevation=tmp_path / "metres.tif",
        lots=str(folder / "parcels_window.gpkg"),
        structures=str(folder / "buildings_window.gpkg"),
        lot_ids=tuple(bangor.summary.lot_id),
    )
    found = screen_site(request, rain=RAIN, criteria=Criteria()).summary
    for name in ("contributing_area_m2", "off_lot_area_m2", "slope_pct", "low_spot_volume_m3"):
        assert found[name].tolist() == pytest.approx(bangor.summary[name].tolist(), rel=1e-4, abs=0.01), name
