"""Words of ground that may take water, of the routes to it, and of storage on a lot."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from screening.report.words.routes import ROUTE_WORDS, end_words
from screening.report.words.storage import RATE_UNKNOWN, rain_distribution, rate_basis
from screening.schema.codes.capture import (
    LotStorageReason,
    StorageReason,
    ZoneSize,
    ZoneStatus,
)
from screening.schema.codes.outfall import RouteReason
from screening.schema.codes.packing import CODES_JOIN, unpack
from screening.schema.criteria import Criteria
from screening.units import UnitSystem

if TYPE_CHECKING:
    from screening.report.words import Teller

TESTS_OWED = "infiltration test at base depth; seasonal high water; depth to rock"
_SIZE = {ZoneSize.LARGEST: "the largest of the lot", ZoneSize.NOT_LARGEST: "not the largest of the lot"}
_STORAGE = {
    StorageReason.NO_POINT_REACHES: "no collection point reaches it by gravity",
    StorageReason.RATE_UNKNOWN: RATE_UNKNOWN,
    StorageReason.NO_RUNOFF: "this rain sheds no water there",
    StorageReason.BASE_TOO_DEEP: "its base would come nearer to groundwater or a restrictive layer than is allowed",
    StorageReason.NO_ROOM_FOR_CHAMBER: "the zone has no room for a single chamber",
    StorageReason.SLOW_AT_BOTH_RATES: "full, it takes longer to empty than is allowed, at the faster rate too",
    StorageReason.SLOW_AT_SLOWER_RATE: "full, it takes longer to empty at the slower rate than is allowed",
    StorageReason.SMALL_AT_SLOWER_RATE: "at the slower rate the zone is too small for all of this rain",
    StorageReason.ROOM_FOR_ALL: "the zone has room for all of this rain at the slower rate",
}


def limits_words(limits: str) -> str:
    """Name the reasons that turn away most of a lot's ground, packed with their shares; none where it shows no ground.

    Examples
    --------
    >>> limits_words("too steep=0.25; under trees=0.125"), limits_words("no elevation=nan")
    ('too steep 25%, under trees 12%', 'no elevation')
    """
    return ", ".join(reason if share != share else f"{reason} {share:.0%}" for reason, share in unpack(limits))


def storage_reason_words(reasons: Iterable[StorageReason], room_frac: float) -> str:
    """Say why storage has its status; `room_frac` is room of the zone over what all of the rain needs."""
    return "; ".join(
        f"the zone has {room_frac:.0%} of the room that all of this rain needs at the slower rate"
        if reason == StorageReason.PART_OF_ROOM
        else _STORAGE[reason]
        for reason in reasons
    )


def lot_storage_words(row: Any) -> str:
    """Say what stands behind the status of storage on a lot, or in its way: columns of the summary."""
    against, reason = limits_words(row["infiltration_limits"]), row["storage_reason"]
    if reason == LotStorageReason.GROUND_UNKNOWN:
        return f"it is not known whether the ground may take water: {against}"
    if reason == LotStorageReason.NO_GROUND:
        return f"no ground may take water: {against}"
    if reason == LotStorageReason.NO_POINT:
        return "ground may take water, but no place to catch any was found"
    if reason == LotStorageReason.NO_ROUTE:
        return _no_route_words(int(row["n_collection_points"]), unpack(row["route_reasons"]))
    reasons = [StorageReason(code) for code in row["storage_reasons"].split(CODES_JOIN) if code]
    why = storage_reason_words(reasons, row["storage_room_frac"])
    return f"{row['storage_kind']}: {why}" if row["storage_kind"] else why


def _no_route_words(n_points: int, reasons: Iterable[tuple[str, float]]) -> str:
    """Count the reasons why no pipe reaches a zone, the most frequent first."""
    caught = "the only collection point" if n_points == 1 else f"none of the {n_points} collection points"
    does = "does not get" if n_points == 1 else "gets"
    words = f"ground may take water, but water of {caught} {does} there by gravity"
    said = ((ROUTE_WORDS[RouteReason(reason)], int(n)) for reason, n in reasons)
    said = ((ROUTE_WORDS[RouteReason(reason)], int(n)) for reason, n in reasons)
    counts = sorted(said, key=lambda item: (-item[1], item[0]))
    n_pipes = sum(n for _, n in counts)
    why = ", ".join(f"{reason} ({n} of {n_pipes} pipe routes)" for reason, n in counts)
    return f"{words}: {why}" if why else words


def _zone_why(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    """What speaks for a zone and against it: shares and words alone, so that it reads the same in every unit."""
    said = ["soil not assessed" if row["status"] != ZoneStatus.CANDIDATE else f"group {row['hsg']}"]
    if row["n_points"]:
        n_points = f"{row['n_points_reaching']} of {row['n_points']}"
        said.append(f"water of {n_points} collection points reaches it by gravity")
    else:
        said.append("no place to catch water was found on the lot")
    if row["size"] in _SIZE:
        said.append(_SIZE[row["size"]])
    said.append(f"slope {row['slope_pct']:.0f} %")
    return "; ".join(said)


def _rate_basis(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return rate_basis(row["rate_from"], row["hsg"])


def _tests_owed(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return TESTS_OWED


def _route_why(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return ROUTE_WORDS[row["reason"]]


def _runs_to(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return end_words(row["end"], row["end_id"])


def _storage_why(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return storage_reason_words(row["reasons"], row["room_m2"] / row["footprint_high_m2"])


def _compared(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    """What chambers take of what stone alone takes, in shares, so that it reads the same in every unit."""
    return ", ".join(f"{share:.0%} of the {what}" for what, share in row["stone_shares"])


def _rain_distribution(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return rain_distribution(row["distribution"], row["distribution_h"])


def _overflow_to(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return end_words(row["overflow_end"], row["overflow_id"])


def _infiltration_why(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return limits_words(row["infiltration_limits"])


def _lot_storage_why(row: Any, criteria: Criteria, units: UnitSystem) -> str:
    return lot_storage_words(row)


TELLERS: dict[tuple[str, str], Teller] = {
    ("infiltration_zones", "why"): _zone_why,
    ("infiltration_zones", "rate_basis"): _rate_basis,
    ("infiltration_zones", "tests_owed"): _tests_owed,
    ("collection_routes", "why"): _route_why,
    ("collection_routes", "runs_to"): _runs_to,
    ("storage_options", "why"): _storage_why,
    ("storage_options", "compared"): _compared,
    ("storage_options", "rain_distribution"): _rain_distribution,
    ("storage_options", "rate_basis"): _rate_basis,
    ("storage_options", "overflow_to"): _overflow_to,
    ("summary", "infiltration_why"): _infiltration_why,
    ("summary", "storage_why"): _lot_storage_why,
}
"""What tells each sentence, by table and column."""
