from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import shapely
from pyproj import Transformer

from screening.errors import InputError
from screening.inputs import open_elevation
from screening.inputs.vector.lots import choose_lots
from screening.models import LatLon, SiteRequest
from screening.report.words.notes import note_words
from tests.inputs.files import NORTH, WEST, square, terrain, write_layer, write_raster

CASES: dict[str, Any] = {"lot_id": ["7", "8", "8", None, "far"]}
SHAPES = [square(1, 1), square(6, 1), square(6, 5, 3), square(1, 6, 2), square(500, 500)]


@pytest.fixture
def ground(tmp_path: Path) -> Path:
    return write_raster(tmp_path / "ground.tif", terrain(20, 30))


def _choose(ground: Path, **request: Any) -> tuple[list[str], str]:
    lots, notes = choose_lots(SiteRequest(elevation=ground, **request), open_elevation(ground).grid)
    assert lots.index.tolist() == list(range(len(lots)))
    return lots["lot_id"].tolist(), " | ".join(note_words(note) for note in notes)


def _place(x: float, y: float) -> LatLon:
    lon, lat = Transformer.from_crs("EPSG:26917", "EPSG:4326", always_xy=True).transform(WEST + x, NORTH - y)
    return LatLon(lat, lon)


def test_all_lots_on_the_raster_in_the_order_of_the_file(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.gpkg", SHAPES, **CASES)
    names, text = _choose(ground, lots=spec)
    assert names == ["7", "8", "8#2", "unnamed-1"]
    assert "1 ids in lot_id stand for several lots (8)" in text
    assert "1 lots without an id" in text


@pytest.mark.parametrize(
    ("wanted", "found"),
    [(("7",), ["7"]), (("8",), ["8", "8#2"]), (("8#2",), ["8#2"]), (("unnamed-1", "7"), ["7", "unnamed-1"])],
)
def test_lots_by_id(ground: Path, tmp_path: Path, wanted: tuple[str, ...], found: list[str]) -> None:
    assert _choose(ground, lots=write_layer(tmp_path / "lots.gpkg", SHAPES, **CASES), lot_ids=wanted)[0] == found


def test_ids_of_numbers_and_of_a_named_column(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.geojson", SHAPES[:2], Parcel_ID=[12.0, 13.0], other=["x", "y"])
    assert _choose(ground, lots=spec, lot_ids=("12",))[0] == ["12"]
    assert _choose(ground, lots=spec, lot_id_field="OTHER")[0] == ["x", "y"]
    with pytest.raises(InputError, match=r"no column 'pin'.*Parcel_ID, other"):
        _choose(ground, lots=spec, lot_id_field="pin")


@pytest.mark.parametrize(
    "more",
    [
        {"id": 5_000_000_000},
        {"floors": [1, 2]},
        {"names": ["a"], "id": 2**40},
        {"id": -7},
        {"id": -(2**31) - 2},
        {"id": -(2**40)},
    ],
)
def test_a_lot_by_id_beside_what_features_are_not_read_one_by_one_with(
    ground: Path, tmp_path: Path, more: dict[str, Any]
) -> None:
    """Numbers of features above 2147483647 or below 0, and columns of lists."""
    spec = Path(write_layer(tmp_path / "lots.geojson", SHAPES[:2], lot_id=["7", "8"]))
    document = json.loads(spec.read_text(encoding="utf-8"))
    for number, feature in enumerate(document["features"]):
        feature["properties"] |= {**more, "id": more["id"] + number} if "id" in more else more
    spec.write_text(json.dumps(document), encoding="utf-8")
    assert _choose(ground, lots=str(spec), lot_ids=("8",))[0] == ["8"]
    assert _choose(ground, lots=str(spec))[0] == ["7", "8"]


def test_without_a_usual_column_lots_are_numbered_with_a_note(ground: Path, tmp_path: Path) -> None:
    names, text = _choose(ground, lots=write_layer(tmp_path / "lots.geojson", SHAPES[:2], colour=["red", "blue"]))
    assert names == ["lot-1", "lot-2"]
    assert "numbered by their position" in text


def test_an_id_that_is_not_there_names_the_nearest(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.geojson", SHAPES[:3], apn=["054-201", "054-202", "991"])
    with pytest.raises(InputError, match=r"no lot '054-210'.*nearest: 054-20"):
        _choose(ground, lots=spec, lot_ids=("054-210",))


def test_lots_off_the_raster(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.gpkg", [*SHAPES, square(28, 3)], lot_id=["7", "8", "8", None, "far", "edge"])
    with pytest.raises(InputError, match="outside the elevation raster"):
        _choose(ground, lots=spec, lot_ids=("far",))
    names, text = _choose(ground, lots=spec, lot_ids=("far", "7", "edge"))
    assert names == ["7", "edge"]
    assert "1 lots outside the elevation raster left out (far)" in text
    assert "1 lots reach beyond the elevation raster (edge)" in text
    with pytest.raises(InputError, match="No lot lies on"):
        _choose(ground, lots=write_layer(tmp_path / "away.gpkg", [square(900, 900)], lot_id=["1"]))


def test_the_lot_at_a_place(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.gpkg", SHAPES, **CASES)
    assert _choose(ground, lots=spec, at=_place(7, 2))[0] == ["8"]
    with pytest.raises(InputError, match=r"nearest is unnamed-1, 2\.0 m away"):
        _choose(ground, lots=spec, at=_place(2, 10))
    with pytest.raises(InputError, match="outside the elevation raster"):
        _choose(ground, lots=spec, at=_place(900, 0))


def test_a_place_on_lots_that_lie_upon_each_other_takes_the_first(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.gpkg", [square(1, 1), square(1, 1)], lot_id=["flat 1", "flat 2"])
    names, text = _choose(ground, lots=spec, at=_place(2, 2))
    assert names == ["flat 1"]
    assert "flat 1, flat 2" in text


def test_without_lots_a_circle_stands_for_the_lot(ground: Path) -> None:
    grid = open_elevation(ground).grid
    lots, notes = choose_lots(SiteRequest(elevation=ground, at=_place(10, 10), radius_m=5.0), grid)
    assert lots["lot_id"].tolist() == ["site"]
    assert lots.geometry.iloc[0].area == pytest.approx(3.1416 * 25, rel=0.002)
    assert lots.geometry.iloc[0].centroid.distance(shapely.Point(WEST + 10, NORTH - 10)) < 0.001
    assert notes[0].kind == "assumed"
    with pytest.raises(InputError, match="radius"):
        _choose(ground, at=_place(10, 10), radius_m=0.0)


def test_requests_that_ask_for_nothing_or_for_two_things_are_refused(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.gpkg", SHAPES, **CASES)
    with pytest.raises(InputError, match="nothing to screen"):
        _choose(ground)
    with pytest.raises(InputError, match="both by id and by place"):
        _choose(ground, lots=spec, lot_ids=("7",), at=_place(2, 2))


def test_a_lot_of_two_parts_is_one_lot(ground: Path, tmp_path: Path) -> None:
    pair = shapely.MultiPolygon([square(1, 1), square(10, 1)])
    grid = open_elevation(ground).grid
    request = SiteRequest(elevation=ground, lots=write_layer(tmp_path / "lots.gpkg", [pair], lot_id=["7"]))
    lots, _ = choose_lots(request, grid)
    assert lots.geometry.iloc[0].equals(pair)


def test_a_lot_asked_for_that_has_no_polygon_is_refused(ground: Path, tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "lots.gpkg", [SHAPES[0], None], lot_id=["7", "gone"])
    with pytest.raises(InputError, match=r"no usable polygon.*gone.*repair them"):
        _choose(ground, lots=spec, lot_ids=("gone",))
    assert _choose(ground, lots=spec, lot_ids=("7", "gone"))[0] == ["7"]


def test_a_place_that_the_projection_cannot_show_is_outside_at_no_distance(ground: Path) -> None:
    with pytest.raises(InputError, match="outside the elevation raster") as problem:
        _choose(ground, at=LatLon(0.0, 9.0), radius_m=5.0)
    assert " away" not in str(problem.value)
