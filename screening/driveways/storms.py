"""What the tracers of driveways carry in a storm: volumes, and peak flows where they come together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from screening.driveways.tracers import OWN, Tracers
from screening.models import F64, Bool, Concentration, FlowField, Storm, Surface, freeze
from screening.schema.codes.storm import PeakCode
from screening.schema.covers import COVERS
from screening.schema.criteria import Criteria
from screening.storm.concentration import runoff_coefficients
from screening.storm.curve_numbers import runoff_depth_mm
from screening.storm.graphical_sums import has_intensities
from screening.storm.peak_methods import frequency_factor, graphical_peak_m3_s, rational_peak_m3_s
from screening.storm.rainfall_tables import intensity_mm_h

_DRIVEWAY = next(cover for cover in COVERS if cover.name == "driveway")
_CURVE_NUMBER = float(_DRIVEWAY.curve_number[0])


@dataclass(frozen=True, kw_only=True, eq=False)
class StormFields:
    """A storm as driveways meet it, arrays flat by cell of the window, float64.

    Parameters
    ----------
    runoff_m
        Depth of runoff of each cell.
    runoff_through_m3
        Of all that drains through it.
    coefficient, coefficient_area_m2
        Rational coefficient of each cell, and added up times area over all that drains through it; empty where the
        graphical method is used.
    curve_number, curve_number_area_m2
        The same of curve numbers; empty where the rational method is used.
    area_m2
        Ground that drains through it.
    time_h
        Time of concentration.
    """

    storm: Storm
    runoff_m: F64
    runoff_through_m3: F64
    coefficient: F64
    coefficient_area_m2: F64
    curve_number: F64
    curve_number_area_m2: F64
    area_m2: F64
    time_h: F64

    def __post_init__(self) -> None:
        freeze(self.runoff_m, self.runoff_through_m3, self.coefficient, self.coefficient_area_m2)
        freeze(self.curve_number, self.curve_number_area_m2, self.area_m2, self.time_h)


@dataclass(frozen=True)
class Peak:
    """Peak flow at a place.

    Parameters
    ----------
    peak_m3_s, time_h
        NaN = not assessed; time within which the ground that makes the peak is there [h].
    code
        How it was found, or why it is not assessed.
    limit
        The number of that code, NaN where it has none.
    """

    peak_m3_s: float
    time_h: float
    code: PeakCode
    limit: float = math.nan


def storm_fields(
    storm: Storm, surface: Surface, flow: FlowField, concentration: Concentration, *, criteria: Criteria
) -> StormFields:
    """Gather what the driveways of a block need of a storm; all on the same window."""
    from screening.kernels.accumulate import accumulate

    cell_area, inflow = flow.grid.cell_area_m2, flow.inflow
    runoff = np.nan_to_num(storm.runoff_mm.astype(np.float64)).ravel() / 1000.0
    volume = runoff * cell_area
    volume[inflow.cell] += inflow.runoff_m3 * _inflow_factor(storm, flow, criteria)
    coefficient, coefficient_through, number, number_through = (np.empty(0, np.float64) for _ in range(4))
    if has_intensities(storm):
        coefficient = runoff_coefficients(storm.ground_cover, surface.slope_pct).astype(np.float64).ravel()
        coefficient_through = np.array(concentration.coefficient_area_m2, np.float64).ravel()
    else:
        number = np.nan_to_num(storm.curve_number.astype(np.float64)).ravel()
        weight = number * cell_area
        weight[inflow.cell] += inflow.area_m2 * inflow.curve_number
        number_through = accumulate(flow.receiver, flow.order, weight)
    return StormFields(
        storm=storm,
        runoff_m=runoff,
        runoff_through_m3=accumulate(flow.receiver, flow.order, volume),
        coefficient=coefficient,
        coefficient_area_m2=coefficient_through,
        curve_number=number,
        curve_number_area_m2=number_through,
        area_m2=np.array(flow.contributing_area_m2, np.float64).ravel(),
        time_h=concentration.time_of_concentration_h.astype(np.float64).ravel(),
    )


def _inflow_factor(storm: Storm, flow: FlowField, criteria: Criteria) -> F64 | float:
    """Runoff from beyond the window in this storm, over that in the storm it was found for."""
    inflow = flow.inflow
    if not inflow.cell.size:
        return 1.0
    ratio = criteria.storm.initial_abstraction_ratio
    now = runoff_depth_mm(storm.rain.depth_mm, inflow.curve_number, ratio=ratio) / 1000.0 * inflow.area_m2
    return np.divide(now, inflow.runoff_m3, out=np.ones(inflow.cell.size), where=inflow.runoff_m3 > 0)


def volumes_m3(tracers: Tracers, fields: StormFields, *, criteria: Criteria) -> F64:
    """Storm runoff that each tracer carries; own rain runs off as from a driveway."""
    ratio = criteria.storm.initial_abstraction_ratio
    own = float(runoff_depth_mm(fields.storm.rain.depth_mm, _CURVE_NUMBER, ratio=ratio)) / 1000.0
    return tracers.amounts(own=own, local=fields.runoff_m, through=fields.runoff_through_m3)


def areas_m2(tracers: Tracers, fields: StormFields) -> F64:
    """Ground that each tracer stands for."""
    return tracers.amounts(own=1.0, local=np.ones(fields.area_m2.size), through=fields.area_m2)


def peak_of(tracers: Tracers, chosen: Bool, fields: StormFields, *, criteria: Criteria) -> Peak:
    """Compute the peak where chosen tracers come together, before any is held back.

    The rational peak is the largest over times: intensity over a time, and all ground whose water is there by then.
    So a paved driveway at once may count for more than with its slow ground uphill. The graphical peak takes all
    ground and the longest time.

    Parameters
    ----------
    tracers, chosen
        Tracers of a driveway, and which of them.
    fields
        Of the storm.
    criteria
        `time_of_concentration_min_h`, `rational_area_max_m2`, `rainfall_distribution`, `initial_abstraction_ratio`.

    References
    ----------
    HEC-22 (3rd ed., 2009), equation 3-1 and pages 3-5 and 3-8; TR-55 (1986), chapter 4. That part of the ground may
    give the larger peak: common practice of the rational method.
    """
    if not chosen.any():
        return Peak(0.0, math.nan, PeakCode.NOTHING_ARRIVES)
    least = criteria.storm.time_of_concentration_min_h
    time = np.where(tracers.kind == OWN, least, np.maximum(np.nan_to_num(fields.time_h[tracers.cell]), least))[chosen]
    area = areas_m2(tracers, fields)[chosen]
    if not has_intensities(fields.storm):
        return _graphical(tracers, chosen, fields, float(time.max()), float(area.sum()), criteria)
    rain = fields.storm.rain
    assert rain.table is not None and rain.return_period_yr is not None
    coefficient = tracers.amounts(
        own=float(_DRIVEWAY.coefficient or 0.0), local=fields.coefficient, through=fields.coefficient_area_m2
    )[chosen]
    if area.sum() > criteria.storm.rational_area_max_m2:
        limit = criteria.storm.rational_area_max_m2 / 1e4
        return Peak(math.nan, float(time.max()), PeakCode.AREA_TOO_LARGE, limit)
    order = np.argsort(time, kind="stable")
    times, last = np.unique(time[order], return_index=True)
    upto = np.concatenate((last[1:], [time.size])) - 1
    is_known = times <= rain.table.durations_h[-1]
    if not is_known.any():
        return Peak(math.nan, float(time.max()), PeakCode.TIME_TOO_LONG, rain.table.durations_h[-1])
    all_area, all_coefficient = np.cumsum(area[order])[upto], np.cumsum(coefficient[order])[upto]
    mean = np.divide(all_coefficient, all_area, out=np.zeros(times.size), where=all_area > 0)
    used = np.minimum(mean * frequency_factor(rain.return_period_yr), 1.0)[is_known]
    intensity = intensity_mm_h(rain.table, return_period_yr=rain.return_period_yr, duration_h=times[is_known])
    peaks = rational_peak_m3_s(used, intensity, all_area[is_known])
    best = int(np.argmax(peaks))
    return Peak(float(peaks[best]), float(times[best]), PeakCode.RATIONAL)


def _graphical(
    tracers: Tracers, chosen: Bool, fields: StormFields, time_h: float, area_m2: float, criteria: Criteria
) -> Peak:
    if area_m2 <= 0:
        return Peak(0.0, math.nan, PeakCode.NOTHING_ARRIVES)
    runoff_mm = float(volumes_m3(tracers, fields, criteria=criteria)[chosen].sum()) / area_m2 * 1000.0
    number = tracers.amounts(own=_CURVE_NUMBER, local=fields.curve_number, through=fields.curve_number_area_m2)
    mean = float(number[chosen].sum()) / area_m2
    ia_p = criteria.storm.initial_abstraction_ratio * (1000.0 / mean - 10.0) * 25.4 / fields.storm.rain.depth_mm
    peak = graphical_peak_m3_s(runoff_mm, area_m2, time_h, ia_p, distribution=criteria.storm.rainfall_distribution)
    return Peak(float(peak), time_h, PeakCode.GRAPHICAL)
