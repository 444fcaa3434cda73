from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from xml.etree import ElementTree

import pyogrio
import pytest

from screening.models import BlockResult
from screening.report.tables.geopackage import column_title, write_geopackage
from screening.schema.columns import TABLES, names
from tests.report.conftest import make_result


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("package") / "s.gpkg"
    write_geopackage(make_result(), path)
    return path


@pytest.fixture
def base(package: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(package)) as connection:
        yield connection


def test_layers_and_their_kinds(package: Path) -> None:
    layers = dict(pyogrio.list_layers(package).tolist())
    assert layers == {
        "summary": "MultiPolygon",
        "structures": "MultiPolygon",
        "structure_sides": "MultiLineString",
        "inflow_points": "Point",
        "doors": "Point",
        "driveways": "MultiPolygon",
        "driveway_edges": "MultiLineString",
        "driveway_arrows": "Point",
        "driveway_low_points": "Point",
        "driveway_areas": "MultiPolygon",
        "driveway_storms": None,
        "low_spots": "MultiPolygon",
        "infiltration_zones": "MultiPolygon",
        "infiltration_rejections": None,
        "collection_points": "Point",
        "collection_routes": "MultiLineString",
        "storage_options": None,
        "quantities": None,
        "site_cautions": None,
        "storage_checks": None,
        "interception_lines": "MultiLineString",
        "drain_outlets": "MultiLineString",
        "drain_checks": None,
        "visit_sheet": None,
        "flow_paths": "MultiLineString",
        "overflow_paths": "MultiLineString",
        "contributing_areas": "MultiPolygon",
        "surface_changes": "MultiPolygon",
        "verdicts": None,
        "notes": None,
        "layer_styles": None,
    }


@pytest.mark.parametrize("name", TABLES)
def test_values_read_back(package: Path, tiny_result: BlockResult, name: str) -> None:
    from screening.report.tables.files import table_of

    read = pyogrio.read_dataframe(package, layer=name)
    written = table_of(tiny_result, name)
    assert [column for column in read.columns if column != "geometry"] == names(TABLES[name])
    assert len(read) == len(written)
    for column in TABLES[name]:
        ours, theirs = written[column.name].tolist(), read[column.name].tolist()
        if column.kind == "number":
            assert theirs == pytest.approx([float(value) for value in ours], nan_ok=True)
        else:
            assert [str(value) for value in theirs] == [str(value) for value in ours]
    if "geometry" in written.columns:
        assert read.crs.to_epsg() == 26917
        assert read.geometry.area.tolist() == pytest.approx(written.geometry.area.tolist())


def test_every_field_has_an_alias_and_a_meaning(base: sqlite3.Connection) -> None:
    found = {
        (table, column): (name, title, meaning)
        for table, column, name, title, meaning in base.execute(
            "SELECT table_name, column_name, name, title, description FROM gpkg_data_columns"
        )
    }
    for table, columns in TABLES.items():
        for column in columns:
            title = column_title(column)
            assert found[table, column.name] == (title, title, column.meaning)
    assert found["summary", "area_m2"][0] == "Lot area [m²]"
    assert found["summary", "assessed_frac"][0] == "Elevation cover [0-1]"


def test_the_schema_extension_is_declared(base: sqlite3.Connection) -> None:
    rows = base.execute("SELECT table_name FROM gpkg_extensions WHERE extension_name = 'gpkg_schema'").fetchall()
    assert sorted(row[0] for row in rows) == ["gpkg_data_column_constraints", "gpkg_data_columns"]


def test_the_file_is_a_sound_geopackage(base: sqlite3.Connection) -> None:
    assert base.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert base.execute("PRAGMA foreign_key_check").fetchall() == []
    # 'GPKG' in ASCII: GeoPackage Encoding Standard 1.3, requirement 2.
    assert base.execute("PRAGMA application_id").fetchone() == (0x47504B47,)


