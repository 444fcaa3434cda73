"""Every output column once: name, unit, label and meaning. Tables, map and documents read it here."""

from __future__ import annotations

from screening.schema.columns.batch import BATCH_COLUMNS
from screening.schema.columns.capture import (
    CAUTION_COLUMNS,
    COLLECTION_COLUMNS,
    QUANTITY_COLUMNS,
    REJECTION_COLUMNS,
    ROUTE_COLUMNS,
    STORAGE_COLUMNS,
    VISIT_COLUMNS,
    ZONE_COLUMNS,
)
from screening.schema.columns.driveways import (
    DRIVEWAY_AREA_COLUMNS,
    DRIVEWAY_ARROW_COLUMNS,
    DRIVEWAY_EDGE_COLUMNS,
    DRIVEWAY_LOW_POINT_COLUMNS,
    DRIVEWAY_STORM_COLUMNS,
    DRIVEWAY_TABLES,
    SHARE_WORDS,
)
from screening.schema.columns.interception import DRAIN_OUTLET_COLUMNS, INTERCEPTION_COLUMNS
from screening.schema.columns.kinds import Column, ColumnKind, declared, declared_plain, names, plain_text_columns
from screening.schema.columns.structures import ARRIVAL_COLUMNS, DOOR_COLUMNS, SIDE_COLUMNS, STRUCTURE_COLUMNS
from screening.schema.columns.tables import (
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
)
from screening.schema.columns.works import (
    COMPARISON_COLUMNS,
    LOT_CHANGE_COLUMNS,
    WORK_CHECK_COLUMNS,
    WORK_COLUMNS,
    WORKS_TABLES,
)

__all__ = [
    "ARRIVAL_COLUMNS",
    "BATCH_COLUMNS",
    "CATCHMENT_COLUMNS",
    "CAUTION_COLUMNS",
    "COLLECTION_COLUMNS",
    "COMPARISON_COLUMNS",
    "DOOR_COLUMNS",
    "DRAIN_OUTLET_COLUMNS",
    "DRIVEWAY_AREA_COLUMNS",
    "DRIVEWAY_ARROW_COLUMNS",
    "DRIVEWAY_COLUMNS",
    "DRIVEWAY_EDGE_COLUMNS",
    "DRIVEWAY_LOW_POINT_COLUMNS",
    "DRIVEWAY_STORM_COLUMNS",
    "DRIVEWAY_TABLES",
    "FLOW_PATH_COLUMNS",
    "INTERCEPTION_COLUMNS",
    "LOT_CHANGE_COLUMNS",
    "LOW_SPOT_COLUMNS",
    "NOTE_COLUMNS",
    "OVERFLOW_PATH_COLUMNS",
    "QUANTITY_COLUMNS",
    "REJECTION_COLUMNS",
    "ROUTE_COLUMNS",
    "SHARE_WORDS",
    "SIDE_COLUMNS",
    "STORAGE_COLUMNS",
    "STRUCTURE_COLUMNS",
    "SUMMARY_COLUMNS",
    "SURFACE_CHANGE_COLUMNS",
    "TABLES",
    "VERDICT_COLUMNS",
    "VISIT_COLUMNS",
    "WORKS_TABLES",
    "WORK_CHECK_COLUMNS",
    "WORK_COLUMNS",
    "ZONE_COLUMNS",
    "Column",
    "ColumnKind",
    "declared",
    "declared_plain",
    "names",
    "plain_text_columns",
]
