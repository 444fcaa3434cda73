"""What is flagged at structures, and how the ground beside them is measured."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold

_GRADING = "International Residential Code R401.3, as quoted by others; local amendments govern"


@dataclass(frozen=True, kw_only=True)
class StructureCriteria:
    """What is flagged at structures, and how the ground beside them is measured."""

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

    def __post_init__(self) -> None:
        check_thresholds(self)