def test_every_drawn_layer_has_a_style(base: sqlite3.Connection) -> None:
    rows = base.execute("SELECT f_table_name, f_geometry_column, styleQML, useAsDefault FROM layer_styles").fetchall()
    drawn = dict(base.execute("SELECT table_name, column_name FROM gpkg_geometry_columns").fetchall())
    assert {row[0]: row[1] for row in rows} == drawn
    for name, _, qml, is_default in rows:
        assert is_default == 1
        renderer = ElementTree.fromstring(qml).find("renderer-v2")
        assert renderer is not None
        symbols = renderer.findall("symbols/symbol")
        categories = renderer.findall("categories/category")
        assert len(symbols) == (len(categories) or 1), name
        shapes = {
            "structure_sides": "line",
            "inflow_points": "marker",
            "doors": "marker",
            "collection_points": "marker",
            "collection_routes": "line",
            "interception_lines": "line",
            "drain_outlets": "line",
            "driveway_edges": "line",
            "driveway_arrows": "marker",
            "driveway_low_points": "marker",
        }
        expected = "line" if name.endswith("_paths") else shapes.get(name, "fill")
        assert {symbol.get("type") for symbol in symbols} == {expected}, name


def test_exposure_classes_are_those_of_the_map(base: sqlite3.Connection) -> None:
    (qml,) = base.execute("SELECT styleQML FROM layer_styles WHERE f_table_name = 'structures'").fetchone()
    values = [category.get("value") for category in ElementTree.fromstring(qml).iter("category")]
    assert values == ["ponding", "run-on", "low", "not assessed"]


def test_layers_without_rows_keep_their_fields(tiny_result: BlockResult, tmp_path: Path) -> None:
    import dataclasses

    empty = dataclasses.replace(
        tiny_result, driveways=tiny_result.driveways.iloc[:0], flow_paths=tiny_result.flow_paths.iloc[:0], notes=()
    )
    write_geopackage(empty, tmp_path / "e.gpkg")
    for name in ("driveways", "flow_paths", "notes"):
        info = pyogrio.read_info(tmp_path / "e.gpkg", layer=name)
        assert info["fields"].tolist() == names(TABLES[name])
        assert info["features"] == 0


def test_hostile_text_survives(hostile_result: BlockResult, hostile_text: str, tmp_path: Path) -> None:
    write_geopackage(hostile_result, tmp_path / "h.gpkg")
    read = pyogrio.read_dataframe(tmp_path / "h.gpkg", layer="summary")
    assert read["lot_id"].tolist()[0] == hostile_text


def test_styles_have_what_desktop_programs_ask_for(base: sqlite3.Connection) -> None:
    # A desktop GIS sorts styles by `update_time`, and finds none where the column is missing.
    rows = base.execute("SELECT f_table_name, styleQML FROM layer_styles ORDER BY useAsDefault, update_time").fetchall()
    assert len(rows) == base.execute("SELECT count(*) FROM gpkg_geometry_columns").fetchone()[0]
    for name, qml in rows:
        aliases = {alias.get("field"): alias.get("name") for alias in ElementTree.fromstring(qml).iter("alias")}
        assert aliases == {column.name: column_title(column) for column in TABLES[name]}


def test_two_builds_are_the_same_to_the_byte(tiny_result: BlockResult, tmp_path: Path) -> None:
    for name in ("a", "b"):
        write_geopackage(tiny_result, tmp_path / f"{name}.gpkg")
    assert (tmp_path / "a.gpkg").read_bytes() == (tmp_path / "b.gpkg").read_bytes()
    with closing(sqlite3.connect(tmp_path / "a.gpkg")) as made:
        assert {row[0] for row in made.execute("SELECT last_change FROM gpkg_contents")} == {"2000-01-01T00:00:00.000Z"}


def test_settings_of_the_caller_stay_as_they_were(tmp_path: Path) -> None:
    pyogrio.set_gdal_config_options({"OGR_SQLITE_SYNCHRONOUS": "NORMAL"})
    try:
        write_geopackage(make_result(), tmp_path / "s.gpkg")
        assert pyogrio.get_gdal_config_option("OGR_SQLITE_SYNCHRONOUS") == "NORMAL"
        assert pyogrio.get_gdal_config_option("OGR_SQLITE_JOURNAL") is None
        assert pyogrio.get_gdal_config_option("OGR_CURRENT_DATE") is None
    finally:
        pyogrio.set_gdal_config_options({"OGR_SQLITE_SYNCHRONOUS": None})
