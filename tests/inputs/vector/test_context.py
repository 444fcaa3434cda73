from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import shapely

from screening.errors import InputError
from screening.inputs.vector.context import assign_lots, kind_of, load_driveways, load_structures, load_wells
from screening.inputs.vector.drains import load_drains
from screening.inputs.vector.soils import group_of, load_soils
from screening.models import Note
from screening.report.words.notes import note_words
from tests.inputs.files import NORTH, UTM, WEST, square, write_layer

BOUNDS = (WEST, NORTH - 40, WEST + 40, NORTH)


def _text(notes: tuple[Note, ...]) -> str:
    return " | ".join(note_words(note) for note in notes)


def _line(*points: tuple[float, float]) -> shapely.LineString:
    return shapely.LineString([(WEST + x, NORTH - y) for x, y in points])


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("House", "house"),
        ("single-family dwelling", "house"),
        ("Detached garage", "garage"),
        ("CARPORT", "garage"),
        ("garden_shed", "shed"),
        ("warehouse", "structure"),
        ("greenhouse", "structure"),
        ("PRIMARY", "structure"),
        ("", "structure"),
    ],
)
def test_kinds_are_read_from_words_and_not_guessed(word: str, kind: str) -> None:
    assert kind_of(word) == kind


def test_structures_take_ids_and_kinds_where_they_stand(tmp_path: Path) -> None:
    pair = shapely.MultiPolygon([square(20, 1), square(26, 1)])
    spec = write_layer(
        tmp_path / "s.gpkg",
        [square(1, 1), square(8, 1), pair],
        Bldg_ID=["a", "a", "b"],
        TYPE=["yes", "garage", None],
        use=["residence", "residence", "shed"],
    )
    frame, notes = load_structures(spec, crs=UTM, bounds=BOUNDS)
    assert frame["structure_id"].tolist() == ["a", "a#2", "b-1", "b-2"]
    assert frame["kind"].tolist() == ["house", "garage", "shed", "shed"]
    assert list(frame.columns) == ["structure_id", "lot_id", "kind", "geometry"]
    assert "#2" in _text(notes)


def test_ids_by_position_are_the_same_in_every_window(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "s.gpkg", [square(6 * k, 1) for k in range(6)])
    whole, _ = load_structures(spec, crs=UTM, bounds=BOUNDS)
    east, _ = load_structures(spec, crs=UTM, bounds=(WEST + 20, NORTH - 40, WEST + 40, NORTH))
    assert whole["structure_id"].tolist() == [f"S-{k}" for k in range(1, 7)]
    assert east["structure_id"].tolist() == ["S-4", "S-5", "S-6"]


def test_driveways_and_wells(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "d.gpkg", [square(1, 1)], drive_id=[4])
    frame, _ = load_driveways(spec, crs=UTM, bounds=BOUNDS)
    assert frame["driveway_id"].tolist() == ["4"]
    dots = [shapely.Point(WEST + 1, NORTH - 1), shapely.MultiPoint([(WEST + 2, NORTH - 2), (WEST + 900, NORTH)])]
    wells, _ = load_wells(write_layer(tmp_path / "w.geojson", dots), crs=UTM, bounds=BOUNDS)
    assert len(wells) == 2
    with pytest.raises(InputError, match=r"wells layer .* holds no points"):
        load_wells(spec, crs=UTM, bounds=BOUNDS)


def test_a_footprint_belongs_to_the_lot_it_overlaps_most() -> None:
    lots = gpd.GeoDataFrame({"lot_id": ["west", "east"]}, geometry=[square(0, 0, 10), square(10, 0, 10)], crs=UTM)
    shapes = [square(1, 1), square(7, 3), square(8.5, 3), square(30, 30), square(19.8, 5)]
    frame = gpd.GeoDataFrame(geometry=shapes, crs=UTM)
    both = assign_lots(frame, lots, chosen=frozenset({"west", "east"}))
    assert both.tolist() == ["west", "west", "east", "", ""]
    # With one lot screened, its numbers are those it has when all are: the neighbour's stays the neighbour's.
    assert assign_lots(frame, lots, chosen=frozenset({"west"})).tolist() == ["west", "west", "", "", ""]


