"""Thresholds as data: each with its unit, its meaning, its range and where it comes from."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from screening.errors import CriteriaError
from screening.schema.criteria.capture import CHAMBER_SHAPES
from screening.schema.criteria.declaring import COMMON_PRACTICE, check_value, check_word, threshold
from screening.schema.criteria.interception import InterceptionCriteria
from screening.schema.criteria.scoring import ScoreCriteria
from screening.schema.criteria.works import WorksCriteria

_PLAN_2010 = "single-family residential dry well standard plan of a soil conservation district, July 2010"
_MINNESOTA = "Minnesota Stormwater Manual"
_NEW_JERSEY = "New Jersey Stormwater BMP Manual chapter 9.3, Dry Wells (February 2016)"
_VIRGINIA = "Virginia DEQ Stormwater Design Specification No. 8, Infiltration"
_LAWN_CONDITIONS = ("poor", "fair", "good")
RAINFALL_DISTRIBUTIONS = ("I", "IA", "II", "III")
DISPERSIVE_METHODS = ("freeman", "qin", "d-infinity")
SOIL_GROUPS = ("A", "B", "C", "D")
QUALITY_LEVEL_RMSE_M = {"QL0": 0.05, "QL1": 0.10, "QL2": 0.10, "QL3": 0.20}
"""Vertical RMSE by lidar quality level [m]: USGS Lidar Base Specification (TM 11-B4), from memory."""


@dataclass(frozen=True, kw_only=True)
class Criteria(WorksCriteria, InterceptionCriteria, ScoreCriteria):
    """Every threshold of a screening.

    Fields carry `unit`, `meaning`, `source`, `low` and `high` in their metadata; `describe` lists them.

    Raises
    ------
    CriteriaError
        A value is of the wrong kind or outside its range.
    """

    infiltration_groups: tuple[str, ...] = threshold(
        ("A", "B"),
        "",
        "hydrologic soil groups that are candidates; undrained dual groups count as D",
        "group D excluded: " + _PLAN_2010 + "; groups after NEH 630 chapter 7",
    )
    infiltration_slope_max_pct: float = threshold(
        20.0, "pct", "steepest ground that is a candidate", _PLAN_2010, low=0, high=200
    )
    setback_structure_m: float = threshold(
        3.05, "m", "clear distance to structures (10 ft)", _MINNESOTA + "; " + _PLAN_2010, low=0, high=1000
    )
    setback_lot_line_m: float = threshold(
        3.05, "m", "clear distance to lot lines (10 ft)", _MINNESOTA, low=0, high=1000
    )
    setback_well_m: float = threshold(
        30.5, "m", "clear distance to wells (100 ft, sensitive wells)", _MINNESOTA, low=0, high=1000
    )
    setback_septic_m: float = threshold(
        15.2, "m", "clear distance to septic fields (50 ft)", _MINNESOTA, low=0, high=1000
    )
    infiltration_min_area_m2: float = threshold(
        12.0, "m2", "smallest candidate zone that is kept", COMMON_PRACTICE, low=0, high=1e6
    )
    infiltration_min_width_m: float = threshold(
        2.0, "m", "narrowest candidate zone that is kept", COMMON_PRACTICE, low=0, high=1000
    )
    rate_min_mm_h: float = threshold(
        12.7,
        "mm_h",
        "slowest measured infiltration rate that storage may count on (0.5 in/h)",
        _NEW_JERSEY + "; " + _VIRGINIA,
        low=0,
        high=10000,
    )
    rate_max_mm_h: float = threshold(
        254.0,
        "mm_h",
        "fastest measured infiltration rate that storage may count on (10 in/h)",
        _NEW_JERSEY,
        low=0.1,
        high=100000,
    )
    rate_safety_factor: float = threshold(
        2.0,
        "",
        "what the measured infiltration rate is divided by before it sizes anything",
        _NEW_JERSEY + "; " + _VIRGINIA,
        low=1,
        high=20,
    )
    drawdown_max_h: float = threshold(
        48.0, "h", "longest time in which full storage may empty", _PLAN_2010, low=1, high=1000
    )
    separation_water_m: float = threshold(
        0.914,
        "m",
        "least depth from the base of storage to seasonally high groundwater (3 ft)",
        _MINNESOTA,
        low=0,
        high=100,
    )
    separation_rock_m: float = threshold(
        0.914, "m", "least depth from the base of storage to rock (3 ft)", _MINNESOTA, low=0, high=100
    )
    stone_void_frac: float = threshold(
        0.40, "frac", "share of voids in washed stone (0.35 to 0.40)", _VIRGINIA, low=0.05, high=0.95
    )

    n_realisations: int = threshold(
        0,
        "",
        "how many times the findings are made anew under elevation error; 0 = confidence is not assessed",
        "Monte Carlo simulation of elevation error as in Lindsay & Creed 2006, Computers & Geosciences 32(8), from "
        "memory; the number is " + COMMON_PRACTICE,
        low=0,
        high=10000,
    )
    lidar_quality_level: str = threshold(
        "QL2",
        "",
        "lidar quality level whose vertical RMSE the elevation has: QL0 0.05 m, QL1 and QL2 0.10 m, QL3 0.20 m",
        "USGS Lidar Base Specification (TM 11-B4), from memory",
    )
    elevation_rmse_m: float = threshold(
        0.0,
        "m",
        "vertical RMSE of the elevation, in place of its quality level's; 0 = take the quality level's",
        "the elevation's own accuracy report, where there is one",
        low=0,
        high=5,
    )
    error_correlation_m: float = threshold(
        10.0,
        "m",
        "distance at which the correlation of two elevation errors has fallen to 1/e",
        COMMON_PRACTICE,
        low=0,
        high=100,
    )
    error_uncorrelated_frac: float = threshold(
        0.1,
        "frac",
        "share of the error's variance that differs from cell to cell; the rest is correlated",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    error_seed: int = threshold(
        0, "", "seed of the elevation errors: the same seed gives the same errors", "the project", low=0, high=2**32 - 1
    )
    chance_max_frac: float = threshold(
        0.05,
        "frac",
        "share of the realisations in which the error alone may make a low spot as deep at the same place, or it is "
        "shown as within elevation error",
        "the usual level of a significance test, " + COMMON_PRACTICE,
        low=0,
        high=1,
    )
    holds_min_frac: float = threshold(
        0.8,
        "frac",
        "share of the realisations in which a finding must hold, or it is shown as within elevation error",
        COMMON_PRACTICE,
        low=0,
        high=1,
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
        for spec in dataclasses.fields(self):
            check_value(spec.name, getattr(self, spec.name), spec.default, spec.metadata)
        check_word("lawn_condition", self.lawn_condition, _LAWN_CONDITIONS, "a condition of grass cover")
        check_word(
            "lidar_quality_level", self.lidar_quality_level, tuple(QUALITY_LEVEL_RMSE_M), "a lidar quality level"
        )
        check_word("dispersive_method", self.dispersive_method, DISPERSIVE_METHODS, "a way in which flow spreads")
        check_word("rainfall_distribution", self.rainfall_distribution, RAINFALL_DISTRIBUTIONS, "a distribution")
        check_word("chamber_shape", self.chamber_shape, CHAMBER_SHAPES, "a shape of chambers")
        self._check_chambers()
        unknown = set(self.infiltration_groups) - set(SOIL_GROUPS)
        if unknown:
            raise CriteriaError(
                "infiltration_groups names a group that does not exist",
                got=", ".join(sorted(unknown)),
                expected="any of A, B, C, D",
                mend="list only these letters",
            )

    def _check_chambers(self) -> None:
        """Refuse chambers that cannot be: a round one that is no circle, or more area than the box around it."""
        height, width, area = self.chamber_height_m, self.chamber_width_m, self.chamber_area_m2
        if height > 0 and self.chamber_shape == "round" and area == 0 and width != height:
            raise CriteriaError(
                "A round chamber is as wide as it is high",
                got=f"chamber_width_m {width:g}, chamber_height_m {height:g}",
                expected="the same figure for both",
                mend="correct one of them, or choose another chamber_shape",
            )
        if height > 0 and area > width * height:
            raise CriteriaError(
                "chamber_area_m2 is more than the box around the chamber",
                got=f"{area:g} m2",
                expected=f"at most {width * height:g} m2",
                mend="correct it, or the width and height",
            )
