"""How fast water arrives: time of concentration along the paths on the grid, and peak flows at places."""

from __future__ import annotations

import math

import numpy as np

from screening.models import (
    F32,
    F64,
    I64,
    Block,
    Concentration,
    FlowField,
    GroundCover,
    Note,
    PeakFlows,
    Storm,
    Surface,
)
from screening.schema.covers import COVERS, LAWN_COEFFICIENTS, LAWN_SLOPE_LIMITS_PCT
from screening.schema.criteria import Criteria
from screening.storm.peak_methods import (
    PAVED_SPEED_M_S,
    UNPAVED_SPEED_M_S,
    channel_speed_m_s,
    frequency_factor,
    graphical_limits,
    graphical_peak_m3_s,
    rational_peak_m3_s,
    sheet_factor_h,
)
from screening.storm.rainfall_tables import intensity_mm_h, two_year_daily_mm

_C_PAVED = 0.825  # asphalt, the middle of HEC-22 Table 3-1: the impervious share of developed land cover

_C_BEYOND = LAWN_COEFFICIENTS["heavy"][1]


def concentrate(surface: Surface, flow: FlowField, storm: Storm, *, criteria: Criteria) -> Concentration:
    """Find how the water above each cell gathers.

    Parameters
    ----------
    surface, flow, storm
        Of the same window; of the storm its ground cover, and the 2-year rain of its table.
    criteria
        `sheet_flow_length_m`, `path_slope_length_m`, `path_slope_min_pct`, `flow_path_min_area_m2` (where sheet flow
        ends at the latest), `channel_min_area_m2`, `channel_n`, `channel_hydraulic_radius_m`,
        `time_of_concentration_min_h`, `two_year_24h_rain_mm`.

    Returns
    -------
    Time of concentration and runoff coefficient times area, by cell.

    References
    ----------
    TR-55 (1986), chapter 3; HEC-22 (3rd ed., 2009), Table 3-1 and page 4-68 (least time).
    """
    from screening.kernels.accumulate import accumulate

    grid = flow.grid
    known_rain = two_year_daily_mm(storm.rain.table)
    two_year_mm = criteria.storm.two_year_24h_rain_mm if known_rain is None else known_rain
    longest = travel_time_h(surface, flow, storm.ground, two_year_rain_mm=two_year_mm, criteria=criteria)
    at_least = np.maximum(longest, criteria.storm.time_of_concentration_min_h).astype(np.float32)
    through = accumulate(flow.receiver, flow.order, coefficient_areas_m2(surface, flow, storm)).reshape(grid.shape)
    notes = []
    if flow.inflow.cell.size:
        text = (
            f"times of concentration count the way inside the window only, and ground beyond has a coefficient of "
            f"{_C_BEYOND:g}: peaks of water from beyond are too high rather than too low"
        )
        notes.append(Note("assumed", "runoff", text))
    if known_rain is None:
        text = f"the 2-year, 24-hour rain is not known: {two_year_mm:.0f} mm is taken for the time of sheet flow"
        notes.append(Note("assumed", "runoff", text))
    return Concentration(
        grid=grid,
        time_of_concentration_h=at_least,
        coefficient_area_m2=through,
        two_year_rain_mm=two_year_mm,
        notes=tuple(notes),
    )


def coefficient_areas_m2(surface: Surface, flow: FlowField, storm: Storm) -> F64:
    """Rational runoff coefficient times area of each cell, and of what comes in there from beyond the window.

    Returns
    -------
    float64 (n_cells,) [m2]; 0 where there is no data.
    """
    grid = flow.grid
    coefficient = runoff_coefficients(storm.ground, surface.slope_pct).ravel()
    weight = np.where(flow.receiver >= 0, coefficient.astype(np.float64) * grid.cell_area_m2, 0.0)
    weight[flow.inflow.cell] += flow.inflow.area_m2 * _C_BEYOND
    return weight


