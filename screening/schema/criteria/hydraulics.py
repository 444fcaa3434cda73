"""Trench drains, outlet pipes and the trenches that they are laid in."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold

_PRECAST = "heavy precast channels about 6 ft long, " + COMMON_PRACTICE


@dataclass(frozen=True, kw_only=True)
class HydraulicsCriteria:
    """Trench drains, outlet pipes and the trenches that they are laid in."""

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
    trench_drain_clogged_frac: float = threshold(
        0.5,
        "frac",
        "share of a trench drain's grate that debris is taken to close",
        "TxDOT Hydraulic Design Manual, chapter 10 section 6; HEC-22 (2009) p. 4-58",
        low=0,
        high=0.95,
    )
    trench_drain_ponding_max_m: float = threshold(
        0.025, "m", "deepest water allowed to stand above a trench drain's grate", COMMON_PRACTICE, low=0, high=1
    )
    trench_drain_freeboard_min_m: float = threshold(
        0.0, "m", "room left between the water in a trench drain and its grate", "the project", low=0, high=1
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
    outlet_pipe_slope_min_pct: float = threshold(
        1.0, "pct", "least slope of an outlet pipe", COMMON_PRACTICE, low=0, high=100
    )
    outlet_pipe_velocity_min_m_s: float = threshold(
        0.914,
        "m_s",
        "velocity of a full outlet pipe below which sediment settles (3 ft/s)",
        "HEC-22 (2009) section 7.2.4",
        low=0,
        high=100,
    )
    outlet_pipe_velocity_max_m_s: float = threshold(
        3.05,
        "m_s",
        "velocity of a full outlet pipe above which it may wear or scour its end (10 ft/s; 10 to 15 are in use)",
        "from memory of drainage manuals",
        low=0,
        high=100,
    )
    excavation_egress_depth_m: float = threshold(
        1.219,
        "m",
        "depth of a trench from which a ladder, ramp or stairway is due (4 ft)",
        "29 CFR 1926.651(c)(2)",
        low=0,
        high=100,
    )
    excavation_protection_depth_m: float = threshold(
        1.524,
        "m",
        "depth of a trench from which protection against cave-in is due (5 ft; less where a cave-in may be expected)",
        "29 CFR 1926.652(a)(1)",
        low=0,
        high=100,
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
