from __future__ import annotations

import pickle
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import shapely

from screening.errors import InputError
from screening.inputs import load_block, open_site
from screening.inputs.block import LAYERS
from screening.models import EAST_SIDE, NORTH_SIDE, WEST_SIDE, SiteRequest
from screening.report.words.notes import note_words
from tests.inputs.files import NORTH, UTM, WEST, square, terrain, write_layer, write_raster

LOTS = [square(2, 2, 8), square(12, 2, 8), square(22, 2, 6)]


@pytest.fixture
def request_of_all(tmp_path: Path) -> SiteRequest:
    """A request with every layer, in several formats and CRSs."""
    geographic = [shapely.geometry.shape(shape) for shape in gpd.GeoSeries(LOTS, crs=UTM).to_crs(4326)]
    line = shapely.LineString([(WEST + 1, NORTH - 1), (WEST + 25, NORTH - 15)])
    return SiteRequest(
        elevation=write_raster(tmp_path / "ground.tif", terrain(20, 30)),
        lots=write_layer(tmp_path / "lots.geojson", geographic, crs=4326, lot_id=["1", "2", "3"]),
        structures=write_layer(tmp_path / "s.gpkg", [square(3, 3), square(9.5, 3), square(500, 0)], kind=["house"] * 3),
        driveways=write_layer(tmp_path / "d.shp", [square(13, 3, 2)]),
        roads=write_layer(tmp_path / "r.gpkg", [square(0, 12, 30)]),
        soils=write_layer(tmp_path / "soil.gpkg", [square(0, 0, 40)], hydgrp=["C"], mukey=["1"]),
        drains=write_layer(tmp_path / "k.gpkg", [line]) + "::k",
        wells=write_layer(tmp_path / "w.gpkg", [shapely.Point(WEST + 4, NORTH - 9)]),
        septic=write_layer(tmp_path / "f.gpkg", [square(14, 6, 3)]),
        barriers=write_layer(tmp_path / "b.gpkg", [line], kind=["curb"], height_m=[0.1]),
        downspouts=write_layer(tmp_path / "p.gpkg", [shapely.Point(WEST + 5, NORTH - 6)]),
        doors=write_layer(tmp_path / "o.gpkg", [shapely.Point(WEST + 5, NORTH - 7)], sill_elev_m=[101.0]),
        wetlands=write_layer(tmp_path / "wet.gpkg", [square(20, 9, 3)]),
        utilities=write_layer(tmp_path / "u.gpkg", [line]),
        trees=write_layer(tmp_path / "t.gpkg", [square(24, 9, 3)]),
    )


def test_a_block_of_every_layer(request_of_all: SiteRequest) -> None:
    site = open_site(request_of_all)
    block = load_block(site, (WEST - 5, NORTH - 16.5, WEST + 25, NORTH + 5))
    assert block.grid.shape == (17, 25)
    np.testing.assert_array_equal(block.elev_m, terrain(20, 30)[:17, :25])
    assert not block.elev_m.flags.writeable
    assert block.data_sides == NORTH_SIDE | WEST_SIDE
    assert block.given == frozenset({"lots", *LAYERS})
    assert block.lots["lot_id"].tolist() == ["1", "2", "3"]
    assert block.structures["structure_id"].tolist() == ["S-1", "S-2"]
    # The second footprint lies 0.5 m on lot 1 and 1.5 m on lot 2.
    assert block.structures["lot_id"].tolist() == ["1", "2"]
    assert block.driveways["lot_id"].tolist() == ["2"]
    assert block.soils["hsg"].tolist() == ["C"]
    rest = (
        block.roads,
        block.drains,
        block.wells,
        block.septic,
        block.barriers,
        block.downspouts,
        block.doors,
        block.wetlands,
        block.utilities,
        block.trees,
    )
    assert [len(layer) for layer in rest] == [1] * 10
    for name in ("lots", *LAYERS):
        frame = getattr(block, name)
        assert frame.crs == block.grid.crs
        assert frame.index.tolist() == list(range(len(frame)))
    assert not [note for note in block.notes if note.kind == "missing"]


def test_a_lot_alone_keeps_what_is_its_own_in_a_batch(request_of_all: SiteRequest) -> None:
    window = (WEST, NORTH - 16, WEST + 25, NORTH)
    together = load_block(open_site(request_of_all), window)
    fields = {**request_of_all.__dict__, "lot_ids": ("1",)}
    alone = load_block(open_site(SiteRequest(**fields)), window)
    assert alone.lots["lot_id"].tolist() == ["1"]
    assert alone.structures["structure_id"].tolist() == together.structures["structure_id"].tolist()
    assert alone.structures["lot_id"].tolist() == ["1", ""]
    np.testing.assert_array_equal(alone.elev_m, together.elev_m)


def test_layers_not_given_are_empty_with_their_columns_and_a_note(request_of_all: SiteRequest) -> None:
    site = open_site(SiteRequest(elevation=request_of_all.elevation, lots=request_of_all.lots))
    block = load_block(site, site.elevation.grid.bounds)
    full = load_block(open_site(request_of_all), site.elevation.grid.bounds)
    missing = {note.subject: note_words(note) for note in block.notes if note.kind == "missing"}
    assert set(missing) == set(LAYERS)
    assert block.given == frozenset({"lots"})
    for name in LAYERS:
        frame = getattr(block, name)
        assert len(frame) == 0
        assert list(frame.columns) == list(getattr(full, name).columns)
        assert frame.crs == UTM
    assert "cannot be assessed" in missing["structures"]


def test_window_is_cut_at_the_raster(request_of_all: SiteRequest) -> None:
    site = open_site(request_of_all)
    block = load_block(site, (WEST + 20, NORTH - 12, WEST + 900, NORTH - 4))
    assert (block.grid.shape, block.data_sides) == ((8, 10), EAST_SIDE)
    with pytest.raises(InputError, match="outside"):
        load_block(site, (0, 0, 1, 1))


def test_layers_without_a_feature_in_the_window_are_empty_not_missing(request_of_all: SiteRequest) -> None:
    site = open_site(request_of_all)
    block = load_block(site, (WEST + 26, NORTH - 9, WEST + 30, NORTH - 5))
    assert (len(block.structures), len(block.driveways), len(block.lots)) == (0, 0, 1)
    assert list(block.structures.columns) == ["structure_id", "lot_id", "kind", "geometry"]
    assert not [note for note in block.notes if note.kind == "missing"]


def test_a_site_travels_to_a_worker(request_of_all: SiteRequest) -> None:
    site = pickle.loads(pickle.dumps(open_site(request_of_all)))
    assert load_block(site, site.elevation.grid.bounds).lots["lot_id"].tolist() == ["1", "2", "3"]


@pytest.mark.parametrize("name", LAYERS)
def test_a_bad_layer_is_named(request_of_all: SiteRequest, name: str) -> None:
    fields: dict[str, Any] = {**request_of_all.__dict__, name: "absent.gpkg"}
    site = open_site(SiteRequest(**fields))
    with pytest.raises(InputError, match=f"{name} layer is not there"):
        load_block(site, site.elevation.grid.bounds)