def travel_time_h(
    surface: Surface, flow: FlowField, ground: GroundCover, *, two_year_rain_mm: float, criteria: Criteria
) -> F64:
    """Longest travel time to each cell from the heads of the paths above it, however short.

    Each path begins as sheet flow, goes on as shallow concentrated flow (faster on pavement), and as channel flow
    where the contributing area is that of a channel; channels have one assumed roughness and hydraulic radius.
    Slopes follow the path on the ground itself, lower where a drain is cut; ponds add no time of their own beyond
    that of the least slope.

    Parameters
    ----------
    surface, flow, ground
        Of the same window.
    two_year_rain_mm
        The 2-year, 24-hour rain [mm].
    criteria
        As for `concentrate`.

    Returns
    -------
    float64 (n_rows, n_cols) [h]; 0 at heads, NaN = no data.
    """
    from screening.kernels.travel_time import longest_travel_time, main_donors, path_slopes, step_lengths

    grid, area, receiver = flow.grid, flow.contributing_area_m2.ravel(), flow.receiver
    bare = np.fmin(surface.elev_m, surface.routed_elev_m).ravel()
    main = main_donors(receiver, flow.order, area)
    step = step_lengths(receiver, grid.n_cols, grid.cell_m)
    least = criteria.storm.path_slope_min_pct / 100.0
    over_root = step / np.sqrt(path_slopes(receiver, main, step, bare, criteria.storm.path_slope_length_m, least))
    sheet_n = np.array([0.0, *(cover.sheet_n for cover in COVERS)])[ground.cover.ravel()]
    by_cover = [PAVED_SPEED_M_S if cover.is_paved else UNPAVED_SPEED_M_S for cover in COVERS]
    speed = np.array([UNPAVED_SPEED_M_S, *by_cover])[ground.cover.ravel()]
    channel = channel_speed_m_s(criteria.storm.channel_n, criteria.storm.channel_hydraulic_radius_m)
    speed[area >= criteria.storm.channel_min_area_m2] = channel
    longest = longest_travel_time(
        receiver=receiver,
        order=flow.order,
        main=main,
        step=step,
        sheet_load=sheet_n * over_root,
        gathered_h=over_root / (speed * 3600.0),
        gathers=area >= criteria.flow.flow_path_min_area_m2,
        sheet_length_m=criteria.storm.sheet_flow_length_m,
        step_max_m=1.5 * grid.cell_m,
        sheet_factor=sheet_factor_h(two_year_rain_mm),
    )
    return longest.reshape(grid.shape)


def runoff_coefficients(ground: GroundCover, slope_pct: F64) -> F32:
    """Rational runoff coefficient of each cell from its cover, and on lawns from soil and slope.

    Parameters
    ----------
    ground
        Cover and group.
    slope_pct
        Ground slope [%]; unknown counts as flat.

    Returns
    -------
    float32 (n_rows, n_cols).
    """
    sandy, heavy = LAWN_COEFFICIENTS["sandy"], LAWN_COEFFICIENTS["heavy"]
    table = np.empty((len(COVERS) + 1, 5, 3), np.float32)
    lawn = np.array([heavy, sandy, sandy, heavy, heavy])
    table[0] = lawn
    for code, cover in enumerate(COVERS, start=1):
        pervious = lawn if cover.coefficient is None else np.full_like(lawn, cover.coefficient)
        table[code] = pervious + cover.impervious_frac * (_C_PAVED - pervious)
    steepness = np.digitize(np.nan_to_num(slope_pct), LAWN_SLOPE_LIMITS_PCT)
    coefficients: F32 = table[ground.cover, ground.group, steepness]
    return coefficients


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
    if not has_intensities(storm):
        runoff_mm, number = _graphical_means(area, zone_start, zone_cells, flow, storm)
        return _graphical(area, tc, runoff_mm, number, storm, criteria)
    total = zone_upstream_total(flow.receiver, concentration.coefficient_area_m2.ravel(), zone_start, zone_cells)
    return _rational(area, tc, total, storm, criteria)


