"""How water gathers on its way: time of concentration along the paths on the grid, and rational coefficients."""

from __future__ import annotations

from functools import partial

import numpy as np

from screening.models import F32, F64, Concentration, FlowField, GroundCover, Storm, Surface, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.covers import COVERS, LAWN_COEFFICIENTS, LAWN_SLOPE_LIMITS_PCT
from screening.schema.criteria import Criteria
from screening.storm.peak_methods import PAVED_SPEED_M_S, UNPAVED_SPEED_M_S, channel_speed_m_s, sheet_factor_h
from screening.storm.rainfall_tables import two_year_daily_mm

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
    longest = travel_time_h(surface, flow, storm.ground_cover, two_year_rain_mm=two_year_mm, criteria=criteria)
    at_least = np.maximum(longest, criteria.storm.time_of_concentration_min_h).astype(np.float32)
    through = accumulate(flow.receiver, flow.order, coefficient_areas_m2(surface, flow, storm)).reshape(grid.shape)
    assumed, notes = partial(note, NoteKind.ASSUMED, NoteSubject.RUNOFF), []
    if flow.inflow.cell.size:
        notes.append(assumed(NoteCode.TIMES_INSIDE_ONLY, coefficient=_C_BEYOND))
    if known_rain is None:
        notes.append(assumed(NoteCode.TWO_YEAR_RAIN_ASSUMED, depth_mm=two_year_mm))
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
    coefficient = runoff_coefficients(storm.ground_cover, surface.slope_pct).ravel()
    weight = np.where(flow.receiver >= 0, coefficient.astype(np.float64) * grid.cell_area_m2, 0.0)
    weight[flow.inflow.cell] += flow.inflow.area_m2 * _C_BEYOND
    return weight


def travel_time_h(
    surface: Surface, flow: FlowField, ground_cover: GroundCover, *, two_year_rain_mm: float, criteria: Criteria
) -> F64:
    """Longest travel time to each cell from the heads of the paths above it, however short.

    Each path begins as sheet flow, goes on as shallow concentrated flow (faster on pavement), and as channel flow
    where the contributing area is that of a channel; channels have one assumed roughness and hydraulic radius.
    Slopes follow the path on the ground itself, lower where a drain is cut; ponds add no time of their own beyond
    that of the least slope.

    Parameters
    ----------
    surface, flow, ground_cover
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
    sheet_n = np.array([0.0, *(cover.sheet_n for cover in COVERS)])[ground_cover.cover.ravel()]
    by_cover = [PAVED_SPEED_M_S if cover.is_paved else UNPAVED_SPEED_M_S for cover in COVERS]
    speed = np.array([UNPAVED_SPEED_M_S, *by_cover])[ground_cover.cover.ravel()]
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


def runoff_coefficients(ground_cover: GroundCover, slope_pct: F64) -> F32:
    """Rational runoff coefficient of each cell from its cover, and on lawns from soil and slope.

    Parameters
    ----------
    ground_cover
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
    coefficients: F32 = table[ground_cover.cover, ground_cover.group, steepness]
    return coefficients
