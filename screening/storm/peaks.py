"""Peak flows of a storm at places and zones of the grid."""

from __future__ import annotations

import math

import numpy as np

from screening.models import F64, I64, Block, Concentration, FlowField, PeakFlows, Storm, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.codes.storm import PeakCode
from screening.schema.criteria import Criteria
from screening.storm.graphical_sums import GraphicalSums, graphical_sums, has_intensities
from screening.storm.peak_methods import frequency_factor, graphical_limits, graphical_peak_m3_s, rational_peak_m3_s
from screening.storm.rainfall_tables import intensity_mm_h


def peaks_at(
    cells: I64, *, flow: FlowField, storm: Storm, concentration: Concentration, criteria: Criteria
) -> PeakFlows:
    """Compute the peak flow through each of some cells.

    Parameters
    ----------
    cells
        Flat indices, int64 (n,).
    flow, storm, concentration
        Of the same window.
    criteria
        As for `peaks_of_zones`.

    Returns
    -------
    Peaks in the order of the cells.
    """
    starts = np.arange(len(cells) + 1, dtype=np.int64)
    return peaks_of_zones(
        starts, np.asarray(cells, np.int64), flow=flow, storm=storm, concentration=concentration, criteria=criteria
    )


def peaks_of_zones(
    zone_start: I64,
    zone_cells: I64,
    *,
    flow: FlowField,
    storm: Storm,
    concentration: Concentration,
    criteria: Criteria,
    sums: GraphicalSums | None = None,
) -> PeakFlows:
    """Compute the peak flow that reaches each of some zones, such as the sides of a structure, as if at one place.

    All ground that drains through any cell of a zone counts once, and the longest of the cells' times of
    concentration holds for the whole. Where the rain has a return period within a rainfall table, the peak is the
    rational one with the table's intensity of that period over the time of concentration; otherwise the graphical
    one of a 24-hour rain with the stated distribution.

    Parameters
    ----------
    zone_start, zone_cells
        Cells of zone `i` are `zone_cells[zone_start[i]:zone_start[i + 1]]`, flat indices, int64; zones may overlap.
    flow, storm, concentration
        Of the same window.
    criteria
        `rational_area_max_m2`, `rainfall_distribution`, `initial_abstraction_ratio`.
    sums
        From `graphical_sums`, which is called here if they are not given.

    Returns
    -------
    Peaks in the order of the zones; not assessed where the area passes the limit of the rational method or the time
    that of the table.

    References
    ----------
    HEC-22 (3rd ed., 2009), equation 3-1 and pages 3-5 and 3-8; TR-55 (1986), chapter 4.
    """
    from screening.kernels.accumulate import zone_upstream_total

    area = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), zone_start, zone_cells)
    times = concentration.time_of_concentration_h.ravel()
    zones = [times[zone_cells[zone_start[i] : zone_start[i + 1]]] for i in range(len(zone_start) - 1)]
    tc = np.array([np.nanmax(own) if not np.isnan(own).all() else np.nan for own in zones], np.float64)
    through = sums or graphical_sums(flow, storm)
    if through is not None:
        runoff_mm, number = (
            np.divide(total, area, out=np.full(area.size, np.nan), where=area > 0)
            for total in (
                zone_upstream_total(flow.receiver, values, zone_start, zone_cells)
                for values in (through.runoff_mm_m2, through.number_m2)
            )
        )
        return _graphical(area, tc, runoff_mm, number, storm, criteria)
    total = zone_upstream_total(flow.receiver, concentration.coefficient_area_m2.ravel(), zone_start, zone_cells)
    return _rational(area, tc, total, storm, criteria)


def peaks_of_catchments(
    area_m2: F64,
    time_of_concentration_h: F64,
    coefficient_area_m2: F64,
    runoff_m3: F64,
    number_area_m2: F64,
    *,
    storm: Storm,
    criteria: Criteria,
) -> PeakFlows:
    """Compute peak flows of ground that was added up otherwise than along steepest descent.

    Parameters
    ----------
    area_m2, time_of_concentration_h
        By place, float64 (n,) [m2], [h].
    coefficient_area_m2
        Rational coefficient times area [m2]; not read where no intensity is known.
    runoff_m3, number_area_m2
        The storm's runoff [m3], and curve number times area [m2]; read only where no intensity is known.
    storm
        Its rain.
    criteria
        As for `peaks_of_zones`.

    Returns
    -------
    Peaks in the order of the places, by the methods of `peaks_of_zones`.
    """
    if has_intensities(storm):
        return _rational(area_m2, time_of_concentration_h, coefficient_area_m2, storm, criteria)

    def mean(total: F64) -> F64:
        mean_of: F64 = np.divide(total, area_m2, out=np.full(area_m2.size, np.nan), where=area_m2 > 0)
        return mean_of

    return _graphical(area_m2, time_of_concentration_h, mean(runoff_m3 * 1000.0), mean(number_area_m2), storm, criteria)


