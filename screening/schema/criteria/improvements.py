"""What proposed improvements may bring to others."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold


@dataclass(frozen=True, kw_only=True)
class ImprovementCriteria:
    """What proposed improvements may bring to others."""

    improvement_gain_max_m3: float = threshold(
        0.1,
        "m3",
        "storm runoff that improvements may bring to a lot, a wall or an outfall of the window beyond what came before",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    improvement_gain_max_l_s: float = threshold(
        0.1,
        "l_s",
        "peak flow that improvements may bring to a lot beyond what came before",
        COMMON_PRACTICE,
        low=0,
        high=1e6,
    )
    improvement_deeper_max_m: float = threshold(
        0.01,
        "m",
        "how much deeper improvements may let storm water stand at a wall or in a low spot",
        COMMON_PRACTICE,
        low=0,
        high=10,
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
