"""What the map of before and after is drawn from: shapes, popups, the view."""

from __future__ import annotations

from typing import Any

from screening.models import BlockResult, Improvement, Trial
from screening.report.findings import clip_text, is_missing
from screening.report.improvements.told import told_table
from screening.report.improvements.words import (
    pair_words,
    records_of,
    volume_words,
)
from screening.schema.codes.improvements import Result
from screening.units import UnitSystem, format_value

_SAME = ("lots", "others", "roads")
"""Layers that improvements do not change: drawn once."""


_CHANGING = ("structures", "driveways", "flow_paths", "low_spots", "drains", "barriers")


_LAYER_OF_SUBJECT = {"lot": "lots", "neighbour": "lots", "structure": "structures", "low spot": "low_spots"}


_CHANGES = {"more water": "more", "less water": "less", "the same": "none"}
"""What the page calls the result of a lot."""


PLACES = {
    Result.WORSE: 0,
    Result.TAKES_NOTHING: 0,
    Result.TOO_SMALL: 0,
    Result.NEW: 1,
    Result.BETTER: 2,
    Result.GONE: 2,
    Result.TAKES_WATER: 2,
    Result.SAME: 4,
}
"""Order of results in the comparison; any other comes before what stays the same."""


def number_words(improvement: Improvement, units: UnitSystem) -> str:
    """Say the numbers an improvement is given by: `12.0 m long, 0.30 m high`."""
    parts = []
    if improvement.geometry.geom_type == "LineString":
        parts.append(f"{format_value(improvement.geometry.length, 'm', units)} long")
    if improvement.geometry.geom_type == "Polygon":
        parts.append(format_value(improvement.geometry.area, "m2", units))
    for key, after in (("height_m", " high"), ("depth_m", " deep"), ("width_m", " wide"), ("volume_m3", "")):
        if key in improvement.numbers:
            value, unit = improvement.numbers[key], key.rsplit("_", 1)[1]
            parts.append((volume_words(value, units) if unit == "m3" else format_value(value, unit, units)) + after)
    if "elev_m" in improvement.numbers:
        parts.append(f"level {format_value(improvement.numbers['elev_m'], 'm', units)}")
    if improvement.number("slope_pct") > 0:
        parts.append(
            f"falls {improvement.numbers['slope_pct']:g} % toward {improvement.number('falls_toward_deg'):.0f}°"
        )
    if improvement.word("to"):
        parts.append(
            "taken off the ground" if improvement.word("to") == "off" else f"to {clip_text(improvement.word('to'), 60)}"
        )
    return ", ".join(parts)


def taken(trial: Trial, improvement: Improvement, units: UnitSystem) -> str:
    """Say how much water an improvement takes in the storm; empty where that cannot be told."""
    row = trial.comparison.improvements.set_index("improvement_id").loc[improvement.improvement_id]
    return "" if is_missing(row["taken_m3"]) else volume_words(float(row["taken_m3"]), units)


def cell(row: dict[str, Any], key: str, units: UnitSystem) -> str:
    """Say one side of a row of the comparison, `before` or `after`."""
    text = pair_words(row, units)[key == "after"] if row["statistic"] else ""
    outcome = row[f"outcome_{key}"]
    return f"{outcome}, {text}" if outcome and text and outcome != text else outcome or text


def payload(trial: Trial, units: UnitSystem) -> dict[str, Any]:
    """Give the map of before and after as its script reads it."""
    from screening.report.map.images import depth_image, relief_image
    from screening.report.map.layers import build_layers
    from screening.schema.styles import DEPTH_BREAKS_M, DEPTH_COLORS

    before, after = trial.before, trial.after
    grid = before.block.grid
    classes: dict[str, Any] = {"breaks_m": DEPTH_BREAKS_M[units], "colors": DEPTH_COLORS}
    images = {
        "relief": relief_image(before.surface.elev_m, grid),
        "water_before": depth_image(before.ponding.water_depth_m, grid, **classes),
        "water_after": depth_image(after.ponding.water_depth_m, grid, **classes),
    }
    layers = {
        when: {layer.kind.key: layer.payload() for layer in build_layers(result, units, classes_in=units)}
        for when, result in (("before", before), ("after", after))
    }
    shown = {key: layers["before"][key] for key in _SAME if key in layers["before"]}
    lots, points = _lot_shapes(trial), _improvement_shapes(trial, units)
    return {
        "units": units,
        "images": {key: {"url": shot.url, "bounds": shot.bounds} for key, shot in images.items()},
        "same": {key: _slim(key, layer) for key, layer in shown.items() if key != "lots"},
        **{when: {key: _slim(key, found[key]) for key in _CHANGING if key in found} for when, found in layers.items()},
        "lots": lots,
        "improvements": points,
        "words": _popup_words(trial, units),
        "view": _view(before),
    }


def _slim(key: str, layer: dict[str, Any]) -> dict[str, Any]:
    features = [{"id": f["id"], "c": f["c"], "g": f["g"]} for f in layer["features"] if f["g"]]
    # Structures beyond the chosen lots are told with the others.
    words_of = "structures" if key == "others" else key
    return {"noun": layer["noun"], "words_of": words_of, "styles": layer["styles"], "features": features}


def _lot_shapes(trial: Trial) -> list[dict[str, Any]]:
    shapes = _degrees(trial.comparison.lots)
    return [
        {
            "id": clip_text(str(lot["lot_id"]), 60),
            "g": shape,
            "change": _CHANGES[lot["result"]],
            "red": bool(lot["is_red_flag"]),
        }
        for lot, shape in zip(trial.comparison.lots.to_dict("records"), shapes, strict=True)
    ]


def _improvement_shapes(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    shapes = _degrees(trial.comparison.improvements)
    return [
        {
            "id": clip_text(improvement.improvement_id, 60),
            "kind": improvement.kind.replace("_", " "),
            "is_end": improvement.kind in ("outlet", "storage"),
            "g": shape,
            "words": number_words(improvement, units),
            "to": improvement.word("to"),
            "taken": taken(trial, improvement, units),
        }
        for improvement, shape in zip(trial.improvements.items, shapes, strict=True)
    ]


def _popup_words(trial: Trial, units: UnitSystem) -> dict[str, dict[str, list[str]]]:
    """Lines of a subject's numbers before and after, by layer and id."""
    words: dict[str, dict[str, list[str]]] = {}
    for row in records_of(told_table(trial, "comparison", units)):
        layer = _LAYER_OF_SUBJECT.get(row["subject_kind"])
        if layer is None:
            continue
        line = f"{row['what']}: {cell(row, 'before', units)} before, {cell(row, 'after', units)} after"
        words.setdefault(layer, {}).setdefault(clip_text(str(row["subject_id"]), 60), []).append(line)
    return words


def _degrees(frame: Any) -> list[Any]:
    from shapely.geometry import mapping

    from screening.report.map.layers import to_degrees

    return [mapping(shape) for shape in to_degrees(frame)]


def _view(result: BlockResult) -> tuple[tuple[float, float], tuple[float, float]]:
    from shapely import total_bounds

    from screening.report.map.layers import to_degrees

    west, south, east, north = total_bounds(to_degrees(result.block.lots))
    return (float(south), float(west)), (float(north), float(east))