def test_on_lots_upon_each_other_the_chosen_one_comes_first() -> None:
    lots = gpd.GeoDataFrame({"lot_id": ["flat 1", "flat 2"]}, geometry=[square(0, 0), square(0, 0)], crs=UTM)
    frame = gpd.GeoDataFrame(geometry=[square(1, 1, 2)], crs=UTM)
    assert assign_lots(frame, lots, chosen=frozenset({"flat 2"})).tolist() == ["flat 2"]
    assert assign_lots(frame, lots, chosen=frozenset({"flat 1", "flat 2"})).tolist() == ["flat 1"]


@pytest.mark.parametrize("text", ["A", "b", " C ", "d", "A/D", "b/d", "C / D"])
def test_groups(text: str) -> None:
    assert group_of(text) == text.upper().replace(" ", "")


def test_a_missing_group_follows_from_conductivity_and_depths(tmp_path: Path) -> None:
    # NEH 630 Table 7-1: deep drained ground above 4 um/s is B; a stated group stays; one depth missing stays unknown.
    columns = {
        "hydgrp": ["", "C", ""],
        "ksat_um_s": [5.0, 50.0, 5.0],
        "impermeable_depth_cm": [200.0, 200.0, None],
        "water_table_depth_cm": [200.0, 200.0, 200.0],
    }
    groups, notes = _soils(tmp_path, **columns)
    assert groups == ["B", "C", "unknown"]
    assert "1 polygons without a group: taken from ksat_um_s" in notes
    assert "1 polygons without a hydrologic group" in notes


def _soils(tmp_path: Path, field: str | None = None, **columns: Any) -> tuple[list[str], str]:
    shapes = [square(6 * k, 1) for k in range(len(next(iter(columns.values()))))]
    spec = write_layer(tmp_path / "soils.gpkg", shapes, **columns)
    frame, notes = load_soils(spec, crs=UTM, bounds=BOUNDS, group_field=field)
    assert list(frame.columns) == ["mukey", "hsg", "ksat_mm_h", "water_depth_m", "restrictive_depth_m", "geometry"]
    return frame["hsg"].tolist(), _text(notes)


def test_a_group_that_is_missing_or_strange_is_unknown(tmp_path: Path) -> None:
    groups, text = _soils(tmp_path, HYDGRP=["A", "B/D", None, "", "Group C", "X"], mukey=[1, 2, 3, 4, 5, 6])
    assert groups == ["A", "B/D", "unknown", "unknown", "unknown", "unknown"]
    assert "2 polygons without a hydrologic group" in text
    assert "Group C, X" in text


def test_groups_under_other_names(tmp_path: Path) -> None:
    assert _soils(tmp_path, hydgrpdcd=["C"])[0] == ["C"]
    assert _soils(tmp_path, hydrolgrp_d=["D"])[0] == ["D"]
    assert _soils(tmp_path, "Class", hsg=["A"], CLASS=["B"])[0] == ["B"]
    groups, text = _soils(tmp_path, musym=["BaB"])
    assert (groups, "no column of hydrologic groups among musym" in text) == (["unknown"], True)
    with pytest.raises(InputError, match="--soil-group-field"):
        _soils(tmp_path, "absent", hsg=["A"])


def test_drains_take_inverts_in_the_unit_of_their_column(tmp_path: Path) -> None:
    line = _line((1, 1), (9, 9))
    spec = write_layer(
        tmp_path / "a.gpkg", [line, line], drain_id=["k", "l"], inv_up_ft=[100.0, 10.0], inv_down_m=[30.0, None]
    )
    frame, notes = load_drains(spec, crs=UTM, bounds=BOUNDS, vertical_unit="m")
    np.testing.assert_allclose(frame["invert_up_m"], [30.48, 3.048])
    np.testing.assert_allclose(frame["invert_down_m"], [30.0, np.nan])
    assert frame.geometry.iloc[0].coords[0] == line.coords[0]
    assert notes == ()


