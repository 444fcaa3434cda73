"""What a screening found."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

from screening.grid import Grid, check_same_grid
from screening.models.arrays import I64, U32, freeze
from screening.models.block import Block
from screening.models.capture import Capture
from screening.models.driveways import DrivewayStudy
from screening.models.interception import Interception
from screening.models.low_spots import Depressions, Ponding
from screening.models.notes import Note
from screening.models.storm import Storm
from screening.models.terrain import FlowField, Surface
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.verdicts import Aspect, Confidence, Operator, Outcome, SubjectKind, VerdictReason
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

SCORE_CAP = 5.0
"""Most points of one flag: one large catchment shall not outweigh several wet walls."""

Fact: TypeAlias = str | float | int | bool


@dataclass(frozen=True, kw_only=True, eq=False)
class InfiltrationZones:
    """Ground that may take water.

    Parameters
    ----------
    reasons
        Bits of `rejections.REASONS` that reject each cell, uint32; 0 = candidate. All reasons of a cell
        are kept; its lowest bit is the first.
    table
        Candidate zones as polygons: see `columns.ZONE_COLUMNS`.
    by_lot
        `lot_id`, `infiltration_area_m2`, `infiltration_status`, and `infiltration_limits`: of each lot the reasons
        that turn away most of it with their shares, as `codes.packing.pack` joins them.
    rejections
        Ground turned away by lot and reason: see `columns.REJECTION_COLUMNS`.
    """

    grid: Grid
    reasons: U32
    table: gpd.GeoDataFrame
    by_lot: pd.DataFrame
    rejections: pd.DataFrame

    def __post_init__(self) -> None:
        freeze(self.reasons)


@dataclass(frozen=True, kw_only=True)
class Trust:
    """Whether a finding holds under elevation error.

    Parameters
    ----------
    code
        Whether it does.
    frac
        Share of the realisations in which it holds; None = it cannot be said.
    n_counted, n_realisations
        Realisations that speak for the code, such as those in which it holds, and all of them.
    """

    code: Confidence = Confidence.NOT_ASSESSED
    frac: float | None = None
    n_counted: int = 0
    n_realisations: int = 0


NOT_TRIED = Trust()
"""Of what was not simulated, or cannot be said."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """One check of one subject: statistic, operator, threshold, outcome. Words of it are made in `report.words`.

    `passed` means `value operator threshold` holds; unknown is `not assessed`, never a pass. `aspect` tells checks
    that look for a problem, whose failures are flags, from those that look for a remedy.

    Parameters
    ----------
    check_id
        Of the check, as `schema.checks` has those of lots, structures and driveways.
    lot_id, subject_kind, subject_id
        What was judged; no subject where the layer of its kind was not given.
    statistic
        Name of the value; empty where no layer was given.
    value, operator, threshold, unit
        What was compared with what, both in one SI unit; None where the value is not known.
    outcome
        How it came out.
    reasons, facts
        What to know beside it, and the numbers and names that its words need.
    aspect, is_indicative
        Whether it looks for a problem, and whether the data can hint at it but not prove it.
    trust
        Whether the outcome holds under elevation error.
    weight
        Factor of its points.
    """

    check_id: str
    lot_id: str
    subject_kind: SubjectKind
    subject_id: str
    statistic: str
    value: float | None
    operator: Operator
    threshold: float
    unit: str
    outcome: Outcome
    reasons: tuple[VerdictReason, ...] | tuple[CheckReason, ...] = ()
    facts: tuple[tuple[str, Fact], ...] = ()
    aspect: Aspect = Aspect.PROBLEM
    is_indicative: bool = False
    trust: Trust = NOT_TRIED
    weight: float = 1.0

    @property
    def is_flag(self) -> bool:
        """True for a check that found a problem; a remedy that was not found is none."""
        return self.outcome is Outcome.FAILED and self.aspect is Aspect.PROBLEM

    @property
    def points(self) -> float:
        """What a flag adds to the scores of its structure and its lot; 0 where it is none.

        1 at the threshold, and 1 more for each threshold that the value is beyond it, at most `SCORE_CAP`: for a
        limit from above that is value over threshold. What is only indicative adds 1, however far it is beyond. All of
        it times the weight that the criteria give to its kind.
        """
        if not self.is_flag:
            return 0.0
        if self.is_indicative:
            return self.weight
        if self.value is None or not self.threshold > 0:
            return self.weight * SCORE_CAP
        return self.weight * min(1.0 + abs(self.value - self.threshold) / self.threshold, SCORE_CAP)

    @property
    def is_within_error(self) -> bool:
        """True where the outcome does not hold often enough under elevation error."""
        return self.trust.code.is_within_error


def said(*, check: str, source: str) -> tuple[tuple[str, Fact], ...]:
    """Facts of a verdict whose check is not in `schema.checks`: what it asks, and its source."""
    return ("check", check), ("source", source)


@dataclass(frozen=True, kw_only=True, eq=False)
class Exposure:
    """What reaches each structure on a chosen lot.

    Parameters
    ----------
    structures, sides, inflow_points
        See `columns.STRUCTURE_COLUMNS`, `SIDE_COLUMNS`, `INFLOW_POINT_COLUMNS`.
    side_start, side_cells
        Ground cells beside each side: flat indices `side_cells[side_start[i]:side_start[i + 1]]` by row `i` of
        `sides`, int64.
    """

    structures: gpd.GeoDataFrame
    sides: gpd.GeoDataFrame
    inflow_points: gpd.GeoDataFrame
    side_start: I64
    side_cells: I64

    def __post_init__(self) -> None:
        freeze(self.side_start, self.side_cells)


@dataclass(frozen=True, kw_only=True, eq=False)
class StormFindings:
    """What one more storm does on ground that is routed already; verdicts and tables stay those of the first.

    Parameters
    ----------
    storm, ponding
        Its runoff, and what it leaves standing.
    low_spots, structures
        Columns of `BlockResult.depressions.table` and `BlockResult.structures` that depend on the storm, by their rows.
    """

    storm: Storm
    ponding: Ponding
    low_spots: pd.DataFrame
    structures: pd.DataFrame


@dataclass(frozen=True, kw_only=True, eq=False)
class BlockResult:
    """All that a screening found in one block; reports read nothing else."""

    block: Block
    criteria: Criteria
    surface: Surface
    flow: FlowField
    depressions: Depressions
    storm: Storm
    ponding: Ponding
    structures: gpd.GeoDataFrame
    structure_sides: gpd.GeoDataFrame
    inflow_points: gpd.GeoDataFrame
    doors: gpd.GeoDataFrame
    driveways: gpd.GeoDataFrame
    driveway_study: DrivewayStudy
    zones: InfiltrationZones
    capture: Capture
    interception: Interception
    flow_paths: gpd.GeoDataFrame
    catchments: gpd.GeoDataFrame
    verdicts: tuple[Verdict, ...]
    summary: gpd.GeoDataFrame
    notes: tuple[Note, ...] = field(default=())
    further_storms: tuple[StormFindings, ...] = field(default=())

    def __post_init__(self) -> None:
        for what, part in (
            ("The surface", self.surface),
            ("The flow field", self.flow),
            ("The storm", self.storm),
            ("The depressions", self.depressions),
            ("The ponding", self.ponding),
            ("The zones", self.zones),
        ):
            check_same_grid(self.block.grid, part.grid, what=what)
        for further in self.further_storms:
            check_same_grid(self.block.grid, further.ponding.grid, what="A further storm")
