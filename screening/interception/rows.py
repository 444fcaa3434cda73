"""Rows of the tables of lines across driveways, whole before they are tables."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.grid import Grid
from screening.models import Interception, Verdict
from screening.schema.codes.interception import LinePlace, LineRun
from screening.schema.codes.outfall import Outfall
from screening.schema.codes.storm import PeakCode
from screening.schema.columns import DRAIN_OUTLET_COLUMNS, INTERCEPTION_COLUMNS, declared

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, kw_only=True)
class LineId:
    """Which line it is: columns of both tables."""

    line_id: str
    driveway_id: str
    lot_id: str
    line_rank: int


@dataclass(frozen=True, kw_only=True)
class LineWater:
    """What a line takes: columns of `columns.INTERCEPTION_COLUMNS`; peaks are NaN where `peak_code` says why."""

    structure_id: str
    place: LinePlace
    runs: LineRun
    from_wall_m: float
    arriving_m3: float
    arriving_l_s: float
    captured_m3: float
    captured_l_s: float
    captured_area_m2: float
    intercepted_m3: float
    bypass_m3: float
    bypass_l_s: float
    bypass_frac: float
    n_lines_tried: int
    peak_code: PeakCode
    peak_limit: float
    edge_contaminated: bool


@dataclass(frozen=True, kw_only=True)
class LineDrain:
    """How a channel lies under a line, where it drains to, and the drain tried in it: columns of the same table."""

    length_m: float
    outlet_ground_elev_m: float
    outlet_depth_m: float
    invert_elev_m: float
    channel_slope_pct: float
    cut_depth_m: float
    outlet: Outfall
    outlet_zone_id: str
    outlet_length_m: float
    fall_available_m: float
    fall_needed_m: float
    n_units: int
    drain_storage_m3: float
    drain_capacity_l_s: float = float("nan")
    drain_limited_by: str = ""
    drain_bypass_l_s: float = float("nan")
    grate_ponding_mm: float = float("nan")


@dataclass(frozen=True, kw_only=True, eq=False)
class LineRow:
    """A line as a row, with its shape [m]."""

    line: LineId
    water: LineWater
    drain: LineDrain
    shape: BaseGeometry


@dataclass(frozen=True, kw_only=True)
class DrainPipe:
    """Columns of `columns.DRAIN_OUTLET_COLUMNS`."""

    kind: Outfall
    zone_id: str
    length_m: float
    start_elev_m: float
    end_elev_m: float
    fall_available_m: float
    fall_needed_m: float


@dataclass(frozen=True, kw_only=True, eq=False)
class OutletRow:
    """The pipe of a drain as a row, with its shape [m]."""

    line: LineId
    pipe: DrainPipe
    shape: BaseGeometry


def tabulate_lines(
    lines: list[LineRow], outlets: list[OutletRow], verdicts: tuple[Verdict, ...], grid: Grid
) -> Interception:
    """Make tables of lines and of the outfalls of their drains.

    Parameters
    ----------
    lines, outlets, verdicts
        In their order.
    grid
        Where they lie.
    """
    parts = [(row.line, row.water, row.drain) for row in lines]
    ends = [(row.line, row.pipe) for row in outlets]
    line_rows, outlet_rows = (
        [{name: value for part in row for name, value in dataclasses.asdict(part).items()} for row in rows]
        for rows in (parts, ends)
    )
    return Interception(
        lines=declared(line_rows, INTERCEPTION_COLUMNS, geometry=[row.shape for row in lines], crs=grid.crs),
        outlets=declared(outlet_rows, DRAIN_OUTLET_COLUMNS, geometry=[row.shape for row in outlets], crs=grid.crs),
        verdicts=verdicts,
    )
