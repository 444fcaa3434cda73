"""Files of improvements: what is read, in every unit, and what each refusal says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest
import shapely

from screening.errors import InputError
from screening.inputs import read_improvements
from screening.report.words.notes import note_words
from screening.schema.codes.notes import NoteCode
from screening.schema.work_kinds import UNITS, all_kinds

CRS = "EPSG:26917"
LINE = shapely.LineString([(500_010.0, 4_399_990.0), (500_022.0, 4_399_990.0)])
AREA = shapely.box(500_010.0, 4_399_970.0, 500_015.0, 4_399_980.0)
SPOT = shapely.Point(500_030.0, 4_399_985.0)


def saved(tmp_path: Path, *features: tuple[Any, dict[str, Any]], name: str = "improvements.geojson") -> Path:
    """A GeoJSON as a drawing tool saves it: longitude and latitude, each feature with its own properties."""
    shapes = gpd.GeoSeries([shape for shape, _ in features], crs=CRS).to_crs(4326)
    document = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": properties, "geometry": shapely.geometry.mapping(shape)}
            for shape, (_, properties) in zip(shapes, features, strict=True)
        ],
    }
    (tmp_path / name).write_text(json.dumps(document), encoding="utf-8")
    return tmp_path / name


def read(tmp_path: Path, *features: tuple[Any, dict[str, Any]]) -> Any:
    return read_improvements(saved(tmp_path, *features), crs=CRS)


def test_every_kind_is_read_with_its_place_and_numbers(tmp_path: Path) -> None:
    improvements = read(
        tmp_path,
        (LINE, {"id": "T-1", "kind": "trench_drain", "to": "O-1", "width_m": 0.2, "depth_m": 0.3, "use": "cars"}),
        (SPOT, {"id": "O-1", "kind": "outlet"}),
        (LINE, {"kind": "Swale", "depth_m": 0.25}),
        (LINE, {"kind": "berm", "height_m": 0.4}),
        (LINE, {"kind": "wall", "height_m": 0.5}),
        (AREA, {"kind": "regrade", "slope_pct": 5, "falls_toward_deg": 90}),
        (LINE, {"kind": "culvert", "invert_up_m": 99.0, "invert_down_m": 98.5}),
        (SPOT, {"kind": "downspout", "structure_id": "H-1", "to": "OFF"}),
        (AREA, {"kind": "storage", "volume_m3": 2.5}),
    )
    assert [improvement.kind for improvement in improvements.items] == [
        "trench_drain",
        "outlet",
        "swale",
        "berm",
        "wall",
        "regrade",
        "culvert",
        "downspout",
        "storage",
    ]
    assert [improvement.improvement_id for improvement in improvements.items[2:4]] == ["W-3", "W-4"]
    first = improvements.items[0]
    assert first.geometry.equals_exact(LINE, 1e-6)
    assert dict(first.numbers) == {"width_m": 0.2, "depth_m": 0.3} and first.word("use") == "cars"
    assert improvements.items[7].word("to") == "off"
    assert {improvement.kind for improvement in improvements.items} == set(all_kinds())


@pytest.mark.parametrize(
    ("properties", "key", "expected"),
    [
        ({"kind": "berm", "height_m": 0.3048}, "height_m", 0.3048),
        ({"kind": "berm", "height_ft": 1}, "height_m", 0.3048),
        ({"kind": "berm", "height_in": "12"}, "height_m", 0.3048),
        ({"kind": "berm", "HEIGHT_CM": 30.48}, "height_m", 0.3048),
        ({"kind": "berm", "height_us_ft": 1}, "height_m", 1200 / 3937),
    ],
)
def test_feet_and_metres_are_the_same(tmp_path: Path, properties: Any, key: str, expected: float) -> None:
    assert read(tmp_path, (LINE, properties)).items[0].numbers[key] == pytest.approx(expected, rel=1e-12)


def test_gallons_and_inverts_in_feet(tmp_path: Path) -> None:
    storage, culvert = {"kind": "storage", "volume_gal": 1000}, {"kind": "culvert", "invert_up_ft": 10}
    improvements = read(tmp_path, (AREA, storage), (LINE, culvert))
    assert improvements.items[0].numbers["volume_m3"] == pytest.approx(3.785411784, rel=1e-12)
    assert improvements.items[1].numbers["invert_up_m"] == pytest.approx(3.048)


@pytest.mark.parametrize(
    ("shape", "properties", "says"),
    [
        (LINE, {"height_m": 1}, "Feature 1 .* has no kind.*trench_drain.*write one of these"),
        (LINE, {"kind": "moat"}, "of no kind that is known.*'moat'"),
        (SPOT, {"kind": "berm", "height_m": 1}, "is drawn as a point.*a line"),
        (LINE, {"kind": "berm"}, "has no height.*height_m or height_ft or height_in.*add"),
        (LINE, {"kind": "berm", "height": 1}, "height without a unit in its name.*rename it to height_m"),
        (LINE, {"kind": "berm", "height_m": 1, "height_ft": 3}, "gives one number twice.*height_m, height_ft"),
        (LINE, {"kind": "berm", "height_m": "tall"}, "no number.*'tall'"),
        (LINE, {"kind": "berm", "height_m": True}, "no number.*True"),
        (LINE, {"kind": "berm", "height_m": "0_5"}, "no number.*'0_5'"),
        (LINE, {"kind": "berm", "height_m": [1, 2]}, r"no number.*\[1, 2\]"),
        (LINE, {"kind": ["berm"], "height_m": 1}, "of no kind that is known"),
        (AREA, {"kind": "regrade", "elev_m": -500.1}, "cannot be.*-500 to 9000"),
        (LINE, {"kind": "berm", "height_m": 45}, "cannot be.*45.*0.01 to 10 m"),
        (LINE, {"kind": "berm", "height_m": -1}, "cannot be"),
        (LINE, {"kind": "trench_drain"}, "does not say where its water goes.*`off`"),
        (LINE, {"kind": "trench_drain", "to": "O-9"}, "not among the improvements.*draw an outlet"),
        (LINE, {"kind": "trench_drain", "to": "off", "has_discharge_permission": "maybe"}, "neither yes nor no"),
        (AREA, {"kind": "regrade"}, "neither a level nor a slope"),
        (AREA, {"kind": "regrade", "slope_pct": 5}, "does not say which way it falls"),
    ],
)
def test_each_refusal_says_what_where_and_how_to_mend(tmp_path: Path, shape: Any, properties: Any, says: str) -> None:
    with pytest.raises(InputError, match=says):
        read(tmp_path, (shape, properties))


def test_numbers_at_the_ends_of_their_range_are_taken(tmp_path: Path) -> None:
    improvements = read(tmp_path, *((AREA, {"kind": "regrade", "elev_m": elev_m}) for elev_m in (-500, 9000)))
    assert [improvement.numbers["elev_m"] for improvement in improvements.items] == [-500.0, 9000.0]


def test_a_column_of_lists_beside_the_numbers_is_said_to_be_unread(tmp_path: Path) -> None:
    improvements = read(tmp_path, (LINE, {"kind": "berm", "height_m": 1, "tags": [1, 2]}))
    assert improvements.items[0].numbers["height_m"] == 1.0
    assert any("tags" in note_words(note) for note in improvements.notes)


@pytest.mark.parametrize("number", [5_000_000_000, -1, -(2**31) - 1])
def test_ids_of_ten_digits_or_below_0_are_read(tmp_path: Path, number: int) -> None:
    improvements = read(tmp_path, (LINE, {"kind": "berm", "height_m": 1, "id": number}))
    assert [improvement.improvement_id for improvement in improvements.items] == [str(number)]


def test_shared_ids_and_lost_shapes_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="share an id"):
        swale, berm = {"id": "A", "kind": "swale", "depth_m": 1}, {"id": "A", "kind": "berm", "height_m": 1}
        read(tmp_path, (LINE, swale), (LINE, berm))
    empty = shapely.LineString([(500_000, 4_399_990), (500_000, 4_399_990)])
    with pytest.raises(InputError, match=r"without a usable place.*number 2"):
        read(tmp_path, (LINE, {"kind": "swale", "depth_m": 1}), (empty, {"kind": "swale", "depth_m": 1}))
    both = shapely.MultiLineString([LINE, shapely.LineString([(500_000, 4_399_960), (500_010, 4_399_960)])])
    with pytest.raises(InputError, match="several parts"):
        read(tmp_path, (both, {"kind": "swale", "depth_m": 1}))


def test_files_that_hold_no_works_are_refused(tmp_path: Path) -> None:
    (tmp_path / "none.geojson").write_text('{"type": "FeatureCollection", "features": []}', encoding="utf-8")
    with pytest.raises(InputError):
        read_improvements(tmp_path / "none.geojson", crs=CRS)
    with pytest.raises(InputError, match="not there"):
        read_improvements(tmp_path / "absent.geojson", crs=CRS)
    (tmp_path / "torn.geojson").write_text('{"type": "Feat', encoding="utf-8")
    with pytest.raises(InputError, match="cannot be opened"):
        read_improvements(tmp_path / "torn.geojson", crs=CRS)


def test_a_drain_and_the_one_outlet_there_is_belong_together(tmp_path: Path) -> None:
    improvements = read(tmp_path, (LINE, {"kind": "trench_drain"}), (SPOT, {"id": "O", "kind": "outlet"}))
    assert improvements.items[0].word("to") == "O"
    with pytest.raises(InputError, match="2 outlets and storages"):
        storage = {"kind": "storage", "volume_l": 9}
        read(tmp_path, (LINE, {"kind": "trench_drain"}), (SPOT, {"kind": "outlet"}), (AREA, storage))


def test_what_is_not_read_is_said(tmp_path: Path) -> None:
    improvements = read(tmp_path, (LINE, {"kind": "berm", "height_m": 1, "colour": "red", "depth_m": 2}))
    assert [note_words(note) for note in improvements.notes if note.code is NoteCode.COLUMNS_NOT_READ] == [
        "berm W-1: not read: colour, depth_m"
    ]


def test_a_geopackage_of_several_layers_is_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "improvements.gpkg"
    lines = gpd.GeoDataFrame({"kind": ["berm"], "height_m": [0.5]}, geometry=[LINE], crs=CRS)
    areas = gpd.GeoDataFrame({"kind": ["regrade"], "elev_m": [99.0]}, geometry=[AREA], crs=CRS)
    lines.to_file(path, layer="lines")
    areas.to_file(path, layer="areas")
    improvements = read_improvements(path, crs=CRS)
    assert [(improvement.improvement_id, improvement.kind) for improvement in improvements.items] == [
        ("W-1", "berm"),
        ("W-2", "regrade"),
    ]
    assert [improvement.kind for improvement in read_improvements(f"{path}::areas", crs=CRS).items] == ["regrade"]


def test_hostile_text_stays_text(tmp_path: Path) -> None:
    improvements = read(tmp_path, (LINE, {"id": "<script>x</script>", "kind": "berm", "height_m": 1}))
    assert improvements.items[0].improvement_id == "<script>x</script>"


def test_no_number_has_a_name_that_another_ends_like() -> None:
    for kind in all_kinds().values():
        names = [number.name + ending for number in kind.numbers for ending in UNITS[number.quantity]]
        assert len(names) == len(set(names))
        assert not set(names) & set(kind.words)


@pytest.mark.parametrize(("word", "means"), [("yes", "yes"), ("No", "no"), ("TRUE", "yes"), (False, "no")])
def test_yes_and_no_are_read_however_they_are_written(tmp_path: Path, word: Any, means: str) -> None:
    improvements = read(
        tmp_path, (LINE, {"kind": "trench_drain", "width_m": 0.2, "to": "off", "has_overflow_path": word})
    )
    assert improvements.items[0].word("has_overflow_path") == means
