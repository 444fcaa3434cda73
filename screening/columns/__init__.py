"""Every output column once: name, unit, label and meaning. Tables, map and documents read it here."""

from __future__ import annotations

from screening.columns.kinds import Column, ColumnKind, declared, names
from screening.columns.structures import ARRIVAL_COLUMNS, DOOR_COLUMNS, SIDE_COLUMNS, STRUCTURE_COLUMNS
from screening.columns.tables import (
    CATCHMENT_COLUMNS,
    DRIVEWAY_COLUMNS,
    FLOW_PATH_COLUMNS,
    LOW_SPOT_COLUMNS,
    NOTE_COLUMNS,
    OVERFLOW_PATH_COLUMNS,
    SUMMARY_COLUMNS,
    SURFACE_CHANGE_COLUMNS,
    TABLES,
    VERDICT_COLUMNS,
    ZONE_COLUMNS,
)

__all__ = [
    "ARRIVAL_COLUMNS",
    "CATCHMENT_COLUMNS",
    "DOOR_COLUMNS",
    "DRIVEWAY_COLUMNS",
    "FLOW_PATH_COLUMNS",
    "LOW_SPOT_COLUMNS",
    "NOTE_COLUMNS",
    "OVERFLOW_PATH_COLUMNS",
    "SIDE_COLUMNS",
    "STRUCTURE_COLUMNS",
    "SUMMARY_COLUMNS",
    "SURFACE_CHANGE_COLUMNS",
    "TABLES",
    "VERDICT_COLUMNS",
    "ZONE_COLUMNS",
    "Column",
    "ColumnKind",
    "declared",
    "names",
]
