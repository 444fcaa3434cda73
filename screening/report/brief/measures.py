"""Candidate measures of a lot in sentences: storage, the way to it, the ground that may take water."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from screening.models import BlockResult
from screening.plain_text import clean
from screening.report.findings import format_unit_value
from screening.report.words import with_sentences
from screening.schema.codes.capture import PointKind, RouteKind, StorageKind, StorageStatus
from screening.schema.codes.outfall import Reach
from screening.schema.codes.storage import QuantityKind
from screening.units import UnitSystem, format_value

_MAX_ZONES, _MAX_ROUTES = 1, 2
_QUANTITIES = (QuantityKind.STONE, QuantityKind.EXCAVATION, QuantityKind.PIPE)
_KINDS = {StorageKind.STONE: "Bed of stone", StorageKind.CHAMBERS: "Chambers in stone"}


def measure_words(result: BlockResult, lot: Any, units: UnitSystem = "metric") -> list[str]:
    """Say which measures the findings make worth looking at; each is a candidate, none a design.

    Parameters
    ----------
    result
        What was found.
    lot
        Row of the summary.
    units
        Of the numbers.
    """
    lot_id = lot["lot_id"]
    capture = result.capture
    lines: list[str] = list(_drain_words(result, lot_id, units))
    options = _told_rows(result, "storage_options", capture.options, lot_id, units)
    for place, option in enumerate(options):
        lines.append(_storage_words(option, units))
        lines += _quantity_words(option, result, units)
        # Kinds of storage in one zone take the same pipe routes.
        if option["zone_id"] not in [later["zone_id"] for later in options[place + 1 :]]:
            lines += _route_words(option, result, units)
    used = {option["zone_id"] for option in options}
    zones = _told_rows(result, "infiltration_zones", capture.zones, lot_id, units)
    others = [zone for zone in zones if zone["zone_id"] not in used]
    n_left = max(len(others) - _MAX_ZONES, 0)
    lines += [_zone_words(zone, units, n_left) for zone in others[:_MAX_ZONES]]
    if lot["storage_status"] in (StorageStatus.NONE_FOUND, StorageStatus.NOT_ASSESSED):
        status, why = clean(lot["storage_status"], 40), clean(lot["storage_why"], 240)
        lines.insert(0, f"Storage on the lot: {status}: {why}.")
    elif not (options or others):
        why = f": {clean(lot['infiltration_why'], 200)}" if lot["infiltration_why"] else ""
        status = clean(lot["infiltration_status"], 40)
        lines.append(f"Ground that may take water back: {status}{why}.")
    caught = _rows_of(capture.points, lot_id)
    if caught:
        largest = max(caught, key=lambda row: row["runoff_m3"] if row["runoff_m3"] == row["runoff_m3"] else 0.0)
        lines.append(
            f"Most water could be caught at {_place_words(largest)}: {format_value(largest['runoff_m3'], 'm3', units)} "
            f"in this storm, from {format_value(largest['area_m2'], 'm2', units)}"
            f"{_unreached(largest, result, used, units)}."
        )
    return lines


def _unreached(point: dict[str, Any], result: BlockResult, used: set[str], units: UnitSystem) -> str:
    """Say that the largest water is none of the water that the storage takes, lest that look like the whole of it."""
    routes = _told_rows(result, "collection_routes", result.capture.routes, point["lot_id"], units)
    to_used = [row for row in routes if row["point_id"] == point["point_id"] and row["zone_id"] in used]
    if not to_used or any(row["reach"] == Reach.REACHABLE for row in to_used):
        return ""
    return f"; no pipe leads from there to that storage by gravity ({clean(to_used[0]['why'], 60)})"


def _rows_of(table: Any, lot_id: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = table[table["lot_id"] == lot_id].to_dict("records")
    return found


def _told_rows(result: BlockResult, name: str, table: Any, lot_id: str, units: UnitSystem) -> list[dict[str, Any]]:
    """Rows of a lot with their sentences."""
    return _rows_of(with_sentences(name, table[table["lot_id"] == lot_id], result.criteria, units), lot_id)


def _range(low: float, high: float, unit: str, units: UnitSystem) -> str:
    texts = [format_unit_value(value, unit, units) for value in (low, high)]
    if texts[0] == texts[1]:
        return texts[0]
    symbol = texts[1].partition(" ")[2]
    return f"{texts[0].removesuffix(symbol).strip()} to {texts[1]}" if symbol else " to ".join(texts)


def _drain_words(result: BlockResult, lot_id: str, units: UnitSystem) -> Iterator[str]:
    """Say of the best line across each driveway what it intercepts, what bypasses it, and where its water may go."""
    for line in _rows_of(result.interception.lines, lot_id):
        if line["line_rank"] != 1:
            continue
        kept, arriving, past = (
            format_value(line[name], "m3", units) for name in ("intercepted_m3", "arriving_m3", "bypass_m3")
        )
        far = format_value(line["from_wall_m"], "m", units)
        beyond = line["drain_bypass_l_s"]
        left = (
            f"; a drain as assumed leaves over {format_value(beyond, 'l_s', units)} at the peak" if beyond > 0 else ""
        )
        yield (
            f"Drain across driveway {clean(line['driveway_id'], 30)}, {clean(line['place'], 30)}, {far} from the wall: "
            f"intercepts {kept} of the {arriving} on its way to the walls; {past} bypasses it{left}; "
            f"outfall: {clean(line['outlet'], 60)}."
        )


def _storage_words(option: dict[str, Any], units: UnitSystem) -> str:
    kind = _KINDS.get(option["kind"], "Storage in the ground")
    where = f"{kind} at zone {clean(option['zone_id'], 20)}: {clean(option['status'], 60)}"
    why = f" ({clean(option['why'], 160)})" if option["why"] else ""
    if not math.isfinite(option["depth_m"]) or not option["inflow_m3"] > 0:
        room = format_value(option["room_m2"], "m2", units)
        return f"{where}{why}. Its room is {room}."
    parts = [
        f"{format_value(option['depth_m'], 'm', units)} deep on "
        f"{format_value(option['built_footprint_m2'], 'm2', units)}, base "
        f"{format_value(option['base_depth_m'], 'm', units)} below ground",
        f"holds {_range(option['volume_low_m3'], option['volume_high_m3'], 'm3', units)} at one time",
        f"empties in {_hours(option['drawdown_low_h'], option['drawdown_high_h'])}",
        f"overflow {format_value(option['overflow_m3'], 'm3', units)} to {clean(option['overflow_to'], 60)}",
    ]
    parts += [f"compared with stone alone {option['compared']}"] if option["compared"] else []
    return f"{where}{why}: {'; '.join(parts)}."


def _hours(low: float, high: float) -> str:
    if not math.isfinite(high):
        return "no time that could be found"
    return f"{low:.0f} to {high:.0f} h" if round(low) != round(high) else f"{high:.0f} h"


def _route_words(option: dict[str, Any], result: BlockResult, units: UnitSystem) -> Iterator[str]:
    points = {row["point_id"]: row for row in _rows_of(result.capture.points, option["lot_id"])}
    routes = [
        row
        for row in _rows_of(result.capture.routes, option["lot_id"])
        if row["kind"] == RouteKind.COLLECTION
        and row["reach"] == Reach.REACHABLE
        and row["zone_id"] == option["zone_id"]
    ]
    for route in routes[:_MAX_ROUTES]:
        start = _place_words(points[route["point_id"]]) if route["point_id"] in points else "a collection point"
        length, cover = (format_value(route[name], "m", units) for name in ("length_m", "cover_max_m"))
        lines = route["n_lot_lines_crossed"]
        crossed = f", across {lines} lot line{'s' if lines > 1 else ''}" if lines else ""
        yield f"Pipe from {start} to it by gravity: {length} long, at most {cover} of cover{crossed}."


def _place_words(point: dict[str, Any]) -> str:
    kind = "a line before wall" if point["kind"] == PointKind.LINE else clean(point["kind"], 30)
    return f"{kind} {clean(point['source_id'], 30)}"


def _quantity_words(option: dict[str, Any], result: BlockResult, units: UnitSystem) -> Iterator[str]:
    rows = {
        row["quantity"]: row
        for row in _rows_of(result.capture.quantities, option["lot_id"])
        if row["storage_id"] == option["storage_id"]
    }
    said = [
        f"{name.lower()} {_range(rows[name]['low'], rows[name]['high'], rows[name]['unit'], units)}"
        for name in _QUANTITIES
        if name in rows
    ]
    if said:
        yield f"Its quantities, for comparison only: {'; '.join(said)}."


def _zone_words(zone: dict[str, Any], units: UnitSystem, n_left: int) -> str:
    area = format_value(zone["area_m2"], "m2", units)
    more = f"; and {n_left} more zone{'s' if n_left > 1 else ''} on the lot" if n_left else ""
    return f"Other ground: zone {clean(zone['zone_id'], 20)}, {area}: {clean(zone['why'], 160)}{more}."