def test_inverts_without_a_unit_take_that_of_the_raster_with_a_note(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [_line((1, 1), (9, 9))], invert_up=[100.0], invert_down=["110"])
    frame, notes = load_drains(spec, crs=UTM, bounds=BOUNDS, vertical_unit="ft")
    assert frame["invert_up_m"].iloc[0] == pytest.approx(30.48)
    assert frame["drain_id"].tolist() == ["P-1"]
    assert "taken as ft" in _text(notes)
    assert "the upper invert lies below the lower one: P-1" in _text(notes)


def test_inverts_of_a_line_of_several_parts_hold_for_no_part(tmp_path: Path) -> None:
    lines = shapely.MultiLineString([_line((1, 1), (3, 3)), _line((5, 5), (9, 9))])
    spec = write_layer(tmp_path / "a.gpkg", [lines], drain_id=["k"], invert_up_m=[5.0])
    frame, notes = load_drains(spec, crs=UTM, bounds=BOUNDS, vertical_unit="m")
    assert frame["drain_id"].tolist() == ["k-1", "k-2"]
    assert frame["invert_up_m"].isna().all()
    assert notes[-1].kind == "caution"


@pytest.mark.parametrize(
    "columns",
    [
        {"ksat_um_s": [10.0], "water_table_depth_cm": [91.44], "restrictive_depth_cm": [182.88]},
        {"KSAT_R": [10.0], "wtdepannmin": [91.44], "brockdepmin": [182.88]},
        {"ksat_mm_h": [36.0], "water_table_depth_m": [0.9144], "bedrock_depth_m": [1.8288]},
        {"ksat_in_h": [36.0 / 25.4], "water_table_depth_ft": [3.0], "impermeable_depth_ft": [6.0]},
        {"ksat_in_h": ["1.4173228346456692"], "water_table_depth_in": [36.0], "restrictive_depth_in": [72.0]},
    ],
)
def test_what_a_soil_is_measured_to_be_in_the_unit_of_its_column(tmp_path: Path, columns: dict[str, Any]) -> None:
    spec = write_layer(tmp_path / "soils.gpkg", [square(1, 1)], **columns)
    soils, _ = load_soils(spec, crs=UTM, bounds=BOUNDS, group_field=None)
    # 1 ft = 0.3048 m, 1 in = 25.4 mm (NIST SP 811, appendix B); 1 um/s = 3.6 mm/h.
    found = soils[["ksat_mm_h", "water_depth_m", "restrictive_depth_m"]].iloc[0].tolist()
    assert found == pytest.approx([36.0, 0.9144, 1.8288], rel=1e-12)
    # NEH 630 Table 7-1: water between 60 and 100 cm, exactly 10 um/s.
    assert soils["hsg"].tolist() == ["C"]


def test_what_a_soil_does_not_state_is_not_known(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "soils.gpkg", [square(1, 1), square(8, 1)], hydgrp=["A", "B"], ksat_r=[None, -9.0])
    soils, _ = load_soils(spec, crs=UTM, bounds=BOUNDS, group_field=None)
    assert soils[["ksat_mm_h", "water_depth_m", "restrictive_depth_m"]].isna().all(axis=None)


def test_inverts_that_are_no_numbers_are_not_given_and_said(tmp_path: Path) -> None:
    line = _line((1, 1), (9, 9))
    spec = write_layer(tmp_path / "a.gpkg", [line] * 3, invert_up_m=["12 m", None, "9.5"])
    frame, notes = load_drains(spec, crs=UTM, bounds=BOUNDS, vertical_unit="m")
    np.testing.assert_allclose(frame["invert_up_m"], [np.nan, np.nan, 9.5])
    assert "1 values of invert_up_m are no numbers: not given" in _text(notes)
