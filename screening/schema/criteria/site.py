"""How far a window grows from the lots."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold


@dataclass(frozen=True, kw_only=True)
class SiteCriteria:
    """How far a window grows from the lots."""

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

    def __post_init__(self) -> None:
        check_thresholds(self)
