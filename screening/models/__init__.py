"""The frozen values that pass between inputs, stages and reports.

Arrays inside are read-only. Tables are (Geo)DataFrames whose columns are declared in `screening.columns`.
"""

from __future__ import annotations

from screening.models.arrays import (
    EAST_SIDE,
    F32,
    F64,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    U8,
    U16,
    WEST_SIDE,
    Bool,
    freeze,
)
from screening.models.findings import SCORE_CAP, BlockResult, Exposure, InfiltrationZones, Outcome, Verdict
from screening.models.hierarchy import DepressionHierarchy
from screening.models.inflow import ContextElevation, Inflow
from screening.models.notes import Note, NoteKind, merge_notes
from screening.models.request import LatLon, Rain, RainfallTable, SiteRequest
from screening.models.terrain import Block, Depressions, FlowField, Ponding, Storm, Surface, WindowView

__all__ = [
    "EAST_SIDE",
    "F32",
    "F64",
    "I32",
    "I64",
    "NORTH_SIDE",
    "SCORE_CAP",
    "SOUTH_SIDE",
    "U8",
    "U16",
    "WEST_SIDE",
    "Block",
    "BlockResult",
    "Bool",
    "ContextElevation",
    "DepressionHierarchy",
    "Depressions",
    "Exposure",
    "FlowField",
    "InfiltrationZones",
    "Inflow",
    "LatLon",
    "Note",
    "NoteKind",
    "Outcome",
    "Ponding",
    "Rain",
    "RainfallTable",
    "SiteRequest",
    "Storm",
    "Surface",
    "Verdict",
    "WindowView",
    "freeze",
    "merge_notes",
]
