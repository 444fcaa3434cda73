"""The result as one GeoPackage: layers with aliases, units, meanings and simple styles."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.models import BlockResult
from screening.report.tables.files import table_of, with_text_types
from screening.schema.columns import Column
from screening.schema.layers import ResultLayer, all_layers, all_tables
from screening.schema.styles import Style
from screening.units import UnitSystem, shown_unit

if TYPE_CHECKING:
    import geopandas as gpd

# In the order in which desktop GIS numbers them.
_SHAPES = {"Point": "marker", "MultiLineString": "line", "MultiPolygon": "fill"}
_METADATA_TABLES = """
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT, CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC,
  min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
CREATE TABLE IF NOT EXISTS gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,
  scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
"""
_CREATED = "2000-01-01T00:00:00.000Z"
_WHILE_WRITING = {
    # Else the file says when it was made, and no two would be the same.
    "OGR_CURRENT_DATE": _CREATED,
    # It is a draft until it is whole: a write that breaks off leaves nothing to go back to.
    "OGR_SQLITE_SYNCHRONOUS": "OFF",
    "OGR_SQLITE_JOURNAL": "OFF",
}
# Identifier of the schema extension as OGC GeoPackage 1.3, annex F.9, gives it.
_SCHEMA_EXTENSION = "http://www.geopackage.org/spec121/#extension_schema"


def write_geopackage(result: BlockResult, path: Path, *, layers: Sequence[str] | None = None) -> None:
    """Write tables of the result, all if not named, as layers of a new GeoPackage, in the CRS of the grid, SI units.

    References
    ----------
    OGC 12-128r17, GeoPackage Encoding Standard 1.3: attributes tables, schema extension. `layer_styles` is
    the table in which desktop GIS keeps styles beside the data.
    """
    import pyogrio

    layers = tuple(all_tables()) if layers is None else layers
    before = {name: pyogrio.get_gdal_config_option(name) for name in _WHILE_WRITING}
    pyogrio.set_gdal_config_options(_WHILE_WRITING)
    try:
        _write_layers(result, path, layers)
    finally:
        pyogrio.set_gdal_config_options(before)
    with closing(sqlite3.connect(path)) as base, base:
        _describe_columns(base, layers)


def _write_layers(result: BlockResult, path: Path, layers: Sequence[str]) -> None:
    import pyogrio

    drawn = drawn_tables()
    for place, name in enumerate(layers):
        frame = table_of(result, name)
        options: dict[str, Any] = {"layer": name, "driver": "GPKG", "append": place > 0}
        if name in drawn:
            geometry = drawn[name].geometry
            options |= {"geometry_type": geometry, "promote_to_multi": geometry != "Point"}
            frame = _with_crs(frame, result)
        pyogrio.write_dataframe(with_text_types(frame, all_tables()[name]), path, **options)
    pyogrio.write_dataframe(_style_table(layers), path, layer="layer_styles", driver="GPKG", append=True)


def drawn_tables() -> dict[str, ResultLayer]:
    """Map the tables that have shapes in the GeoPackage to their layers."""
    return {layer.table_name: layer for layer in all_layers() if layer.geometry}


def _with_crs(frame: Any, result: BlockResult) -> gpd.GeoDataFrame:
    import geopandas as gpd

    return gpd.GeoDataFrame(frame, geometry="geometry", crs=result.block.grid.crs)


def _style_table(layers: Sequence[str]) -> Any:
    import pandas as pd

    rows = [
        {
            "f_table_catalog": "",
            "f_table_schema": "",
            "f_table_name": name,
            "f_geometry_column": "geom",
            "styleName": name,
            "styleQML": style_qml(name),
            "styleSLD": "",
            "useAsDefault": True,
            "description": "As on the map page, in short",
            "owner": "",
            "ui": "",
            "update_time": pd.Timestamp(_CREATED),
        }
        for name in layers
        if name in drawn_tables()
    ]
    return pd.DataFrame(rows)


def style_qml(name: str) -> str:
    """Give the style of a layer as the XML that desktop GIS reads from `layer_styles`."""
    layer = drawn_tables()[name]
    shape = _SHAPES[layer.geometry]
    geometry = list(_SHAPES.values()).index(shape)
    if layer.gis_class_column:
        attribute, looks = layer.gis_class_column, layer.styles
        categories = "".join(
            f'<category render="true" symbol="{number}" value="{escape(word)}" label="{escape(word)}"/>'
            for number, word in enumerate(looks)
        )
        symbols = "".join(_symbol(str(n), look, shape=shape) for n, look in enumerate(looks.values()))
        renderer = (
            f'<renderer-v2 type="categorizedSymbol" attr="{attribute}"><categories>{categories}</categories>'
            f"<symbols>{symbols}</symbols></renderer-v2>"
        )
    else:
        symbol = _symbol("0", layer.gis_style or next(iter(layer.styles.values())), shape=shape)
        renderer = f'<renderer-v2 type="singleSymbol"><symbols>{symbol}</symbols></renderer-v2>'
    kind = f"<layerGeometryType>{geometry}</layerGeometryType>"
    titles = "".join(
        f'<alias index="{number}" field="{column.name}" name="{escape(column_title(column))}"/>'
        for number, column in enumerate(all_tables()[name], start=1)
    )
    # Older programs do not read the titles of the schema extension, so they stand here too.
    fields = f"<aliases>{titles}</aliases>"
    return f'<qgis version="3.22.0" styleCategories="Symbology|Fields">{renderer}{kind}{fields}</qgis>'


def _symbol(name: str, style: Style, *, shape: str) -> str:
    # Pixels of the page at 96 to the inch become millimetres.
    width_mm = f"{style.weight * 25.4 / 96:.2f}"
    dash = "dash" if style.dash else "solid"
    if shape == "line":
        options = {"line_color": _rgba(style.color, 1.0), "line_width": width_mm, "line_style": dash}
        kind, layer_class = "line", "SimpleLine"
    elif shape == "marker":
        options = {
            "color": _rgba(style.fill, style.fill_opacity),
            "outline_color": _rgba(style.color, 1.0),
            "outline_width": width_mm,
            "name": "circle",
            "size": "3",
        }
        kind, layer_class = "marker", "SimpleMarker"
    else:
        fill = style.fill if style.fill != "none" else "#ffffff"
        options = {
            "color": _rgba(fill, 0.25 if style.pattern else style.fill_opacity),
            "outline_color": _rgba(style.color, 1.0),
            "outline_width": width_mm,
            "outline_style": dash,
            "style": "solid",
        }
        kind, layer_class = "fill", "SimpleFill"
    values = "".join(f'<Option type="QString" name="{k}" value="{v}"/>' for k, v in options.items())
    return (
        f'<symbol type="{kind}" name="{name}" alpha="1"><layer class="{layer_class}" enabled="1">'
        f'<Option type="Map">{values}</Option></layer></symbol>'
    )


def _rgba(color: str, opacity: float) -> str:
    red, green, blue = (int(color[i : i + 2], 16) for i in (1, 3, 5))
    return f"{red},{green},{blue},{round(opacity * 255)}"


def column_title(column: Column, units: UnitSystem = "metric") -> str:
    """Alias of a field: its label, with the unit where it has one."""
    symbol = {"frac": "0-1"}.get(column.unit) or shown_unit(column.unit, units).symbol
    return f"{column.label} [{symbol}]" if symbol else column.label


def _describe_columns(base: sqlite3.Connection, layers: Sequence[str]) -> None:
    base.executescript(_METADATA_TABLES)
    for name in layers:
        base.executemany(
            "INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description) VALUES (?, ?, ?, ?, ?)",
            [(name, c.name, column_title(c), column_title(c), c.meaning) for c in all_tables()[name]],
        )
    base.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_schema', ?, 'read-write')",
        [(table, _SCHEMA_EXTENSION) for table in ("gpkg_data_columns", "gpkg_data_column_constraints")],
    )
