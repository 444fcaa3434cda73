"""Every result layer once: map, switches, GeoPackage, tables and tests read it here."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from screening.schema.columns import TABLES, Column
from screening.schema.extensions import added_columns, extensions
from screening.schema.layers.buildings import BUILDINGS
from screening.schema.layers.declaring import (
    Geometry,
    LayerGroup,
    Reader,
    ResultLayer,
    class_in,
    named,
    one_line,
)
from screening.schema.layers.ground import GROUND, OTHERS
from screening.schema.layers.water import REMEDIES, WATER

__all__ = [
    "BUILT_IN",
    "IMAGES",
    "Geometry",
    "LayerGroup",
    "Reader",
    "ResultLayer",
    "all_layers",
    "all_tables",
    "class_in",
    "named",
    "one_line",
]

BUILT_IN: tuple[ResultLayer, ...] = (*BUILDINGS, OTHERS, *WATER, *REMEDIES, *GROUND)
IMAGES: Mapping[str, LayerGroup] = {
    "storm_water": LayerGroup.WATER,
    "relief": LayerGroup.GROUND,
    "basemap": LayerGroup.GROUND,
}
"""Pictures of the map that have a switch, below the layers of their group."""


@cache
def all_layers() -> tuple[ResultLayer, ...]:
    """List the layers in the order of their switches: those of the toolkit, then those of extensions."""
    return (*BUILT_IN, *(layer for extension in extensions() for layer in extension.layers))


@cache
def all_tables() -> Mapping[str, tuple[Column, ...]]:
    """Map the tables to their columns as a reader gets them, those that extensions add included."""
    columns = {name: (*declared, *(added.column for added in added_columns(name))) for name, declared in TABLES.items()}
    return columns | {layer.key: layer.own_columns for layer in all_layers() if layer.table_name not in ("", *TABLES)}
