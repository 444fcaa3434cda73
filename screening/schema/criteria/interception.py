"""Thresholds of lines that intercept the water of a driveway, and of the trench drain that is tried in them."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.capture import CaptureCriteria
from screening.schema.criteria.declaring import COMMON_PRACTICE, threshold

_PRECAST = "heavy precast channels about 6 ft long, " + COMMON_PRACTICE


@dataclass(frozen=True, kw_only=True)
class InterceptionCriteria(CaptureCriteria):
    """The part of `Criteria` that places interception lines and tries a trench drain in them."""

    interception_end_m: float = threshold(
        2.0,
        "m",
        "how near an end of the driveway a line counts as at the garage front or on the street side",
        COMMON_PRACTICE,
        low=0,
        high=100,
    )
    interception_lines_kept: int = threshold(
        5,
        "",
        "most interception lines of a driveway that are shown: the best of each place, then the next best",
        "the project",
        low=1,
        high=100,
    )
    interception_drains_tried: int = threshold(
        1,
        "",
        "interception lines of a driveway, from the best, in which a trench drain is tried",
        "the project",
        low=0,
        high=100,
    )
    interception_slip_max_frac: float = threshold(
        0.1,
        "frac",
        "share of the water that comes over a driveway to walls which may still come there past a line",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    interception_kept_min_frac: float = threshold(
        0.5,
        "frac",
        "share of that water which a line must keep off, or a line without a way out by gravity may come before it",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    daylight_wall_distance_m: float = threshold(
        3.048,
        "m",
        "least distance from structures of a place where a pipe lets its water out (10 ft)",
        COMMON_PRACTICE,
        low=0,
        high=100,
    )
    daylight_street_m: float = threshold(
        30.0,
        "m",
        "how far from the lot a street is looked at as a place where a pipe may end",
        COMMON_PRACTICE,
        low=0,
        high=1000,
    )
    daylight_verge_m: float = threshold(
        6.0,
        "m",
        "width of ground beside a street's pavement that a pipe from the lot may cross (20 ft)",
        COMMON_PRACTICE,
        low=0,
        high=100,
    )
    trench_drain_base_width_m: float = threshold(
        0.1651, "m", "inner width of a trench drain at its base (6.5 in)", _PRECAST, low=0.01, high=5
    )
    trench_drain_top_width_m: float = threshold(
        0.2286,
        "m",
        "inner width of a trench drain at its grate, and width of the grate (9 in)",
        _PRECAST,
        low=0.01,
        high=5,
    )
    trench_drain_depth_m: float = threshold(
        0.3683, "m", "depth of a trench drain from its grate to its invert (14.5 in)", _PRECAST, low=0.01, high=5
    )
    trench_drain_unit_m: float = threshold(
        1.8288, "m", "length of one unit of a trench drain (6 ft)", _PRECAST, low=0.1, high=20
    )
    trench_drain_bedding_m: float = threshold(
        0.1778,
        "m",
        "cut below the invert of a trench drain, so that it lies in 21.5 in (20 to 22 in are usual)",
        _PRECAST,
        low=0,
        high=5,
    )
    trench_drain_slope_min_pct: float = threshold(
        0.5, "pct", "least fall of a trench drain's invert; 0 = it may lie level", COMMON_PRACTICE, low=0, high=20
    )
    trench_drain_open_frac: float = threshold(
        0.3, "frac", "share of a trench drain's grate that is open when clean", COMMON_PRACTICE, low=0.01, high=1
    )
    trench_drain_n: float = threshold(
        0.013, "", "Manning's n of a trench drain of concrete", "HEC-22 (2009) Table 5-1", low=0.005, high=0.1
    )
    outlet_pipe_diameter_m: float = threshold(
        0.1524, "m", "inner diameter of the pipe that drains a trench drain (6 in)", _PRECAST, low=0.02, high=5
    )
    outlet_pipe_n: float = threshold(
        0.013,
        "",
        "Manning's n of that pipe; smooth plastic has 0.009 to 0.015",
        "HEC-22 (2009) Table 7-1",
        low=0.005,
        high=0.1,
    )
