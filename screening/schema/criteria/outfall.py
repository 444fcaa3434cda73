"""Where a pipe may come to daylight."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold


@dataclass(frozen=True, kw_only=True)
class OutfallCriteria:
    """Where a pipe may come to daylight."""

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

    def __post_init__(self) -> None:
        check_thresholds(self)
