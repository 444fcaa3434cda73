"""Thresholds as data: each with its unit, its meaning, its range and where it comes from."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from screening.criteria.declaring import check_value, check_word, threshold
from screening.errors import CriteriaError

COMMON_PRACTICE = "common practice, no published source"
_PLAN_2010 = "single-family residential dry well standard plan of a soil conservation district, July 2010"
_MINNESOTA = "Minnesota Stormwater Manual"
_GRADING = "International Residential Code R401.3, as quoted by others; local amendments govern"
_NEW_JERSEY = "New Jersey Stormwater BMP Manual chapter 9.3, Dry Wells (February 2016)"
_VIRGINIA = "Virginia DEQ Stormwater Design Specification No. 8, Infiltration"
_LAWN_CONDITIONS = ("poor", "fair", "good")
RAINFALL_DISTRIBUTIONS = ("I", "IA", "II", "III")
DISPERSIVE_METHODS = ("freeman", "qin", "d-infinity")
SOIL_GROUPS = ("A", "B", "C", "D")
QUALITY_LEVEL_RMSE_M = {"QL0": 0.05, "QL1": 0.10, "QL2": 0.10, "QL3": 0.20}
"""Vertical RMSE by lidar quality level [m]: USGS Lidar Base Specification (TM 11-B4), from memory."""


@dataclass(frozen=True, kw_only=True)
class Criteria:
    """Every threshold of a screening.

    Fields carry `unit`, `meaning`, `source`, `low` and `high` in their metadata; `describe` lists them.

    Raises
    ------
    CriteriaError
        A value is of the wrong kind or outside its range.
    """

    profile: str = threshold(
        "neutral", "", "name of this set of thresholds; a published profile's name brings its values", "the project"
    )

    window_margin_m: float = threshold(
        60.0,
        "m",
        "ground taken around the lots before the window first grows",
        COMMON_PRACTICE,
        low=5,
        high=5000,
    )
    window_look_m: float = threshold(
        500.0,
        "m",
        "how far a window that closes looks beyond, to see whether ground there changes what reaches the lots",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    window_limit_m: float = threshold(
        1500.0,
        "m",
        "farthest the window may grow from the lots to close their catchments",
        COMMON_PRACTICE,
        low=5,
        high=50000,
    )
    void_fill_max_m2: float = threshold(
        400.0,
        "m2",
        "largest gap in the elevation that is interpolated; larger gaps stay unknown",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    nodata_drains: bool = threshold(
        True,
        "",
        "water that reaches a gap in the elevation leaves there; if false, gaps stand as walls",
        "the project",
    )
    wall_height_m: float = threshold(
        3.0,
        "m",
        "height of structures above the highest ground they stand on, as walls to flow",
        COMMON_PRACTICE,
        low=0.1,
        high=100,
    )
    kerb_height_m: float = threshold(
        0.15, "m", "height of kerbs whose height is not given", COMMON_PRACTICE, low=0, high=2
    )
    drain_snap_m: float = threshold(
        2.0,
        "m",
        "how far the end of a drain is moved to the lowest ground near it, at most half its length",
        COMMON_PRACTICE,
        low=0,
        high=50,
    )
    downspout_reach_m: float = threshold(
        3.0, "m", "farthest that a downspout may stand from its structure", COMMON_PRACTICE, low=0.5, high=50
    )
    breach_length_max_m: float = threshold(
        0.0,
        "m",
        "longest channel that least-cost breaching may cut where a drain may be unmapped; 0 = none is cut",
        "Lindsay & Dhun 2015, doi 10.1080/13658816.2014.975715; the length is " + COMMON_PRACTICE,
        low=0,
        high=1000,
    )
    breach_cost_max_m: float = threshold(
        10.0,
        "m",
        "largest cost of such a channel: depths cut along it, added up over its cells",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    dispersive_method: str = threshold(
        "freeman",
        "",
        "how flow spreads over lower neighbours: freeman (one exponent of slope), qin (an exponent that rises from "
        "1.1 on level ground to 10 at 45 degrees, so that steep ground spreads less) or d-infinity (between the two "
        "neighbours that the steepest facet points between)",
        "Freeman 1991, doi 10.1016/0098-3004(91)90048-I; Qin et al. 2007, doi 10.1080/13658810601073240, constants "
        "from memory; Tarboton 1997, doi 10.1029/96WR03137",
    )
    multiflow_exponent: float = threshold(
        1.1,
        "",
        "exponent of slope in the dispersive flow shares of freeman",
        "Freeman 1991, Computers & Geosciences 17(3)",
        low=0.1,
        high=20,
    )
    flow_path_min_area_m2: float = threshold(
        400.0, "m2", "contributing area from which a flow path is drawn", COMMON_PRACTICE, low=1, high=1e9
    )
    low_spot_min_depth_m: float = threshold(
        0.10,
        "m",
        "shallowest low spot that is reported; 0.10 m is the vertical RMSE of quality level 2 lidar",
        "USGS Lidar Base Specification, from memory",
        low=0,
        high=10,
    )
    low_spot_min_area_m2: float = threshold(
        6.0, "m2", "smallest low spot that is reported", COMMON_PRACTICE, low=0, high=1e6
    )
    structure_area_flag_m2: float = threshold(
        500.0,
        "m2",
        "ground draining to a structure's walls from which it is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    fall_away_distance_m: float = threshold(
        3.048,
        "m",
        "distance from a wall over which the fall of the ground is measured (10 ft)",
        _GRADING,
        low=0.1,
        high=100,
    )
    fall_away_min_pct: float = threshold(
        5.0, "pct", "fall away from a wall over open ground (6 in within the first 10 ft)", _GRADING, low=0.1, high=100
    )
    fall_away_paved_min_pct: float = threshold(
        2.0, "pct", "fall away from a wall over pavement", _GRADING + ", exception", low=0.1, high=100
    )
    door_reach_m: float = threshold(
        3.0, "m", "farthest that a door may stand from its structure", COMMON_PRACTICE, low=0.5, high=50
    )
    door_front_m: float = threshold(
        2.0, "m", "how far from a door water at the wall counts as arriving at it", COMMON_PRACTICE, low=0.1, high=50
    )
    driveway_to_structure_flag_frac: float = threshold(
        0.5,
        "frac",
        "share of a driveway's water that meets a wall on its lot from which it is flagged",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    off_lot_area_flag_m2: float = threshold(
        1000.0,
        "m2",
        "ground outside the lot draining onto it from which the lot is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    lawn_condition: str = threshold(
        "good",
        "",
        "condition of ground that no layer covers: poor, fair or good grass cover",
        "open space rows of TR-55 (1986) Table 2-2a",
    )
    initial_abstraction_ratio: float = threshold(
        0.2,
        "",
        "initial abstraction as a share of potential retention",
        "TR-55 (1986) eq. 2-2",
        low=0.01,
        high=0.5,
    )
    assumed_rain_mm: float = threshold(
        50.8,
        "mm",
        "rain taken where neither a storm nor a depth is given (2 in)",
        COMMON_PRACTICE,
        low=1,
        high=2000,
    )
    sheet_flow_length_m: float = threshold(
        30.48,
        "m",
        "longest sheet flow at the head of a path (100 ft; TR-55 of 1986 allowed 300 ft, 91.44 m)",
        "NEH 630 chapter 15 (2010), from memory",
        low=0,
        high=100,
    )
    path_slope_length_m: float = threshold(
        10.0, "m", "stretch of a flow path over which its slope is taken", COMMON_PRACTICE, low=0, high=1000
    )
    path_slope_min_pct: float = threshold(
        0.1, "pct", "least slope of a flow path, on level ground and through ponds", COMMON_PRACTICE, low=1e-3, high=10
    )
    channel_min_area_m2: float = threshold(
        40000.0, "m2", "contributing area from which water runs in a channel (10 acres)", COMMON_PRACTICE,
        low=1, high=1e9,
    )  # fmt: skip
    channel_n: float = threshold(
        0.05, "", "Manning's roughness of such a channel", "TR-55 (1986) example 3-1, from memory", low=0.01, high=0.3
    )
    channel_hydraulic_radius_m: float = threshold(
        0.3, "m", "hydraulic radius of such a channel (about 1 ft)", COMMON_PRACTICE, low=0.01, high=5
    )
    time_of_concentration_min_h: float = threshold(
        5.0 / 60.0, "h", "least time of concentration (5 minutes)", "HEC-22 (3rd ed., 2009) page 4-68", low=1e-3, high=1
    )
    two_year_24h_rain_mm: float = threshold(
        76.2, "mm", "2-year, 24-hour rain for sheet flow where no rainfall table gives it (3 in)", COMMON_PRACTICE,
        low=5, high=500,
    )  # fmt: skip
    rational_area_max_m2: float = threshold(
        809371.0, "m2", "largest area of the rational method (200 acres)", "HEC-22 (3rd ed., 2009) page 3-5",
        low=1, high=1e8,
    )  # fmt: skip
    rainfall_distribution: str = threshold(
        "II",
        "",
        "distribution of a 24-hour rain (I, IA, II or III) for peaks where no rain intensity is known",
        "TR-55 (1986) appendix B; II holds for most of the United States inland of its coasts, from memory",
    )
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
        254.0, "mm_h", "fastest measured infiltration rate that storage may count on (10 in/h)", _NEW_JERSEY,
        low=0.1, high=100000,
    )  # fmt: skip
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

    def __post_init__(self) -> None:
        for spec in dataclasses.fields(self):
            check_value(spec.name, getattr(self, spec.name), spec.default, spec.metadata)
        check_word("lawn_condition", self.lawn_condition, _LAWN_CONDITIONS, "a condition of grass cover")
        check_word(
            "lidar_quality_level", self.lidar_quality_level, tuple(QUALITY_LEVEL_RMSE_M), "a lidar quality level"
        )
        check_word("dispersive_method", self.dispersive_method, DISPERSIVE_METHODS, "a way in which flow spreads")
        check_word("rainfall_distribution", self.rainfall_distribution, RAINFALL_DISTRIBUTIONS, "a distribution")
        unknown = set(self.infiltration_groups) - set(SOIL_GROUPS)
        if unknown:
            raise CriteriaError(
                "infiltration_groups names a group that does not exist",
                got=", ".join(sorted(unknown)),
                expected="any of A, B, C, D",
                mend="list only these letters",
            )