def peaks_of_ground(
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


def has_intensities(storm: Storm) -> bool:
    """Whether the rain has a return period within a rainfall table, so that its intensity is known."""
    rain, years = storm.rain, storm.rain.return_period_yr
    return rain.table is not None and years is not None and math.isfinite(years)


def _rational(area: F64, tc: F64, coefficient_area: F64, storm: Storm, criteria: Criteria) -> PeakFlows:
    table, years = storm.rain.table, storm.rain.return_period_yr
    assert table is not None and years is not None
    coefficient = np.divide(coefficient_area, area, out=np.full(area.size, np.nan), where=area > 0)
    longest = table.durations_h[-1]
    why = tuple(_why_not(*place, criteria.storm.rational_area_max_m2, longest) for place in zip(area, tc, strict=True))
    is_assessed = np.array([not text for text in why], bool)
    intensity = np.full(area.size, np.nan)
    intensity[is_assessed] = intensity_mm_h(table, return_period_yr=years, duration_h=tc[is_assessed])
    used = np.minimum(coefficient * frequency_factor(years), 1.0)
    return PeakFlows(
        area_m2=area,
        time_of_concentration_h=tc,
        runoff_coefficient=coefficient,
        intensity_mm_h=intensity,
        peak_m3_s=rational_peak_m3_s(used, intensity, area),
        why=why,
        method="rational",
    )


def peaks_onto_lots(
    block: Block, flow: FlowField, storm: Storm, concentration: Concentration, *, criteria: Criteria
) -> PeakFlows:
    """Compute the peak of the water that reaches each lot from outside, in the order of the lots."""
    from screening.kernels.zones import ragged_from_labels

    n_lots = len(block.lots)
    lot = block.lot_index.ravel()
    below = np.where(flow.receiver >= 0, lot[flow.receiver], 0)
    entering = np.where(below != lot, below, 0).astype(np.int32)
    starts, cells = ragged_from_labels(entering.reshape(flow.grid.shape), n_lots)
    return peaks_of_zones(starts, cells, flow=flow, storm=storm, concentration=concentration, criteria=criteria)


def _why_not(area_m2: float, tc_h: float, area_max_m2: float, longest_h: float) -> str:
    if math.isnan(tc_h):
        return "no ground drains here"
    if area_m2 > area_max_m2:
        return f"more than {area_max_m2 / 1e4:.0f} ha drain here: beyond the rational method"
    if tc_h > longest_h:
        return f"the rainfall table ends at {longest_h:g} h"
    return ""


def _graphical_means(area: F64, zone_start: I64, zone_cells: I64, flow: FlowField, storm: Storm) -> tuple[F64, F64]:
    """Mean runoff [mm] and curve number of the ground of each zone."""
    from screening.kernels.accumulate import accumulate, zone_upstream_total

    means, inflow = [], flow.inflow
    beyond = (inflow.runoff_m3 * 1000.0, inflow.area_m2 * inflow.curve_number)
    for values, from_beyond in zip((storm.runoff_mm, storm.curve_number), beyond, strict=True):
        weight = np.nan_to_num(values.astype(np.float64)) * flow.grid.cell_area_m2
        weight.ravel()[inflow.cell] += from_beyond
        through = accumulate(flow.receiver, flow.order, weight.ravel())
        total = zone_upstream_total(flow.receiver, through, zone_start, zone_cells)
        means.append(np.divide(total, area, out=np.full(area.size, np.nan), where=area > 0))
    return means[0], means[1]


def _graphical(area: F64, tc: F64, runoff_mm: F64, number: F64, storm: Storm, criteria: Criteria) -> PeakFlows:
    """Peaks of a 24-hour rain of which only the depth is known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ia_p = criteria.storm.initial_abstraction_ratio * (1000.0 / number - 10.0) * 25.4 / storm.rain.depth_mm
    kind = criteria.storm.rainfall_distribution
    peak = graphical_peak_m3_s(runoff_mm, area, tc, ia_p, distribution=kind)
    text = f"no rain intensity is known: peaks are those of a 24-hour rain of type {kind} by the graphical method"
    notes = [Note("assumed", "runoff", text)]
    if outside := graphical_limits(tc, ia_p, number):
        notes.append(Note("caution", "runoff", f"graphical method: {outside}"))
    why = tuple("no ground drains here" if math.isnan(time) else "" for time in tc)
    unknown = np.full(area.size, np.nan)
    return PeakFlows(
        area_m2=area,
        time_of_concentration_h=tc,
        runoff_coefficient=unknown,
        intensity_mm_h=unknown.copy(),
        peak_m3_s=peak,
        why=why,
        method="graphical",
        notes=tuple(notes),
    )
