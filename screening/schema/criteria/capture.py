"""Thresholds of where ground may take water, how it gets there, and the storage that holds it."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, threshold
from screening.schema.criteria.driveways import DrivewayCriteria

CHAMBER_SHAPES = ("half-ellipse", "arch", "box", "round")


@dataclass(frozen=True, kw_only=True)
class CaptureCriteria(DrivewayCriteria):
    """The part of `Criteria` that places and leads to storage."""

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
    storage_cover_m: float = threshold(
        0.30,
        "m",
        "least ground over storage and over the pipes that lead to it (1 ft)",
        COMMON_PRACTICE,
        low=0,
        high=10,
    )
    storage_depth_m: float = threshold(
        0.914,
        "m",
        "depth of the stone of storage (3 ft), less where groundwater, rock or its drawdown asks for less",
        COMMON_PRACTICE,
        low=0.05,
        high=10,
    )
    storage_depth_min_m: float = threshold(
        0.30,
        "m",
        "least depth of stone for which a place is still looked at (1 ft)",
        COMMON_PRACTICE,
        low=0.05,
        high=10,
    )
    storage_extra_depth_max_m: float = threshold(
        0.60,
        "m",
        "how much deeper than under its least cover storage may lie so that a pipe reaches it by gravity (2 ft)",
        COMMON_PRACTICE,
        low=0,
        high=10,
    )
    chamber_height_m: float = threshold(
        0.762,
        "m",
        "inside height of the chambers that are compared with stone alone (about 30 in); 0 = none are",
        COMMON_PRACTICE,
        low=0,
        high=5,
    )
    chamber_width_m: float = threshold(
        1.2,
        "m",
        "inside width of a chamber at its base; give that of the chamber at hand",
        "the project",
        low=0.1,
        high=10,
    )
    chamber_length_m: float = threshold(
        2.0, "m", "length of a chamber as laid; give that of the chamber at hand", "the project", low=0.1, high=20
    )
    chamber_shape: str = threshold(
        "half-ellipse",
        "",
        "inside of a chamber cut across: half-ellipse, arch (a parabola), box or round",
        "the project",
    )
    chamber_area_m2: float = threshold(
        0.0,
        "m2",
        "area of that section, in place of its shape's; 0 = take the shape's",
        "the project",
        low=0,
        high=50,
    )
    chamber_stone_under_m: float = threshold(
        0.3048, "m", "stone under chambers (12 in)", COMMON_PRACTICE, low=0, high=5
    )
    chamber_stone_over_m: float = threshold(0.1524, "m", "stone over chambers (6 in)", COMMON_PRACTICE, low=0, high=5)
    chamber_stone_between_m: float = threshold(
        0.1524, "m", "stone between rows of chambers (6 in)", COMMON_PRACTICE, low=0, high=5
    )
    chamber_stone_around_m: float = threshold(
        0.3048, "m", "stone around a field of chambers (12 in)", COMMON_PRACTICE, low=0, high=5
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
