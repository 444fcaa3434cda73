"""Whether anything works on a lot, and why not: zones, ways and storage in one status and one line of words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

if TYPE_CHECKING:
    from screening.models import InfiltrationZones

_ORDER = (
    "fits",
    "fits at the faster rate only",
    "takes a part",
    "not needed",
    "not assessed",
    "empties too slowly",
    "too deep",
    "does not fit",
    "no water reaches it",
)
"""Statuses of storage, the best first."""
_IMPROVEMENTS = _ORDER[:4]
NONE_FOUND = "none found"


def storage_of_lots(
    zones: InfiltrationZones, points: pd.DataFrame, routes: pd.DataFrame, options: pd.DataFrame
) -> pd.DataFrame:
    """Say of each lot whether storage works on it and, where none does, what stands against it.

    Words name no ids and no lengths, so that they read the same for a lot alone, in any block and in every unit.

    Parameters
    ----------
    zones, points, routes, options
        Of the same window: see `models.Capture`.

    Returns
    -------
    `lot_id`, `storage_status` (the best status of storage, `none found` or `not assessed`) and `storage_why`.
    """
    collection = routes[routes["kind"] == "collection"]
    rows = []
    for lot in zones.by_lot.to_dict("records"):
        own = lot["lot_id"]
        of_lot = [table[table["lot_id"] == own] for table in (points, collection, options)]
        status, why = _judge(lot["infiltration_status"], lot["infiltration_why"], *of_lot)
        rows.append({"lot_id": own, "storage_status": status, "storage_why": why})
    return pd.DataFrame(rows, columns=["lot_id", "storage_status", "storage_why"])


def _judge(
    ground: str, against: str, points: pd.DataFrame, pipes: pd.DataFrame, options: pd.DataFrame
) -> tuple[str, str]:
    """Take the first of these that stands in the way: ground, water, a way by gravity, room."""
    if options.empty and ground == "not assessed":
        return "not assessed", f"it is not known whether the ground may take water: {against}"
    if options.empty:
        return NONE_FOUND, f"no ground may take water: {against}"
    best = min(options.to_dict("records"), key=lambda row: _ORDER.index(row["status"]))
    kind = f"{best['kind']}: " if best["kind"] else ""
    if best["status"] in _IMPROVEMENTS:
        return str(best["status"]), f"{kind}{best['why']}"
    if points.empty:
        return NONE_FOUND, "ground may take water, but no place to catch any was found"
    if best["status"] == "no water reaches it":
        return _no_way(len(points), pipes)
    status = "not assessed" if best["status"] == "not assessed" else NONE_FOUND
    return status, f"{kind}{best['why']}"


def _no_way(n_points: int, pipes: pd.DataFrame) -> tuple[str, str]:
    """Count the reasons why no pipe reaches a zone; unknown ground on the way leaves it open."""
    caught = "the only collection point" if n_points == 1 else f"none of the {n_points} collection points"
    does = "does not get" if n_points == 1 else "gets"
    words = f"ground may take water, but water of {caught} {does} there by gravity"
    counts = sorted(pipes["why"].value_counts().items(), key=lambda item: (-item[1], str(item[0])))
    why = ", ".join(f"{reason} ({count} of {len(pipes)} ways)" for reason, count in counts)
    is_open = bool((pipes["reach"] == "not assessed").any())
    return ("not assessed" if is_open else NONE_FOUND), f"{words}: {why}" if why else words
