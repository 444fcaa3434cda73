"""Which low spots are worth reporting."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold


@dataclass(frozen=True, kw_only=True)
class DepressionCriteria:
    """Which low spots are worth reporting."""

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

    def __post_init__(self) -> None:
        check_thresholds(self)