def _rational(area: F64, tc: F64, coefficient_area: F64, storm: Storm, criteria: Criteria) -> PeakFlows:
    table, years = storm.rain.table, storm.rain.return_period_yr
    assert table is not None and years is not None
    coefficient = np.divide(coefficient_area, area, out=np.full(area.size, np.nan), where=area > 0)
    longest = table.durations_h[-1]
    limits = [_limit(*place, criteria.storm.rational_area_max_m2, longest) for place in zip(area, tc, strict=True)]
    is_assessed = np.array([code is PeakCode.RATIONAL for code, _ in limits], bool)
    intensity = np.full(area.size, np.nan)
    intensity[is_assessed] = intensity_mm_h(table, return_period_yr=years, duration_h=tc[is_assessed])
    used = np.minimum(coefficient * frequency_factor(years), 1.0)
    return PeakFlows(
        area_m2=area,
        time_of_concentration_h=tc,
        runoff_coefficient=coefficient,
        intensity_mm_h=intensity,
        peak_m3_s=rational_peak_m3_s(used, intensity, area),
        code=tuple(code for code, _ in limits),
        limit=np.array([limit for _, limit in limits], np.float64),
    )


def peaks_onto_lots(
    block: Block, flow: FlowField, storm: Storm, concentration: Concentration, *, criteria: Criteria
) -> PeakFlows:
    """Compute the peak of the water that reaches each lot from outside, in the order of the lots."""
    zones = entering_cells(block, flow)
    return peaks_of_zones(*zones, flow=flow, storm=storm, concentration=concentration, criteria=criteria)


def entering_cells(block: Block, flow: FlowField) -> tuple[I64, I64]:
    """List the cells from which water steps onto each lot: those of lot `i` are `cells[starts[i]:starts[i + 1]]`."""
    from screening.kernels.zones import ragged_from_labels

    lot = block.lot_index.ravel()
    below = np.where(flow.receiver >= 0, lot[flow.receiver], 0)
    entering = np.where(below != lot, below, 0).astype(np.int32)
    return ragged_from_labels(entering.reshape(flow.grid.shape), len(block.lots))


def _limit(area_m2: float, tc_h: float, area_max_m2: float, longest_h: float) -> tuple[PeakCode, float]:
    """What stands in the way of the rational method, and its limit [ha or h]."""
    if math.isnan(tc_h):
        return PeakCode.NOTHING_ARRIVES, math.nan
    if area_m2 > area_max_m2:
        return PeakCode.AREA_TOO_LARGE, area_max_m2 / 1e4
    if tc_h > longest_h:
        return PeakCode.TIME_TOO_LONG, longest_h
    return PeakCode.RATIONAL, math.nan


def _graphical(area: F64, tc: F64, runoff_mm: F64, number: F64, storm: Storm, criteria: Criteria) -> PeakFlows:
    """Peaks of a 24-hour rain of which only the depth is known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ia_p = criteria.storm.initial_abstraction_ratio * (1000.0 / number - 10.0) * 25.4 / storm.rain.depth_mm
    kind = criteria.storm.rainfall_distribution
    peak = graphical_peak_m3_s(runoff_mm, area, tc, ia_p, distribution=kind)
    notes = [note(NoteKind.ASSUMED, NoteSubject.RUNOFF, NoteCode.PEAKS_GRAPHICAL, distribution=kind)]
    outside = graphical_limits(tc, ia_p, number)
    if outside.is_any:
        notes.append(
            note(
                NoteKind.CAUTION,
                NoteSubject.RUNOFF,
                NoteCode.PEAKS_OUT_OF_RANGE,
                n_time=outside.n_time,
                n_ratio=outside.n_ratio,
                n_number=outside.n_number,
                n_places=tc.size,
            )
        )
    code = tuple(PeakCode.NOTHING_ARRIVES if math.isnan(time) else PeakCode.GRAPHICAL for time in tc)
    unknown = np.full(area.size, np.nan)
    return PeakFlows(
        area_m2=area,
        time_of_concentration_h=tc,
        runoff_coefficient=unknown,
        intensity_mm_h=unknown.copy(),
        peak_m3_s=peak,
        code=code,
        limit=unknown.copy(),
        notes=tuple(notes),
    )
