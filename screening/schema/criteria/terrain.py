"""How the surface is made for routing, and the error of its elevation."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold

QUALITY_LEVEL_RMSE_M = {"QL0": 0.05, "QL1": 0.10, "QL2": 0.10, "QL3": 0.20}
"""Vertical RMSE by lidar quality level [m]: USGS Lidar Base Specification (TM 11-B4), from memory."""


@dataclass(frozen=True, kw_only=True)
class TerrainCriteria:
    """How the surface is made for routing, and the error of its elevation."""

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
    curb_height_m: float = threshold(
        0.15, "m", "height of curbs whose height is not given", COMMON_PRACTICE, low=0, high=2
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
    lidar_quality_level: str = threshold(
        "QL2",
        "",
        "lidar quality level whose vertical RMSE the elevation has: QL0 0.05 m, QL1 and QL2 0.10 m, QL3 0.20 m",
        "USGS Lidar Base Specification (TM 11-B4), from memory",
        words=tuple(QUALITY_LEVEL_RMSE_M),
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

    def __post_init__(self) -> None:
        check_thresholds(self)
