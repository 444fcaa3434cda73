"""Rain from a point precipitation table: depth and intensity of a storm, and how often a depth returns."""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from screening.errors import InputError
from screening.models import Rain, RainfallTable

TYPED_DEPTH_HOURS = 24.0
"""Duration that a typed depth is taken to fall in where its return period is asked for: that of daily totals."""

_STORM_TEXT = re.compile(
    r"^\s*(\d+(?:\.\d+)?)\s*-?\s*yrs?\s*[-_ ]\s*(\d+(?:\.\d+)?)\s*-?\s*(min|hr|h|day|d)s?\s*$", re.I
)
_HOURS = {"min": 1.0 / 60.0, "hr": 1.0, "h": 1.0, "day": 24.0, "d": 24.0}
_ROUNDING = 1e-9


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
    intensity = intensity_mm_h(table, return_period_yr=return_period_yr, duration_h=duration_h)
    return float(intensity) * duration_h


def intensity_mm_h(table: RainfallTable, *, return_period_yr: float, duration_h: ArrayLike) -> NDArray[np.float64]:
    """Interpolate the mean rain intensity over one or more durations, log-log as `rain_depth_mm`.

    Parameters
    ----------
    table, return_period_yr
        As for `rain_depth_mm`.
    duration_h
        Any shape [h]; below the shortest duration of the table its intensity holds.

    Returns
    -------
    Intensity [mm/h], float64, shape of `duration_h`.

    Raises
    ------
    InputError
        As for `rain_depth_mm`.
    """
    durations, periods = np.asarray(table.durations_h), np.asarray(table.return_periods_yr)
    hours = np.asarray(duration_h, np.float64)
    inside = bool(((hours > 0) & (hours <= durations[-1])).all())
    if not periods[0] <= return_period_yr <= periods[-1] or not inside:
        worst = hours.max(initial=0.0) if hours.max(initial=0.0) > durations[-1] else hours.min(initial=0.0)
        raise InputError(
            "The storm lies outside the rainfall table",
            got=f"{return_period_yr:g} yr, {worst:g} h",
            expected=f"{periods[0]:g} to {periods[-1]:g} yr, up to {durations[-1]:g} h",
            mend="choose a storm inside the table, or give a depth with --rain-in or --rain-mm",
        )
    log_depth = np.log(np.asarray(table.depth_mm))
    by_duration = [np.interp(math.log(return_period_yr), np.log(periods), row) for row in log_depth]
    at = np.maximum(hours, durations[0])
    intensity: NDArray[np.float64] = np.exp(np.interp(np.log(at), np.log(durations), by_duration)) / at
    return intensity


def return_period_yr(table: RainfallTable, *, depth_mm: float, duration_h: float) -> float:
    """Find how often a rain depth is reached or passed: the inverse of `rain_depth_mm`.

    Parameters
    ----------
    table
        Depths by duration and return period.
    depth_mm, duration_h
        The rain; the duration as for `rain_depth_mm`.

    Returns
    -------
    Return period [yr]; `-inf` for less than the shortest of the table and `inf` for more than the longest, since
    neither is extrapolated: `return_period_words` says them. Of periods with one depth the shortest.

    Raises
    ------
    InputError
        The depth is not positive, or the duration lies outside the table.
    """
    if not depth_mm > 0:
        raise InputError("The rain depth cannot be used", got=f"{depth_mm:g} mm", expected="more than 0 mm")
    periods = table.return_periods_yr
    depths = [rain_depth_mm(table, return_period_yr=years, duration_h=duration_h) for years in periods]
    log_depth = np.log(depths)
    is_higher = np.concatenate(([True], np.diff(log_depth) > 0))
    if depth_mm < depths[0] * (1 - _ROUNDING):
        return -math.inf
    if depth_mm > depths[-1] * (1 + _ROUNDING):
        return math.inf
    return float(np.exp(np.interp(math.log(depth_mm), log_depth[is_higher], np.log(periods)[is_higher])))


def return_period_words(years: float, table: RainfallTable) -> str:
    """Say a return period in words, with the ends of the table for what lies outside it.

    Examples
    --------
    >>> table = RainfallTable(
    ...     durations_h=(24.0,), return_periods_yr=(1.0, 100.0), depth_mm=((50.0, 100.0),), source="test"
    ... )
    >>> return_period_words(4.87, table)
    'about every 4.9 years'
    """
    return period_words(years, first_yr=table.return_periods_yr[0], last_yr=table.return_periods_yr[-1])


def period_words(years: float, *, first_yr: float, last_yr: float) -> str:
    """Say a return period in words by the first and last period of its table."""
    if years == -math.inf:
        return f"more often than every {_years(first_yr)}"
    if years == math.inf:
        return f"less often than every {_years(last_yr)}"
    return f"about every {_years(float(f'{years:.2g}'))}"


def how_often(rain: Rain, depth_mm: float) -> tuple[float, str]:
    """Say how often a rain depth returns over the duration of a storm, by that storm's table.

    Returns
    -------
    Return period [yr], NaN where it lies outside the table or is not known, and words: empty where it is not known.
    """
    if rain.table is None or rain.duration_h is None or math.isnan(depth_mm):
        return math.nan, ""
    years = return_period_yr(rain.table, depth_mm=depth_mm, duration_h=rain.duration_h)
    return (years if math.isfinite(years) else math.nan), return_period_words(years, rain.table)


def _years(years: float) -> str:
    return "year" if years == 1 else f"{years:g} years"


def rain_of_storm(table: RainfallTable, text: str) -> Rain:
    """Take the rain of a storm such as `10yr-24h` from a table."""
    years, hours = parse_storm(text)
    depth = rain_depth_mm(table, return_period_yr=years, duration_h=hours)
    return Rain(
        depth_mm=depth, label=text.strip(), source=table.source, table=table, return_period_yr=years, duration_h=hours
    )


def rain_of_depth(depth_mm: float, table: RainfallTable | None) -> Rain:
    """Take a typed depth as the rain; with a table, say how often it returns as a rain of 24 hours."""
    rain = Rain(depth_mm=depth_mm, label="stated depth", source="stated depth")
    if table is None:
        return rain
    hours = min(TYPED_DEPTH_HOURS, table.durations_h[-1])
    years = return_period_yr(table, depth_mm=depth_mm, duration_h=hours)
    return Rain(
        depth_mm=depth_mm,
        label=rain.label,
        source=rain.source,
        table=table,
        return_period_yr=years,
        duration_h=hours,
        is_duration_assumed=True,
    )


def two_year_daily_mm(table: RainfallTable | None) -> float | None:
    """Depth of the 2-year, 24-hour rain [mm]; None where there is no table that reaches it."""
    if table is None:
        return None
    try:
        return rain_depth_mm(table, return_period_yr=2.0, duration_h=24.0)
    except InputError:
        return None
