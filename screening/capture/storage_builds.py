"""How storage may be built in one zone, of stone alone and with chambers: how deep, and how each is sized."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from screening.capture.storage_rows import StoragePlace
from screening.schema.codes.capture import StorageKind
from screening.schema.criteria import Criteria
from screening.storage.chambers import chambers_of, largest_field, size_chambers
from screening.storage.formulas import deepest_bed_m
from screening.storage.gallery import stone_bed
from screening.storage.inflow import Inflow
from screening.storage.sizing import Sizing, Soil, size_bed_footprint, soil_of, try_gallery

_LENGTH_TO_WIDTH = 2.0


@dataclass(frozen=True, kw_only=True, eq=False)
class StorageBuild:
    """One way to build it in a zone: its depth, how it is sized for some ground, and the most that the zone holds."""

    kind: StorageKind
    depth_m: float
    size: Callable[[Soil], Sizing]
    fill: Callable[[Soil], Sizing | None]


def builds_of(place: StoragePlace, inflow: Inflow, criteria: Criteria) -> list[StorageBuild]:
    """Give the ways to build storage in a zone: stone alone, and the chambers of the criteria.

    Parameters
    ----------
    place, inflow
        The zone, and the runoff that reaches it.
    criteria
        The `storage_`, `separation_` and `chamber_` thresholds, `drawdown_max_h`, `stone_void_frac`.
    """
    room, voids = place.zone.area_m2, criteria.storage.stone_void_frac
    depth = _stone_depth_m(place, soil_of(criteria, place.zone.rate_low_mm_h), criteria)
    width = (room / _LENGTH_TO_WIDTH) ** 0.5
    whole = stone_bed(length_m=width * _LENGTH_TO_WIDTH, width_m=width, depth_m=depth, void_frac=voids)
    kinds = [
        StorageBuild(
            kind=StorageKind.STONE,
            depth_m=depth,
            size=lambda soil: size_bed_footprint(
                inflow, soil, depth_m=depth, void_frac=voids, length_to_width=_LENGTH_TO_WIDTH
            ),
            fill=lambda soil: try_gallery(inflow, whole, soil),
        )
    ]
    chambers = chambers_of(criteria)
    if chambers is not None:
        field = largest_field(room, chambers)
        kinds.append(
            StorageBuild(
                kind=StorageKind.CHAMBERS,
                depth_m=chambers.depth_m,
                size=lambda soil: size_chambers(inflow, soil, chambers),
                fill=lambda soil: None if field is None else try_gallery(inflow, field, soil),
            )
        )
    return kinds


def deepest_m(place: StoragePlace, criteria: Criteria) -> float:
    """Give the most depth of storage above groundwater and a restrictive layer [m]; infinite where neither is known."""
    base = criteria.storage.storage_cover_m + place.extra_depth_m
    return min(
        (
            depth - apart - base
            for depth, apart in (
                (place.zone.water_depth_m, criteria.storage.separation_water_m),
                (place.zone.restrictive_depth_m, criteria.storage.separation_rock_m),
            )
            if depth == depth
        ),
        default=float("inf"),
    )


def _stone_depth_m(place: StoragePlace, slow: Soil, criteria: Criteria) -> float:
    """Depth of stone alone: no more than what may be, but never less than the least that is looked at."""
    in_time = deepest_bed_m(
        design_rate_mm_h=slow.design_rate_mm_h,
        drawdown_max_h=criteria.storage.drawdown_max_h,
        void_frac=criteria.storage.stone_void_frac,
    )
    most = min(criteria.storage.storage_depth_m, in_time, deepest_m(place, criteria))
    return max(most, criteria.storage.storage_depth_min_m)
