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
from screening.schema.columns.improvements import (
    COMPARISON_COLUMNS,
    IMPROVEMENT_CHECK_COLUMNS,
    IMPROVEMENT_COLUMNS,
    IMPROVEMENT_TABLES,
    LOT_CHANGE_COLUMNS,
)
from screening.schema.columns.interception import DRAIN_OUTLET_COLUMNS, INTERCEPTION_COLUMNS
from screening.schema.columns.kinds import (
    Column,
    ColumnKind,
    declared,
    declared_plain,
    names,
    plain_text_columns,
    told,
    untold,
)
from screening.schema.columns.structures import DOOR_COLUMNS, INFLOW_POINT_COLUMNS, SIDE_COLUMNS, STRUCTURE_COLUMNS
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

__all__ = [
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
    "IMPROVEMENT_CHECK_COLUMNS",
    "IMPROVEMENT_COLUMNS",
    "IMPROVEMENT_TABLES",
    "INFLOW_POINT_COLUMNS",
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
    "ZONE_COLUMNS",
    "Column",
    "ColumnKind",
    "declared",
    "declared_plain",
    "names",
    "plain_text_columns",
    "told",
    "untold",
]
