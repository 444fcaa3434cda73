"""How much water: the rain of a storm from a table, and the runoff it gives by curve number."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from screening.criteria import Criteria
from screening.errors import InputError
from screening.grid import rasterize
from screening.models import F32, Block, Note, Rain, RainfallTable, Storm, Surface

CN_IMPERVIOUS = 98.0
CN_OPEN_SPACE: dict[str, dict[str, float]] = {
    "poor": {"A": 68.0, "B": 79.0, "C": 86.0, "D": 89.0},
    "fair": {"A": 49.0, "B": 69.0, "C": 79.0, "D": 84.0},
    "good": {"A": 39.0, "B": 61.0, "C": 74.0, "D": 80.0},
}
"""Curve numbers of open space by condition and hydrologic group, and of paved ground and roofs: TR-55 (1986)
Table 2-2a."""

GROUP_OF_DUAL = "D"
"""An undrained dual group (A/D, B/D, C/D) counts as D: NEH 630 chapter 7."""

_STORM_TEXT = re.compile(
    r"^\s*(\d+(?:\.\d+)?)\s*-?\s*yrs?\s*[-_ ]\s*(\d+(?:\.\d+)?)\s*-?\s*(min|hr|h|day|d)s?\s*$", re.I
)
_HOURS = {"min": 1.0 / 60.0, "hr": 1.0, "h": 1.0, "day": 24.0, "d": 24.0}


def parse_storm(text: str) -> tuple[float, float]:
    """Read a storm such as `10yr-24h` or `2yr-30min`.

    Returns
    -------
    Return period [yr], duration [h].

    Raises
    ------
    InputError
        The text is not a storm.

    Examples
    --------
    >>> parse_storm("10yr-24h")
    (10.0, 24.0)
    """
    found = _STORM_TEXT.match(text)
    if not found:
        raise InputError(
            "The storm cannot be read",
            got=repr(text),
            expected="return period and duration, such as 10yr-24h or 2yr-30min",
            mend="write --storm 10yr-24h, or give a depth with --rain-in or --rain-mm",
        )
    return float(found[1]), float(found[2]) * _HOURS[found[3].lower()]


def rain_depth_mm(table: RainfallTable, *, return_period_yr: float, duration_h: float) -> float:
    """Interpolate a rain depth in a point precipitation table, log-log in duration and in return period.

    Parameters
    ----------
    table
        Depths by duration and return period.
    return_period_yr, duration_h
        Within the table's range. A duration below the shortest takes the shortest one's intensity.

    Returns
    -------
    Depth [mm].

    Raises
    ------
    InputError
        The return period, or a longer duration, lies outside the table: it is not extrapolated.
    """
    durations, periods = np.asarray(table.durations_h), np.asarray(table.return_periods_yr)
    if not periods[0] <= return_period_yr <= periods[-1] or not 0 < duration_h <= durations[-1]:
        raise InputError(
            "The storm lies outside the rainfall table",
            got=f"{return_period_yr:g} yr, {duration_h:g} h",
            expected=f"{periods[0]:g} to {periods[-1]:g} yr, up to {durations[-1]:g} h",
            mend="choose a storm inside the table, or give a depth with --rain-in or --rain-mm",
        )
    depth = np.log(np.asarray(table.depth_mm))
    at_duration = max(duration_h, float(durations[0]))
    by_period = [np.interp(np.log(at_duration), np.log(durations), depth[:, column]) for column in range(periods.size)]
    interpolated = float(np.exp(np.interp(np.log(return_period_yr), np.log(periods), by_period)))
    return interpolated * min(duration_h / at_duration, 1.0)


def rain_of_storm(table: RainfallTable, text: str) -> Rain:
    """Take the rain of a storm such as `10yr-24h` from a table."""
    return_period_yr, duration_h = parse_storm(text)
    depth = rain_depth_mm(table, return_period_yr=return_period_yr, duration_h=duration_h)
    return Rain(depth, text.strip(), table.source)


def runoff_depth_mm(rain_mm: ArrayLike, curve_number: ArrayLike, *, ratio: float = 0.2) -> NDArray[np.float64]:
    """Compute runoff depth by curve number; none runs off below the initial abstraction.

    Parameters
    ----------
    rain_mm
        Rain depth [mm].
    curve_number
        0-100, broadcast against the rain.
    ratio
        Initial abstraction as a share of the potential retention.

    Returns
    -------
    Runoff [mm], float64.

    References
    ----------
    TR-55 (1986), equations 2-1 to 2-4, with S = 1000/CN - 10 inches.

    Examples
    --------
    >>> float(runoff_depth_mm(4.0 * 25.4, 75.0).round(1))
    42.4
    """
    from screening.kernels.runoff import curve_number_runoff

    return curve_number_runoff(np.asarray(rain_mm, np.float64), np.asarray(curve_number, np.float64), ratio)


def design_storm(block: Block, surface: Surface, *, rain: Rain, criteria: Criteria) -> Storm:
    """Give each cell its curve number and its runoff.

    Structures, driveways and roads are impervious (98); all else is open space in the stated condition by
    hydrologic group. An undrained dual group counts as D; so does an unknown group, as an upper bound of runoff,
    which a note says: it stays unknown for infiltration.

    Parameters
    ----------
    block, surface
        Of the same window.
    rain
        The storm's rain.
    criteria
        `lawn_condition`, `initial_abstraction_ratio`.

    Returns
    -------
    The storm.
    """
    curve_number, unknown = curve_numbers(block, surface, lawn_condition=criteria.lawn_condition)
    known = ~np.isnan(surface.routed_elev_m)
    curve_number[~known] = np.nan
    ratio = criteria.initial_abstraction_ratio
    runoff = np.where(
        known, runoff_depth_mm(rain.depth_mm, np.where(known, curve_number, CN_IMPERVIOUS), ratio=ratio), 0.0
    )
    share = float(unknown[known].mean()) if known.any() else 1.0
    notes = [
        Note(
            "assumed",
            "runoff",
            f"ground that no layer covers is open space in {criteria.lawn_condition} condition (TR-55 Table 2-2a)",
        )
    ]
    if rain.is_assumed:
        text = f"no storm was asked for: {rain.label} ({rain.depth_mm:.1f} mm) is taken, from {rain.source}"
        notes.insert(0, Note("assumed", "storm", text))
    if share > 0:
        text = f"soil group unknown on {share:.0%} of the window: its runoff is computed as group D, an upper bound"
        notes.append(Note("assumed", "runoff", text))
    return Storm(block.grid, rain, curve_number, runoff.astype(np.float32), tuple(notes))


def curve_numbers(block: Block, surface: Surface, *, lawn_condition: str) -> tuple[F32, NDArray[np.bool_]]:
    """Give each cell its curve number, and say where the soil group is unknown on pervious ground.

    Returns
    -------
    Curve number float32, and a mask.
    """
    grid = block.grid
    by_group = CN_OPEN_SPACE[lawn_condition]
    groups = ["D" if "/" in hsg or hsg == "unknown" else hsg for hsg in block.soils["hsg"]]
    soil = rasterize(grid, list(block.soils.geometry), range(1, len(block.soils) + 1))
    number_of = np.array([by_group[GROUP_OF_DUAL], *(by_group[group] for group in groups)], np.float32)
    is_unknown = np.array([True, *(hsg == "unknown" for hsg in block.soils["hsg"])])
    curve_number, unknown = number_of[soil], is_unknown[soil]
    paved = [*block.driveways.geometry, *block.roads.geometry]
    impervious = (surface.structure_index > 0) | (rasterize(grid, paved, [1] * len(paved)) > 0)
    curve_number[impervious] = CN_IMPERVIOUS
    return curve_number, unknown & ~impervious
