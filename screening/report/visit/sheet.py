"""What to ask, shoot, test and photograph on site, lot by lot, filled in from the findings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from screening.models import BlockResult
from screening.report.once import once_per_result
from screening.report.words import lots_told, with_sentences
from screening.report.words.structures import exposure_words
from screening.schema.codes.capture import RouteKind, StorageStatus
from screening.schema.codes.outfall import Reach
from screening.schema.columns import VISIT_COLUMNS, names
from screening.structures.fall_away import two_point_error_m
from screening.terrain.elevation_error import vertical_rmse_m
from screening.units import UnitSystem

_Found = Mapping[str, list[dict[str, Any]]]
"""Rows of one lot by table."""
_LEVEL_95 = 1.96
"""Share of the RMSE at the 95 % level: FGDC-STD-007.3-1998, from memory."""
_NOT_THERE = (StorageStatus.TOO_DEEP, StorageStatus.NO_ROOM)
"""Storage whose base is not built."""
_GENERAL_QUESTIONS = (
    "Where does water come, how deep, how often, in which storms? Are there photos?",
    "Does it come from a street, a stream, a sewer or from below?",
    "What was done about it before, and when?",
    "Is there a basement, a sump, a septic system, a well? Where?",
    "Who owns the place that water could be led to, and who must allow it?",
    "Are there private lines (irrigation, pool, landscape electric, septic, propane)? Public ones are located first.",
)
"""Common practice."""
_MISSING_QUESTIONS = {
    "downspouts": "Where does each downspout end, and how much roof does it drain?",
    "drains": "Are there culverts or pipes, with which inverts and in what state?",
    "wells": "Is there a well within the clear distance?",
    "septic": "Where are the septic tank and field?",
    "utilities": "Where do buried utilities run?",
    "trees": "Where are trees whose roots must be kept clear?",
    "wetlands": "Is there a wetland within the clear distance?",
    "doors": "Which doors, window wells and vents stand lowest, and how high are their sills?",
}


@once_per_result
def visit_rows(result: BlockResult, units: UnitSystem) -> list[dict[str, Any]]:
    """List what a visit owes, `columns.VISIT_COLUMNS`, lots in the order in which to visit them.

    Numbers are SI; `units` are those of numbers in words.

    Levels stand in the elevation's datum, and as heights above the first level of the lot, which is what a level on
    site can check. Tolerances are errors of the elevation at the 95 % level: of one height for the first, of the
    difference of two for the others.
    """
    told = partial(with_sentences, criteria=result.criteria, units=units)
    tables = {
        "structures": result.structures,
        "sides": result.structure_sides,
        "doors": result.doors,
        "driveways": result.driveways,
        "low_spots": result.depressions.table,
        "zones": told("infiltration_zones", result.capture.zones),
        "points": result.capture.points,
        "routes": result.capture.routes,
        "options": told("storage_options", result.capture.options),
    }
    by_lot = {name: _by_lot(table) for name, table in tables.items()}
    empty = dict.fromkeys(names(VISIT_COLUMNS))
    rows: list[dict[str, Any]] = []
    for lot in lots_told(result, units).sort_values("visit_rank").drop(columns="geometry").to_dict("records"):
        lot_id = lot["lot_id"]
        found = {name: rows_of.get(lot_id, []) for name, rows_of in by_lot.items()}
        for row in (
            *_questions(result, lot, found, units),
            *_levels(result, lot_id, found),
            *_tests(found),
            *_photos(found),
        ):
            rows.append(empty | {"lot_id": lot_id, "subject_id": "", "n_wanted": 1} | row)
    return rows


def _by_lot(table: Any) -> dict[str, list[dict[str, Any]]]:
    """Rows by the lots that they name, alone or among others."""
    found: dict[str, list[dict[str, Any]]] = {}
    for row in table.to_dict("records"):
        for lot_id in dict.fromkeys((row["lot_id"], *str(row["lot_id"]).split(", "))):
            found.setdefault(lot_id, []).append(row)
    return found


def _question(item: str, why: str, subject_id: str = "") -> dict[str, Any]:
    return {"part": "question", "item": item, "why": why, "subject_id": subject_id}


def _questions(
    result: BlockResult, lot: Mapping[str, Any], found: _Found, units: UnitSystem
) -> Iterator[dict[str, Any]]:
    for item in _GENERAL_QUESTIONS:
        yield _question(item, "every visit")
    for layer, item in _MISSING_QUESTIONS.items():
        if layer not in result.block.given:
            yield _question(item, f"no {layer} layer was given")
    if lot["storage_status"] in (StorageStatus.NONE_FOUND, StorageStatus.NOT_ASSESSED):
        item = "Where else could water go: a swale, a street, a drain, lower ground, and who must allow it?"
        yield _question(item, f"storage on the lot: {lot['storage_status']}: {lot['storage_why']}", str(lot["lot_id"]))
    for row in found["structures"]:
        if row["exposure"] in ("ponding", "run-on"):
            item = "Does water come in or stand at the wall, at which side, how deep?"
            yield _question(item, exposure_words(row, result.criteria, units), row["structure_id"])
    for row in found["low_spots"]:
        if not row["part_of"]:
            is_wet = row["storm_depth_m"] > 0
            item = "Does water stand here, how deep, how long, after which storms? Is there a drain in it?"
            why = "a low spot that this storm leaves wet" if is_wet else "a low spot that this storm leaves dry"
            yield _question(item, why, row["low_spot_id"])
    for row in found["driveways"]:
        if row["is_flagged"]:
            item = "Does water run down the driveway to the wall or into a door? Is there a drain?"
            yield _question(item, "it sheds mostly toward a wall", row["driveway_id"])


def _levels(result: BlockResult, lot_id: str, found: _Found) -> list[dict[str, Any]]:
    shots = [shot for shot in _shots(result, lot_id, found) if shot["expected_elev_m"] == shot["expected_elev_m"]]
    rmse = vertical_rmse_m(result.criteria)
    for number, shot in enumerate(shots):
        shot["part"] = "level"
        shot["above_first_m"] = shot["expected_elev_m"] - shots[0]["expected_elev_m"]
        shot["tolerance_m"] = two_point_error_m(rmse) if number else _LEVEL_95 * rmse
    return shots


def _shot(item: str, elev_m: float, why: str, subject_id: str, place: Any = None) -> dict[str, Any]:
    at = {} if place is None else {"x_m": place.x, "y_m": place.y}
    return {"item": item, "expected_elev_m": float(elev_m), "why": why, "subject_id": subject_id} | at


def _shots(result: BlockResult, lot_id: str, found: _Found) -> Iterator[dict[str, Any]]:
    for row in found["structures"]:
        yield _shot("Lowest ground at the walls", row["lowest_adjacent_grade_m"], row["exposure"], row["structure_id"])
    for row in found["sides"]:
        if row["exposure"] in ("ponding", "run-on"):
            at = row["geometry"].interpolate(0.5, normalized=True)
            yield _shot("Lowest ground at this side", row["lowest_grade_m"], row["exposure"], row["side_id"], at)
    for row in found["doors"]:
        yield _shot("Sill", row["sill_elev_m"], row["kind"], row["door_id"], row["geometry"])
    for row in found["low_spots"]:
        if not row["part_of"]:
            yield _shot("Lowest point of the low spot", row["pit_elev_m"], "low spot", row["low_spot_id"])
            yield _shot("Point where it overflows", row["spill_elev_m"], "low spot", row["low_spot_id"])
    for row in found["points"]:
        why = f"collection point: {row['kind']} {row['source_id']}"
        yield _shot("Ground where water is caught", row["ground_elev_m"], why, row["point_id"], row["geometry"])
    used, places = {row["zone_id"] for row in found["options"]}, set()
    for row in found["routes"]:
        if row["kind"] == RouteKind.COLLECTION and row["reach"] == Reach.REACHABLE and row["zone_id"] in used:
            for shot in _end_of_pipe(found, row):
                place = (shot["subject_id"], shot["x_m"], shot["y_m"])
                if place not in places:
                    places.add(place)
                    yield shot
    yield from _inverts(result, lot_id)


def _end_of_pipe(found: _Found, row: dict[str, Any]) -> Iterator[dict[str, Any]]:
    import shapely

    end = shapely.Point(shapely.get_coordinates(row["geometry"])[-1])
    for point in found["points"]:
        if point["point_id"] == row["point_id"]:
            why = f"the pipe route from {row['point_id']} ends here"
            end_elev_m = point["ground_elev_m"] - row["ground_fall_m"]
            yield _shot("Ground at the storage", end_elev_m, why, row["zone_id"], end)


def _inverts(result: BlockResult, lot_id: str) -> Iterator[dict[str, Any]]:
    lots = result.block.lots
    shape = lots.geometry[lots["lot_id"] == lot_id]
    for drain in result.block.drains.itertuples():
        if shape.intersects(drain.geometry).any():
            yield _shot("Invert, upper end", drain.invert_up_m, drain.kind, drain.drain_id)
            yield _shot("Invert, lower end", drain.invert_down_m, drain.kind, drain.drain_id)


def _tests(found: _Found) -> Iterator[dict[str, Any]]:
    """Tests in the zones whose storage was worked out, as deep as the deepest base that fits there."""
    for row in found["zones"]:
        own = [option for option in found["options"] if option["zone_id"] == row["zone_id"]]
        if not own:
            continue
        bases = [option["base_depth_m"] for option in own if option["status"] not in _NOT_THERE]
        base_m = max((base for base in bases if math.isfinite(base)), default=row["test_depth_m"])
        at = row["geometry"].representative_point()
        place = {"part": "test", "subject_id": row["zone_id"], "x_m": at.x, "y_m": at.y}
        yield place | {
            "item": "Infiltration test at the base of the storage",
            "n_wanted": int(row["n_infiltration_tests"]),
            "depth_m": base_m,
            "why": f"rate: {row['rate_basis']}",
        }
        yield place | {
            "item": "Test pit or auger hole: soil, mottles, seasonal high water, rock",
            "n_wanted": 1,
            "depth_m": row["pit_depth_m"] + base_m - row["test_depth_m"],
            "why": "the base keeps its distance from groundwater and rock only if these are deeper",
        }


def _photo(item: str, why: str, subject_id: str) -> dict[str, Any]:
    return {"part": "photo", "item": item, "why": why, "subject_id": subject_id, "n_wanted": 2}


def _photos(found: _Found) -> Iterator[dict[str, Any]]:
    for row in found["sides"]:
        if row["exposure"] in ("ponding", "run-on"):
            yield _photo("The wall and the ground before it, from both ends", row["exposure"], row["side_id"])
    for row in found["low_spots"]:
        if not row["part_of"]:
            yield _photo("The low spot and the place where it overflows", "low spot", row["low_spot_id"])
    for row in found["driveways"]:
        if row["is_flagged"]:
            item = "Down the driveway, and the door or wall at its end"
            yield _photo(item, "sheds toward a wall", row["driveway_id"])
    for row in {option["zone_id"]: option for option in found["options"]}.values():
        why = f"storage may go here, overflow to {row['overflow_to']}"
        yield _photo("The zone, and the route of its overflow", why, row["zone_id"])
