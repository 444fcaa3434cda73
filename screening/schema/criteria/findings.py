"""What is flagged on a lot, what each kind of flag weighs, and when a finding holds."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.declaring import COMMON_PRACTICE, check_thresholds, threshold

_SOURCE = "the project: all alike"


@dataclass(frozen=True, kw_only=True)
class FindingCriteria:
    """What is flagged on a lot, what each kind of flag weighs, and when a finding holds."""

    off_lot_area_flag_m2: float = threshold(
        1000.0,
        "m2",
        "ground outside the lot draining onto it from which the lot is flagged",
        COMMON_PRACTICE,
        low=1,
        high=1e9,
    )
    weight_standing_water: float = threshold(
        1.0, "", "weight of water that stands against a structure in the visit score", _SOURCE, low=0, high=100
    )
    weight_run_on: float = threshold(
        1.0, "", "weight of ground that drains to a structure's walls in the visit score", _SOURCE, low=0, high=100
    )
    weight_fall_away: float = threshold(
        1.0, "", "weight of ground that does not fall away from walls in the visit score", _SOURCE, low=0, high=100
    )
    weight_driveway: float = threshold(
        1.0, "", "weight of a driveway that sheds to a wall in the visit score", _SOURCE, low=0, high=100
    )
    weight_off_lot: float = threshold(
        1.0, "", "weight of ground outside the lot that drains onto it in the visit score", _SOURCE, low=0, high=100
    )
    n_realisations: int = threshold(
        0,
        "",
        "how many times the findings are simulated under elevation error; 0 = confidence is not assessed",
        "Monte Carlo simulation of elevation error as in Lindsay & Creed 2006, Computers & Geosciences 32(8), from "
        "memory; the number is " + COMMON_PRACTICE,
        low=0,
        high=10000,
    )
    chance_max_frac: float = threshold(
        0.05,
        "frac",
        "share of the realisations in which the error alone may make a low spot as deep at the same place, or it is "
        "shown as within elevation error",
        "the usual level of a significance test, " + COMMON_PRACTICE,
        low=0,
        high=1,
    )
    holds_min_frac: float = threshold(
        0.8,
        "frac",
        "share of the realisations in which a finding must hold, or it is shown as within elevation error",
        COMMON_PRACTICE,
        low=0,
        high=1,
    )

    def __post_init__(self) -> None:
        check_thresholds(self)
