"""The frozen values that pass between inputs, stages and reports.

Arrays inside are read-only. Tables are (Geo)DataFrames whose columns are declared in `screening.schema.columns`.
"""

from __future__ import annotations

from screening.models.arrays import (
    EAST_SIDE,
    F32,
    F64,
    GAP_SIDE,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    U8,
    U32,
    WEST_SIDE,
    Bool,
    freeze,
)
from screening.models.block import Block
from screening.models.capture import Capture
from screening.models.conduits import Conduits, Intake
from screening.models.driveways import DrivewayStudy, ShedShare
from screening.models.findings import (
    NOT_TRIED,
    SCORE_CAP,
    BlockResult,
    Exposure,
    Fact,
    InfiltrationZones,
    StormFindings,
    Trust,
    Verdict,
    said,
)
from screening.models.hierarchy import DepressionHierarchy, NestedZones
from screening.models.improvements import Comparison, Improvement, Improvements, Trial
from screening.models.inflow import ContextElevation, Crossings, Inflow
from screening.models.interception import Interception
from screening.models.low_spots import Depressions, LowSpots, Ponding
from screening.models.notes import Note, NoteRow, NoteValue, merge_notes, note
from screening.models.realisation import Realisation, TerrainFindings, VerdictKey
from screening.models.request import LatLon, Rain, RainfallTable, SiteRequest
from screening.models.runoff import Concentration, GroundCover, PeakFlows
from screening.models.storm import Storm
from screening.models.terrain import FlowField, Surface, WindowView

__all__ = [
    "EAST_SIDE",
    "F32",
    "F64",
    "GAP_SIDE",
    "I32",
    "I64",
    "NORTH_SIDE",
    "NOT_TRIED",
    "SCORE_CAP",
    "SOUTH_SIDE",
    "U8",
    "U32",
    "WEST_SIDE",
    "Block",
    "BlockResult",
    "Bool",
    "Capture",
    "Comparison",
    "Concentration",
    "Conduits",
    "ContextElevation",
    "Crossings",
    "DepressionHierarchy",
    "Depressions",
    "DrivewayStudy",
    "Exposure",
    "Fact",
    "FlowField",
    "GroundCover",
    "Improvement",
    "Improvements",
    "InfiltrationZones",
    "Inflow",
    "Intake",
    "Interception",
    "LatLon",
    "LowSpots",
    "NestedZones",
    "Note",
    "NoteRow",
    "NoteValue",
    "Outcome",
    "PeakFlows",
    "Ponding",
    "Rain",
    "RainfallTable",
    "Realisation",
    "ShedShare",
    "SiteRequest",
    "Storm",
    "StormFindings",
    "Surface",
    "TerrainFindings",
    "Trial",
    "Trust",
    "Verdict",
    "VerdictKey",
    "WindowView",
    "freeze",
    "merge_notes",
    "note",
    "said",
]
