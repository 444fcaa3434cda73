"""Buried storage: the rate that it may count on, its depth, its stone and its chambers."""

from __future__ import annotations

from dataclasses import dataclass

from screening.errors import CriteriaError
from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold
from screening.schema.criteria.documents import MINNESOTA, NEW_JERSEY, PLAN_2010, VIRGINIA

CHAMBER_SHAPES = ("half-ellipse", "arch", "box", "round")


@dataclass(frozen=True, kw_only=True)
class StorageCriteria:
    """Buried storage: the rate that it may count on, its depth, its stone and its chambers."""

    rate_min_mm_h: float = threshold(
        12.7,
        "mm_h",
        "slowest measured infiltration rate that storage may count on (0.5 in/h)",
        NEW_JERSEY + "; " + VIRGINIA,
        low=0,
        high=10000,
    )
    rate_max_mm_h: float = threshold(
        254.0,
        "mm_h",
        "fastest measured infiltration rate that storage may count on (10 in/h)",
        NEW_JERSEY,
        low=0.1,
        high=100000,
    )
    rate_safety_factor: float = threshold(
        2.0,
        "",
        "what the measured infiltration rate is divided by before it sizes anything",
        NEW_JERSEY + "; " + VIRGINIA,
        low=1,
        high=20,
    )
    drawdown_max_h: float = threshold(
        48.0, "h", "longest time in which full storage may empty", PLAN_2010, low=1, high=1000
    )
    separation_water_m: float = threshold(
        0.914,
        "m",
        "least depth from the base of storage to seasonally high groundwater (3 ft)",
        MINNESOTA,
        low=0,
        high=100,
    )
    separation_rock_m: float = threshold(
        0.914, "m", "least depth from the base of storage to rock (3 ft)", MINNESOTA, low=0, high=100
    )
    stone_void_frac: float = threshold(
        0.40, "frac", "share of voids in washed stone (0.35 to 0.40)", VIRGINIA, low=0.05, high=0.95
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
        words=CHAMBER_SHAPES,
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

    def __post_init__(self) -> None:
        check_thresholds(self)
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
