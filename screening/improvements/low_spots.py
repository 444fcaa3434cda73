"""Low spots before and after improvements: each with the one that takes its place, those that come and go."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.improvements.changes import Change
from screening.models import BlockResult
from screening.schema.codes.improvements import Result, Subject

if TYPE_CHECKING:
    import geopandas as gpd

_NUMBERS = (("ponded_m3", "m3"), ("storm_depth_m", "m"))


def low_spot_changes(before: BlockResult, after: BlockResult) -> Iterator[Change]:
    """Compare outermost low spots, each with the one that lies most on it after the improvements.

    Parameters
    ----------
    before, after
        Of the same window.
    """
    first, then = (each.depressions.table[each.depressions.table["part_of"] == ""] for each in (before, after))
    partner = _partners(first, then)
    limit = before.criteria.improvements.improvement_deeper_max_m
    for number, spot in enumerate(first.to_dict("records")):
        other = then.iloc[partner[number]] if partner[number] >= 0 else None
        for name, unit in _NUMBERS:
            change = _change(spot, name, unit, float(spot[name]), 0.0 if other is None else float(other[name]), limit)
            if other is None:
                yield change.as_told(Result.GONE)
            elif spot["lot_id"] or change.result is not Result.SAME:
                yield change
    taken = set(partner)
    for number, spot in enumerate(then.to_dict("records")):
        if number not in taken:
            for name, unit in _NUMBERS:
                yield _change(spot, name, unit, 0.0, float(spot[name]), limit).as_told(Result.NEW)


def _change(spot: dict[Any, Any], name: str, unit: str, before: float, after: float, limit_m: float) -> Change:
    return Change(
        subject_kind=Subject.LOW_SPOT,
        subject_id=spot["low_spot_id"],
        lot_id=spot["lot_id"],
        statistic=name,
        unit=unit,
        before=before,
        after=after,
        is_red_flag=unit == "m" and after - before > limit_m,
    )


def _partners(first: gpd.GeoDataFrame, then: gpd.GeoDataFrame) -> list[int]:
    """Row of `then` that lies most on each row of `first`, -1 where none does; each is taken once."""
    import shapely

    if not len(first) or not len(then):
        return [-1] * len(first)
    one, other = first.geometry.to_numpy(), then.geometry.to_numpy()
    a, b = shapely.STRtree(other).query(one, predicate="intersects")
    shared = shapely.area(shapely.intersection(one[a], other[b]))
    partner, taken = [-1] * len(first), set()
    for place in np.lexsort((b, a, -shared)).tolist():
        if shared[place] > 0 and partner[a[place]] < 0 and b[place] not in taken:
            partner[a[place]] = int(b[place])
            taken.add(b[place])
    return partner
