"""Longest travel time of the water above each cell, along the paths it takes on the grid."""

import math

import numpy as np

from screening.kernels.compiling import F32, F64, I32, compiled

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


def path_slopes(
    receiver: I32, main: I32, ground: F32, n_cols: int, cell_m: float, length_m: float, least: float
) -> F64:
    """Slope of the step from each cell to its receiver, taken over a stretch of the path that ends there.

    The stretch reaches `length_m` up the main path, so that a slope depends on upstream ground alone and steps of
    noise even out; it is shorter below the head of a path.

    Parameters
    ----------
    receiver, main : (n_cells,) int32
    ground : (n_cells,) float32 [m]
    n_cols : int
    cell_m, length_m : float
    least : float [m/m]
        Taken where the ground falls less, rises, or is not known.

    Returns
    -------
    (n_cells,) float64 [m/m]
    """
    slope = np.full(receiver.size, least, np.float64)
    _path_slopes(receiver, main, ground, n_cols, cell_m, length_m, least, slope)
    return slope


def longest_travel_time(
    receiver: I32, order: I32, main: I32, slope: F64, sheet_n: F32, speed: F32, gathers: np.ndarray,
    n_cols: int, cell_m: float, sheet_length_m: float, sheet_factor: float,
) -> F64:  # fmt: skip
    """Longest of the travel times from the heads of all paths that pass each cell.

    A path starts as sheet flow at a cell without donors and stays so for `sheet_length_m`, or until it meets a cell
    where water has gathered; from there each step takes its length over `speed` times the root of its slope.
    Sheet flow over changing ground takes `sheet_factor * (sum of n L / sqrt(slope)) ** 0.8`, which on even ground is
    the equation itself and never falls along the path.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
    main : (n_cells,) int32
        -1 at heads.
    slope : (n_cells,) float64 [m/m]
    sheet_n : (n_cells,) float32
    speed : (n_cells,) float32 [m/s]
        At a slope of 1.
    gathers : (n_cells,) bool
        Where there is no sheet flow any more.
    n_cols : int
    cell_m : float
    sheet_length_m : float
    sheet_factor : float [h m^-0.8]

    Returns
    -------
    (n_cells,) float64 [h]
        NaN at no data.
    """
    longest = np.full(receiver.size, np.nan, np.float64)
    gathered = np.full(receiver.size, _NONE, np.float64)
    longest[order] = 0.0
    _sheet_flow(receiver, main, slope, sheet_n, speed, gathers, n_cols, cell_m, sheet_length_m, sheet_factor,
                longest, gathered)  # fmt: skip
    _gathered_flow(receiver, order, slope, speed, n_cols, cell_m, longest, gathered)
    return longest


@compiled
def _main_donors(receiver: I32, order: I32, area: F64, main: I32) -> None:
    for cell in order:
        to = receiver[cell]
        if to == cell:
            continue
        other = main[to]
        if other < 0 or area[cell] > area[other] or (area[cell] == area[other] and cell < other):
            main[to] = cell


@compiled
def _step_m(cell: int, to: int, n_cols: int, cell_m: float) -> float:
    down = to // n_cols - cell // n_cols
    across = to % n_cols - cell % n_cols
    if abs(down) + abs(across) == 1:
        return cell_m
    return cell_m * math.sqrt(float(down * down + across * across))


@compiled
def _path_slopes(receiver: I32, main: I32, ground: F32, n_cols: int, cell_m: float, length_m: float,
                 least: float, slope: F64) -> None:  # fmt: skip
    for cell in range(receiver.size):
        to = int(receiver[cell])
        if to < 0 or to == cell:
            continue
        length = _step_m(cell, to, n_cols, cell_m)
        top = int(cell)
        while length < length_m and main[top] >= 0:
            length += _step_m(int(main[top]), top, n_cols, cell_m)
            top = int(main[top])
        fall = np.float64(ground[top]) - np.float64(ground[to])
        if fall > least * length:  # false where either is not known
            slope[cell] = fall / length


@compiled
def _sheet_flow(receiver: I32, main: I32, slope: F64, sheet_n: F32, speed: F32, gathers: np.ndarray, n_cols: int,
                cell_m: float, sheet_length_m: float, sheet_factor: float, longest: F64,
                gathered: F64) -> None:  # fmt: skip
    for head in range(receiver.size):
        if receiver[head] < 0 or main[head] >= 0:
            continue
        cell = int(head)
        length = 0.0
        load = 0.0
        while receiver[cell] != cell:
            to = int(receiver[cell])
            step = _step_m(cell, to, n_cols, cell_m)
            # A step longer than a diagonal is a downspout: no sheet flow.
            part = 0.0 if gathers[cell] or step > 1.5 * cell_m else min(step, sheet_length_m - length)
            length += part
            load += np.float64(sheet_n[cell]) * part / math.sqrt(slope[cell])
            time = sheet_factor * load**0.8
            if part < step:
                time += (step - part) / (np.float64(speed[cell]) * math.sqrt(slope[cell]) * 3600.0)
                gathered[to] = max(gathered[to], time)
                break
            longest[to] = max(longest[to], time)
            cell = to


@compiled
def _gathered_flow(receiver: I32, order: I32, slope: F64, speed: F32, n_cols: int, cell_m: float, longest: F64,
                   gathered: F64) -> None:  # fmt: skip
    for cell in order:
        if gathered[cell] == _NONE:
            continue
        longest[cell] = max(longest[cell], gathered[cell])
        to = int(receiver[cell])
        if to != cell:
            step = _step_m(int(cell), to, n_cols, cell_m)
            time = gathered[cell] + step / (np.float64(speed[cell]) * math.sqrt(slope[cell]) * 3600.0)
            gathered[to] = max(gathered[to], time)
