"""Ground that may take water, and where water is caught."""

from __future__ import annotations

from dataclasses import dataclass

from screening.errors import CriteriaError
from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold
from screening.schema.criteria.documents import MINNESOTA, PLAN_2010

SOIL_GROUPS = ("A", "B", "C", "D")


@dataclass(frozen=True, kw_only=True)
class CaptureCriteria:
    """Ground that may take water, and where water is caught."""

    infiltration_groups: tuple[str, ...] = threshold(
        ("A", "B"),
        "",
        "hydrologic soil groups that are candidates; undrained dual groups count as D",
        "group D excluded: " + PLAN_2010 + "; groups after NEH 630 chapter 7",
    )
    infiltration_slope_max_pct: float = threshold(
        20.0, "pct", "steepest ground that is a candidate", PLAN_2010, low=0, high=200
    )
    setback_structure_m: float = threshold(
        3.05, "m", "clear distance to structures (10 ft)", MINNESOTA + "; " + PLAN_2010, low=0, high=1000
    )
    setback_lot_line_m: float = threshold(3.05, "m", "clear distance to lot lines (10 ft)", MINNESOTA, low=0, high=1000)
    setback_well_m: float = threshold(
        30.5, "m", "clear distance to wells (100 ft, sensitive wells)", MINNESOTA, low=0, high=1000
    )
    setback_septic_m: float = threshold(
        15.2, "m", "clear distance to septic fields (50 ft)", MINNESOTA, low=0, high=1000
    )
    setback_wetland_m: float = threshold(
        15.24, "m", "clear distance to wetlands (50 ft)", COMMON_PRACTICE, low=0, high=1000
    )
    setback_utility_m: float = threshold(
        1.52, "m", "clear distance to buried utilities (5 ft)", COMMON_PRACTICE, low=0, high=1000
    )
    setback_steep_slope_m: float = threshold(
        0.0,
        "m",
        "clear distance to steep ground; 0 = not looked at, because elevation cannot tell fill and unstable slopes, "
        "of which the documents speak (50 ft from fill slopes, 200 ft from the crest of steep slopes), from others",
        COMMON_PRACTICE,
        low=0,
        high=1000,
    )
    steep_slope_pct: float = threshold(
        25.0,
        "pct",
        "slope from which ground counts as steep for that distance",
        "single-family residential dry well standard plan of a soil conservation district, July 2010, which says it of "
        "fill slopes",
        low=1,
        high=1000,
    )
    steep_slope_min_area_m2: float = threshold(
        50.0, "m2", "smallest steep ground that counts; less may be a wall or noise", COMMON_PRACTICE, low=0, high=1e6
    )
    infiltration_min_area_m2: float = threshold(
        12.0, "m2", "smallest candidate zone that is kept", COMMON_PRACTICE, low=0, high=1e6
    )
    infiltration_min_width_m: float = threshold(
        2.0, "m", "narrowest candidate zone that is kept", COMMON_PRACTICE, low=0, high=1000
    )
    interception_distance_m: float = threshold(
        3.048,
        "m",
        "distance from a wall of the line that intercepts run-on (10 ft)",
        COMMON_PRACTICE,
        low=0.1,
        high=100,
    )
    capture_rain_mm: float = threshold(
        0.0,
        "mm",
        "rain whose runoff storage is sized for; 0 = the storm that is screened for",
        "the project",
        low=0,
        high=2000,
    )
    tests_per_zone: int = threshold(
        1,
        "",
        "infiltration tests owed for each zone that is used",
        "Virginia DEQ Stormwater Design Specification No. 8: one for each micro-infiltration facility",
        low=1,
        high=100,
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
        unknown = set(self.infiltration_groups) - set(SOIL_GROUPS)
        if unknown:
            raise CriteriaError(
                "infiltration_groups names a group that does not exist",
                got=", ".join(sorted(unknown)),
                expected="any of A, B, C, D",
                mend="list only these letters",
            )
