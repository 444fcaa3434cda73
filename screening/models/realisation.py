"""What is found on ground, and what of it is kept when the ground is one of many realisations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.models.arrays import F32, F64, Bool, freeze
from screening.models.driveways import DrivewayStudy
from screening.models.findings import Exposure
from screening.models.low_spots import Depressions, Ponding
from screening.models.runoff import Concentration, PeakFlows
from screening.models.terrain import FlowField
from screening.schema.codes.verdicts import Outcome

if TYPE_CHECKING:
    import geopandas as gpd

VerdictKey = tuple[str, str]
"""Ids of the check and of the subject of a verdict."""


@dataclass(frozen=True, kw_only=True, eq=False)
class TerrainFindings:
    """What follows from the elevation and a storm.

    Parameters
    ----------
    flow, depressions, ponding, concentration
        Of the block.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    peaks_onto_lots
        Of the water that reaches each lot from outside, in the order of the lots.
    exposure
        Of the structures on the chosen lots.
    driveways, driveway_study
        See `columns.DRIVEWAY_COLUMNS`, and the study of their edges.
    """

    flow: FlowField
    depressions: Depressions
    ponding: Ponding
    runoff_through_m3: F64
    concentration: Concentration
    peaks_onto_lots: PeakFlows
    exposure: Exposure
    driveways: gpd.GeoDataFrame
    driveway_study: DrivewayStudy

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
