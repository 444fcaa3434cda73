"""Rain, runoff, travel times and peak flows."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold

RAINFALL_DISTRIBUTIONS = ("I", "IA", "II", "III")
LAWN_CONDITIONS = ("poor", "fair", "good")


@dataclass(frozen=True, kw_only=True)
class StormCriteria:
    """Rain, runoff, travel times and peak flows."""

    lawn_condition: str = threshold(
        "good",
        "",
        "condition of ground that no layer covers: poor, fair or good grass cover",
        "open space rows of TR-55 (1986) Table 2-2a",
        words=LAWN_CONDITIONS,
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
        40000.0,
        "m2",
        "contributing area from which water runs in a channel (10 acres)",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
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
        76.2,
        "mm",
        "2-year, 24-hour rain for sheet flow where no rainfall table gives it (3 in)",
        COMMON_PRACTICE,
        low=5,
        high=500,
    )
    rational_area_max_m2: float = threshold(
        809371.0,
        "m2",
        "largest area of the rational method (200 acres)",
        "HEC-22 (3rd ed., 2009) page 3-5",
        low=1,
        high=1e8,
    )
    rainfall_distribution: str = threshold(
        "II",
        "",
        "distribution of a 24-hour rain (I, IA, II or III) for peaks and storage where no rain intensity is known",
        "TR-55 (1986) appendix B; II holds for most of the United States inland of its coasts, from memory",
        words=RAINFALL_DISTRIBUTIONS,
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
