"""What each kind of flag weighs in the score that lots are ranked by."""

from __future__ import annotations

from dataclasses import dataclass

from screening.schema.criteria.capture import CaptureCriteria
from screening.schema.criteria.declaring import threshold

_SOURCE = "the project: all alike"


@dataclass(frozen=True, kw_only=True)
class ScoreCriteria(CaptureCriteria):
    """The part of `Criteria` that ranks lots: factors of the points of a failed check."""

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
