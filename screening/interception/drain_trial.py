"""A trench drain of the default measures, tried in a line: how it lies, what it takes, what is checked."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from screening.hydraulics.channel import Channel
from screening.hydraulics.channel_capacity import storage_m3
from screening.hydraulics.drain_check import TrenchDrainAssessment, assess_trench_drain
from screening.hydraulics.drain_site import DrainSite
from screening.hydraulics.grates import Grate
from screening.hydraulics.outlet import OutletPipe
from screening.hydraulics.rows import CheckRow
from screening.hydraulics.sections import TrenchSection
from screening.hydraulics.trench_drain import TrenchDrain
from screening.interception.rows import LineDrain, LineId, LineWater
from screening.models import Verdict
from screening.outfall.laid_channel import LaidChannel
from screening.schema.codes.hydraulics import CheckReason
from screening.schema.codes.verdicts import Operator, SubjectKind
from screening.schema.criteria import Criteria, sources
from screening.storage.verdicts import remedy_verdict
from screening.units import MM_PER_M

if TYPE_CHECKING:
    from screening.outfall.daylight import DrainOutlet


def try_drain(
    laid: LaidChannel, outlet: DrainOutlet, *, inflow_m3_s: float, criteria: Criteria
) -> TrenchDrainAssessment:
    """Try a trench drain of the default measures in a line.

    Parameters
    ----------
    laid
        How it lies.
    outlet
        Where its pipe leads; without an outfall what depends on the pipe is not assessed.
    inflow_m3_s
        Peak that comes to it [m3/s].
    criteria
        The `trench_drain_` and `outlet_pipe_` measures and thresholds.

    Returns
    -------
    Its assessment. The channel has its own depth all along, even where it lies deeper: what it carries is no more
    than that.
    """
    channel = _channel(laid, criteria)
    grate = Grate(
        width_m=criteria.hydraulics.trench_drain_top_width_m,
        length_m=laid.length_m,
        open_frac=criteria.hydraulics.trench_drain_open_frac,
    )
    pipe = None
    if outlet.line is not None:
        pipe = OutletPipe(
            diameter_m=criteria.hydraulics.outlet_pipe_diameter_m,
            length_m=outlet.length_m,
            fall_m=outlet.fall_available_m,
            roughness=criteria.hydraulics.outlet_pipe_n,
        )
    drain = TrenchDrain(channel=channel, grate=grate, pipe=pipe, site=DrainSite(cut_depth_m=laid.cut_depth_m))
    return assess_trench_drain(drain, inflow_m3_s=inflow_m3_s, criteria=criteria, clogged_fracs=())


def _channel(laid: LaidChannel, criteria: Criteria) -> Channel:
    section = TrenchSection(
        criteria.hydraulics.trench_drain_base_width_m,
        criteria.hydraulics.trench_drain_top_width_m,
        criteria.hydraulics.trench_drain_depth_m,
    )
    return Channel(
        section=section, length_m=laid.length_m, invert_slope=laid.slope, roughness=criteria.hydraulics.trench_drain_n
    )


def n_units(length_m: float, *, criteria: Criteria) -> int:
    """Count the units that reach along a line, the last of them cut."""
    return math.ceil(round(length_m / criteria.hydraulics.trench_drain_unit_m, 6))


def lay_drain(
    laid: LaidChannel, outlet: DrainOutlet, water: LineWater, *, is_tried: bool, criteria: Criteria
) -> tuple[LineDrain, TrenchDrainAssessment | None]:
    """Describe how a drain lies in a line, and try one there.

    Parameters
    ----------
    laid, outlet
        How a channel lies under it, and where that drains to.
    water
        What comes to it.
    is_tried
        Try a drain.
    criteria
        The measures and thresholds.

    Returns
    -------
    Its columns, and the assessment of the drain; None where none is tried.
    """
    peak_m3_s = float(water.captured_l_s) / 1000.0
    found = None
    if is_tried and not np.isnan(peak_m3_s) and not np.isnan(laid.invert_m):
        found = try_drain(laid, outlet, inflow_m3_s=peak_m3_s, criteria=criteria)
    drain = LineDrain(
        length_m=laid.length_m,
        outlet_ground_elev_m=laid.ground_m,
        outlet_depth_m=laid.depth_m,
        invert_elev_m=laid.invert_m,
        channel_slope_pct=laid.slope * 100.0,
        cut_depth_m=laid.cut_depth_m,
        outlet=outlet.kind,
        outlet_zone_id=outlet.zone_id,
        outlet_length_m=outlet.length_m,
        fall_available_m=outlet.fall_available_m,
        fall_needed_m=outlet.fall_needed_m,
        n_units=n_units(laid.length_m, criteria=criteria),
        drain_storage_m3=storage_m3(_channel(laid, criteria)) if not np.isnan(laid.slope) else np.nan,
    )
    if found is None:
        return drain, None
    tried = dataclasses.replace(
        drain,
        drain_capacity_l_s=found.capacities.drain_m3_s * 1000.0,
        drain_limited_by=found.capacities.limited_by,
        drain_bypass_l_s=found.bypass_m3_s * 1000.0,
        grate_ponding_mm=found.ponding_depth_m * MM_PER_M,
    )
    return tried, found


def check_line(
    line: LineId, outlet: DrainOutlet, water: LineWater, found: TrenchDrainAssessment | None, *, criteria: Criteria
) -> Iterator[Verdict]:
    """Check a line, and the drain that was tried in it.

    Parameters
    ----------
    line, outlet, water
        Which line, where it drains to, and what comes to it.
    found
        From `lay_drain`.
    criteria
        `interception_bypass_max_frac`, `outlet_pipe_slope_min_pct`.
    """
    for row in (*_line_rows(outlet, water, criteria), *(() if found is None else found.rows)):
        yield remedy_verdict(
            row, lot_id=line.lot_id, subject_kind=SubjectKind.INTERCEPTION_LINE, subject_id=line.line_id
        )


def _line_rows(outlet: DrainOutlet, water: LineWater, criteria: Criteria) -> tuple[CheckRow, ...]:
    source = sources(criteria)
    is_open = outlet.line is not None
    return (
        CheckRow(
            check="Little still comes over the driveway to walls",
            statistic="bypass_frac",
            value=water.bypass_frac,
            operator=Operator.AT_MOST,
            threshold=criteria.interception.interception_bypass_max_frac,
            unit="frac",
            source=source["interception_bypass_max_frac"],
        ),
        CheckRow(
            check="Its water has an outfall by gravity",
            statistic="fall_available_m",
            value=outlet.fall_available_m,
            operator=Operator.AT_LEAST,
            threshold=outlet.fall_needed_m,
            unit="m",
            source=source["outlet_pipe_slope_min_pct"],
            reasons=(CheckReason.RUNS_TO if is_open else CheckReason.NO_LOW_PLACE,),
            facts=(("outfall", outlet.kind), ("zone_id", outlet.zone_id)) if is_open else (),
        ),
    )
