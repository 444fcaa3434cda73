"""What a screening found."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from screening.criteria import Criteria
from screening.grid import Grid, check_same_grid
from screening.models.arrays import U16, freeze
from screening.models.notes import Note
from screening.models.terrain import Block, Depressions, FlowField, Ponding, Storm, Surface

if TYPE_CHECKING:
    import geopandas as gpd
    import pandas as pd

Outcome = Literal["passed", "failed", "not assessed"]
WITHIN_ERROR = "within elevation error"
"""How the confidence of a finding begins that does not hold often enough."""


@dataclass(frozen=True, eq=False)
class InfiltrationZones:
    """Ground that may take water.

    Parameters
    ----------
    reasons
        Bits of `infiltration.REASONS` that reject each cell, uint16; 0 = candidate.
    table
        Candidate zones as polygons: see `columns.ZONE_COLUMNS`.
    by_lot
        `lot_id`, `infiltration_area_m2`, `infiltration_status`, `infiltration_why`.
    """

    grid: Grid
    reasons: U16
    table: gpd.GeoDataFrame
    by_lot: pd.DataFrame

    def __post_init__(self) -> None:
        freeze(self.reasons)


@dataclass(frozen=True)
class Verdict:
    """One check of one subject: statistic, operator, threshold, outcome.

    `passed` means `value operator threshold` holds; unknown is `not assessed`, never a pass. `aspect` tells checks
    that look for a problem, whose failures are flags, from those that look for a remedy. `confidence` says whether
    the outcome holds under elevation error.
    """

    lot_id: str
    subject_kind: str
    subject_id: str
    check: str
    statistic: str
    value: float | None
    operator: Literal["<=", ">=", "<", "=="]
    threshold: float
    unit: str
    source: str
    outcome: Outcome
    note: str = ""
    aspect: Literal["problem", "remedy"] = "problem"
    confidence_frac: float | None = None
    confidence: str = "not assessed"

    @property
    def is_within_error(self) -> bool:
        """True where the outcome does not hold often enough under elevation error."""
        return self.confidence.startswith(WITHIN_ERROR)


@dataclass(frozen=True, eq=False)
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
    driveways: gpd.GeoDataFrame
    zones: InfiltrationZones
    flow_paths: gpd.GeoDataFrame
    catchments: gpd.GeoDataFrame
    verdicts: tuple[Verdict, ...]
    summary: gpd.GeoDataFrame
    notes: tuple[Note, ...] = field(default=())

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
