"""The page of before and after: one file with no network, what changes first, the map with both states."""

from __future__ import annotations

from typing import Any

from screening.models import BlockResult, Improvement, Trial
from screening.report.cautions import TAGLINE
from screening.report.findings import clip_text, is_missing, sort_notes
from screening.report.improvements.told import told_table
from screening.report.improvements.words import (
    change_findings,
    improvement_cautions,
    pair_words,
    records_of,
    title_words,
    value_words,
    volume_words,
    volumes_words,
)
from screening.report.words.notes import note_words
from screening.schema.codes.improvements import Result, Subject
from screening.schema.codes.notes import NoteSubject
from screening.schema.codes.verdicts import Outcome
from screening.units import UnitSystem, format_value

_SAME = ("lots", "others", "roads")
"""Layers that improvements do not change: drawn once."""
_CHANGING = ("structures", "driveways", "flow_paths", "low_spots", "drains", "barriers")
_LAYER_OF_SUBJECT = {"lot": "lots", "neighbour": "lots", "structure": "structures", "low spot": "low_spots"}
_CHANGES = {"more water": "more", "less water": "less", "the same": "none"}
"""What the page calls the result of a lot."""
_OPERATORS = {"<=": "at most", ">=": "at least", "<": "below", "==": "exactly"}
_CSP = (
    "default-src 'none'; connect-src 'none'; img-src data: blob:; style-src 'unsafe-inline'; "
    "script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
)
_PLACES = {
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
_ORDER = {Outcome.FAILED: 0, Outcome.NOT_ASSESSED: 1, Outcome.PASSED: 2}
_SAID = {Outcome.FAILED: "flagged", Outcome.PASSED: "not flagged", Outcome.NOT_ASSESSED: "not assessed"}
_ON_MAP = {
    Subject.LOT: Subject.LOT,
    Subject.NEIGHBOUR: Subject.LOT,
    Subject.STRUCTURE: Subject.STRUCTURE,
    Subject.LOW_SPOT: Subject.LOW_SPOT,
}
"""Subjects whose numbers stand in a popup, and the layer where they do."""


def build_improvements_page(trial: Trial, *, units: UnitSystem = "metric", title: str = "") -> str:
    """Build the page that compares a site before and after improvements.

    Parameters
    ----------
    trial
        Both results and their comparison.
    units
        What readers see.
    title
        Of the page.

    Returns
    -------
    HTML, the same to the byte for the same input.

    Raises
    ------
    OutputError
        A page part is missing.
    """
    from markupsafe import Markup

    from screening.report.map.offline import asset_text, json_for_script
    from screening.report.templates import bundle_text, page_template

    styles = ("leaflet/leaflet.css", "page/page.css", "improvements_page.css")
    return page_template("improvements_page.html").render(
        title=clip_text(title or "Proposed improvements tried out", 160),
        tagline=TAGLINE,
        storm=title_words(trial, units),
        csp=_CSP,
        styles=[Markup(asset_text(name)) for name in styles],
        scripts=[Markup(asset_text("leaflet/leaflet.js")), Markup(bundle_text("improvements"))],
        findings=change_findings(trial, units),
        improvements=[
            (clip_text(improvement.name, 60), number_words(improvement, units), _taken(trial, improvement, units))
            for improvement in trial.improvements.items
        ],
        rows=_rows(trial, units),
        lots=_lots(trial, units),
        checks=_checks(trial, units),
        notes=_notes(trial),
        cautions=improvement_cautions(),
        payload=Markup(json_for_script(_payload(trial, units))),
    )


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


def _taken(trial: Trial, improvement: Improvement, units: UnitSystem) -> str:
    row = trial.comparison.improvements.set_index("improvement_id").loc[improvement.improvement_id]
    return "" if is_missing(row["taken_m3"]) else volume_words(float(row["taken_m3"]), units)


def _rows(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    """The comparison, what matters first; what stays the same last."""
    rows = records_of(told_table(trial, "comparison", units))
    rows.sort(key=lambda row: (not row["is_red_flag"], _PLACES.get(row["result"], 3)))
    return [
        {
            "subject": clip_text(f"{row['subject_kind']} {row['subject_id']}".strip(), 80),
            "what": clip_text(row["what"], 120),
            "before": _cell(row, "before", units),
            "after": _cell(row, "after", units),
            "result": row["result"],
            "red": row["is_red_flag"],
            "same": row["result"] == Result.SAME and not row["is_red_flag"],
        }
        for row in rows
    ]


def _cell(row: dict[str, Any], key: str, units: UnitSystem) -> str:
    text = pair_words(row, units)[key == "after"] if row["statistic"] else ""
    outcome = row[f"outcome_{key}"]
    return f"{outcome}, {text}" if outcome and text and outcome != text else outcome or text


def _lots(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    lots = trial.comparison.lots.sort_values(["is_red_flag", "run_on_difference_m3"], ascending=False, kind="stable")
    pairs = [(lot, volumes_words([lot["run_on_before_m3"], lot["run_on_after_m3"]], units)) for lot in records_of(lots)]
    return [
        {
            "lot": clip_text(str(lot["lot_id"]), 60),
            "who": "screened" if lot["is_chosen"] else "neighbour",
            "before": both[0],
            "after": both[1],
            "peaks": " / ".join(format_value(lot[f"peak_{when}_l_s"], "l_s", units) for when in ("before", "after")),
            "result": lot["result"] + (", cut by the edge" if lot["edge_contaminated"] else ""),
            "red": lot["is_red_flag"],
        }
        for lot, both in pairs
    ]


def _checks(trial: Trial, units: UnitSystem) -> list[dict[str, Any]]:
    rows = sorted(records_of(told_table(trial, "improvement_checks", units)), key=lambda row: _ORDER[row["outcome"]])
    found = []
    for row in rows:
        required = value_words(row["threshold"], row["unit"], units)
        value = value_words(row["value"], row["unit"], units)
        compared = f"{value} (required: {_OPERATORS[row['operator']]} {required})"
        if row["statistic"].startswith("has_"):
            compared = {1.0: "yes", 0.0: "no"}.get(row["value"], "not said") + " (required: yes)"
        found.append(
            {
                "improvement": clip_text(row["improvement_id"], 60) or "All improvements",
                "check": row["check"],
                "compared": compared,
                "outcome": _SAID[row["outcome"]],
                "mark": row["outcome"],
                "background": f"{row['note']}. " * bool(row["note"]) + f"Source: {row['source']}.",
            }
        )
    return found


def _notes(trial: Trial) -> list[str]:
    """What was assumed of the improvements, and what the changed ground brings up that was not said before."""
    known = {(note.subject, note_words(note)) for note in trial.before.notes}
    fresh = [
        note
        for note in trial.after.notes
        if (note.subject, note_words(note)) not in known or note.subject is NoteSubject.IMPROVEMENTS
    ]
    return [clip_text(f"{note.kind}, {note.subject}: {note_words(note)}") for note in sort_notes(fresh)]


def _payload(trial: Trial, units: UnitSystem) -> dict[str, Any]:
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
            "taken": _taken(trial, improvement, units),
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
        line = f"{row['what']}: {_cell(row, 'before', units)} before, {_cell(row, 'after', units)} after"
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
