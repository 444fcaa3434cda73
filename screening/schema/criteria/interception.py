"""Lines across driveways that are tried and kept."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold


@dataclass(frozen=True, kw_only=True)
class InterceptionCriteria:
    """Lines across driveways that are tried and kept."""

    interception_end_m: float = threshold(
        2.0,
        "m",
        "how near an end of the driveway a line counts as at the garage front or on the street side",
        COMMON_PRACTICE,
        low=0,
        high=100,
    )
    interception_lines_kept: int = threshold(
        5,
        "",
        "most interception lines of a driveway that are shown: the best of each place, then the next best",
        "the project",
        low=1,
        high=100,
    )
    interception_drains_tried: int = threshold(
        1,
        "",
        "interception lines of a driveway, from the best, in which a trench drain is tried",
        "the project",
        low=0,
        high=100,
    )
    interception_bypass_max_frac: float = threshold(
        0.1,
        "frac",
        "share of the water that comes over a driveway to walls which may still come there past a line",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )
    interception_kept_min_frac: float = threshold(
        0.5,
        "frac",
        "share of that water which a line must intercept, or a line without an outfall by gravity may come before it",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
