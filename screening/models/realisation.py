"""What is found on ground, and what of it is kept when the ground is one of many realisations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.models.arrays import F32, F64, Bool, freeze
from screening.models.findings import Exposure
from screening.models.hierarchy import DepressionHierarchy
from screening.models.low_spots import Depressions, Ponding
from screening.models.terrain import FlowField
from screening.schema.codes.verdicts import Outcome

if TYPE_CHECKING:
    import geopandas as gpd

VerdictKey = tuple[str, str]
"""Ids of the check and of the subject of a verdict."""


@dataclass(frozen=True, kw_only=True, eq=False)
class GroundFindings:
    """What follows from the elevation and a storm, and is simulated under elevation error.

    Parameters
    ----------
    flow, depressions, ponding
        Of the block.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    exposure
        Of the structures on the chosen lots.
    driveways
        See `columns.DRIVEWAY_COLUMNS`.
    hierarchy
        Of the low spots, for further storms.
    """

    flow: FlowField
    depressions: Depressions
    ponding: Ponding
    runoff_through_m3: F64
    exposure: Exposure
    driveways: gpd.GeoDataFrame
    hierarchy: DepressionHierarchy

    def __post_init__(self) -> None:
        freeze(self.runoff_through_m3)


@dataclass(frozen=True, kw_only=True, eq=False)
class Realisation:
    """What was found on the ground with one realisation of its error.

    Parameters
    ----------
    in_low_spot
        Whether a low spot was found at each of the cells asked about, bool.
    chance_depth_m
        Depth of the low spot that the error alone makes at each of those cells, on ground without low spots,
        float32 [m]; 0 = none.
    exposure
        By id of the structure.
    outcome
        Of the verdicts that were simulated.
    """

    in_low_spot: Bool
    chance_depth_m: F32
    exposure: dict[str, str]
    outcome: dict[VerdictKey, Outcome]

    def __post_init__(self) -> None:
        freeze(self.in_low_spot, self.chance_depth_m)
