"""Longest travel time of the water above each cell, along the paths it takes on the grid."""

import math

import numpy as np

from screening.kernels.compiling import F32, F64, I32, Mask, compiled

# Below all times: no gathered water.
_NONE = -1.0


def main_donors(receiver: I32, order: I32, area: F64) -> I32:
    """Donor with the largest contributing area of each cell, the first in raster order of equal ones; -1 = none.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
    area : (n_cells,) float64

    Returns
    -------
    (n_cells,) int32
    """
    main = np.full(receiver.size, -1, np.int32)
    _main_donors(receiver, order, area, main)
    return main


def step_lengths(receiver: I32, n_cols: int, cell_m: float) -> F64:
    """Distance from each cell to its receiver; 0 at outlets and no data.

    Parameters
    ----------
    receiver : (n_cells,) int32
    n_cols : int
    cell_m : float

    Returns
    -------
    (n_cells,) float64 [m]
    """
    step = np.zeros(receiver.size, np.float64)
    _step_lengths(receiver, n_cols, cell_m, step)
    return step


def path_slopes(receiver: I32, main: I32, step: F64, elev: F32, length_m: float, least: float) -> F64:
    """Slope of the step from each cell to its receiver, taken over a stretch of the path that ends there.

    The stretch reaches `length_m` up the main path, so that a slope depends on upstream ground alone and steps of
    noise even out; it is shorter below the head of a path.

    Parameters
    ----------
    receiver, main : (n_cells,) int32
    step : (n_cells,) float64 [m]
    elev : (n_cells,) float32 [m]
    length_m : float
    least : float [m/m]
        Taken where the ground falls less, rises, or is not known.

    Returns
    -------
    (n_cells,) float64 [m/m]
    """
    slope = np.full(receiver.size, least, np.float64)
    _path_slopes(receiver=receiver, main=main, step=step, elev=elev, length_m=length_m, least=least, slope=slope)
    return slope


def longest_travel_time(
    receiver: I32,
    order: I32,
    main: I32,
    step: F64,
    sheet_load: F64,
    gathered_h: F64,
    gathers: Mask,
    sheet_length_m: float,
    step_max_m: float,
    sheet_factor: float,
) -> F64:
    """Longest of the travel times from the heads of all paths that go through each cell.

    A path starts as sheet flow at a cell without donors and stays so for `sheet_length_m`, or until it meets a cell
    where water has gathered. Sheet flow over changing ground takes `sheet_factor * (sum of n L / sqrt(slope)) ** 0.8`,
    which on even ground is the equation itself and never falls along the path.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
    main : (n_cells,) int32
        -1 at heads.
    step : (n_cells,) float64 [m]
        To the receiver.
    sheet_load : (n_cells,) float64 [m]
        n L / sqrt(slope) of that step.
    gathered_h : (n_cells,) float64 [h]
        Time of that step for gathered water.
    gathers : (n_cells,) bool
        Where there is no sheet flow any more.
    sheet_length_m : float
    step_max_m : float
        A longer step is a downspout: no sheet flow.
    sheet_factor : float [h m^-0.8]

    Returns
    -------
    (n_cells,) float64 [h]
        NaN at no data.
    """
    load = np.full(receiver.size, np.nan, np.float64)
    load[order] = 0.0
    gathered = np.full(receiver.size, _NONE, np.float64)
    _sheet_flow(
        receiver=receiver,
        main=main,
        step=step,
        sheet_load=sheet_load,
        gathered_h=gathered_h,
        gathers=gathers,
        sheet_length_m=sheet_length_m,
        step_max_m=step_max_m,
        sheet_factor=sheet_factor,
        load=load,
        gathered=gathered,
    )
    _gathered_flow(receiver, order, gathered_h, gathered)
    return np.maximum(sheet_factor * load**0.8, gathered)


@compiled
def _main_donors(receiver: I32, order: I32, area: F64, main: I32) -> None:
    # `main[to]` is the largest donor of `to` before this cell in the order, ties settled by number, not by place in it.
    for cell in order:
        to = receiver[cell]
        if to == cell:
            continue
        other = main[to]
        if other < 0 or area[cell] > area[other] or (area[cell] == area[other] and cell < other):
            main[to] = cell


@compiled
def _step_lengths(receiver: I32, n_cols: int, cell_m: float, step: F64) -> None:
    # Each cell by itself. A step may be a conduit link, so its length is that between the cells.
    for cell in range(receiver.size):
        to = int(receiver[cell])
        if to < 0 or to == cell:
            continue
        down = to // n_cols - cell // n_cols
        across = to % n_cols - cell % n_cols
        step[cell] = cell_m * math.sqrt(float(down * down + across * across))


@compiled
def _path_slopes(receiver: I32, main: I32, step: F64, elev: F32, length_m: float, least: float, slope: F64) -> None:
    # Each cell by itself.
    for cell in range(receiver.size):
        to = int(receiver[cell])
        if to < 0 or to == cell:
            continue
        length = step[cell]
        top = int(cell)
        # `length` is the path from `top` down to `to`.
        while length < length_m and main[top] >= 0:
            top = int(main[top])
            length += step[top]
        fall = np.float64(elev[top]) - np.float64(elev[to])
        if fall > least * length:  # false where either is not known
            slope[cell] = fall / length


@compiled
def _sheet_flow(
    receiver: I32,
    main: I32,
    step: F64,
    sheet_load: F64,
    gathered_h: F64,
    gathers: Mask,
    sheet_length_m: float,
    step_max_m: float,
    sheet_factor: float,
    load: F64,
    gathered: F64,
) -> None:
    # `load` and `gathered` are the largest from the heads before this one.
    for head in range(receiver.size):
        if receiver[head] < 0 or main[head] >= 0:
            continue
        cell = int(head)
        length = 0.0
        own = 0.0
        # The water is sheet flow from the head down to `cell`, `length` long, `own` its load.
        while receiver[cell] != cell:
            to = int(receiver[cell])
            ends = gathers[cell] or step[cell] > step_max_m
            if ends or length + step[cell] > sheet_length_m:
                # The step on which the cap is reached is split: the rest of it is gathered flow.
                share = 0.0 if ends else (sheet_length_m - length) / step[cell]
                time = sheet_factor * (own + share * sheet_load[cell]) ** 0.8 + (1.0 - share) * gathered_h[cell]
                gathered[to] = max(gathered[to], time)
                break
            length += step[cell]
            own += sheet_load[cell]
            load[to] = max(load[to], own)
            cell = to


@compiled
def _gathered_flow(receiver: I32, order: I32, gathered_h: F64, gathered: F64) -> None:
    # Upstream first: `gathered[cell]` is the longest of all that comes to it.
    for cell in order:
        to = receiver[cell]
        if to != cell and gathered[cell] != _NONE:
            gathered[to] = max(gathered[to], gathered[cell] + gathered_h[cell])
