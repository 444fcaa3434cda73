"""What the map page says in words: findings, tables, checks, data. The text alternative to the drawing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from screening.models import BlockResult, Verdict
from screening.report.findings import (
    background_words,
    clip_text,
    comparison_words,
    format_cell,
    is_missing,
    label_with_unit,
    outcome_words,
    rain_words,
    subject_words,
)
from screening.report.map.layers import PageLayer
from screening.report.words import lots_told
from screening.schema.checks import SUBJECT_TABLE
from screening.schema.columns import SUMMARY_COLUMNS, Column
from screening.schema.criteria import Criteria, profile_words
from screening.schema.layers import BUILT_IN, IMAGES, LayerGroup
from screening.units import UnitSystem, format_value, shown_unit

MAX_LISTED_LOTS = 12
MAX_LISTED_CHECKS = 6
MAX_LOTS_WITH_CHECKS = 3
"""With more flagged lots than this the list names lots only, so that it stays short."""
LAYER_OF_SUBJECT = {
    kind: layer.key for kind, table in SUBJECT_TABLE.items() for layer in BUILT_IN if layer.table == table
}

_TABLE_FIELDS = (
    "visit_rank",
    "lot_id",
    "main_finding",
    "n_flags",
    "n_not_assessed",
    "exposure",
    "off_lot_area_m2",
    "run_on_m3",
    "low_spot_depth_max_m",
    "infiltration_status",
)

Place = tuple[str, int]
"""Layer and number of a feature in it."""


def places_of(layers: list[PageLayer]) -> dict[tuple[str, str], Place]:
    """Find features by layer and id."""
    return {
        (layer.kind.key, feature["own"]): (layer.kind.key, index)
        for layer in layers
        for index, feature in enumerate(layer.features)
    }


def place_of(verdict: Verdict, places: Mapping[tuple[str, str], Place]) -> Place | None:
    """Find the subject of a verdict on the map, or its lot where the subject is not there."""
    return own_place_of(verdict, places) or places.get(("lots", verdict.lot_id))


def own_place_of(verdict: Verdict, places: Mapping[tuple[str, str], Place]) -> Place | None:
    """Find the subject of a verdict on the map; None where it is not there."""
    return places.get((LAYER_OF_SUBJECT.get(verdict.subject_kind, ""), verdict.subject_id))


def findings_list(
    result: BlockResult, verdicts: list[Verdict], places: Mapping[tuple[str, str], Place], units: UnitSystem
) -> dict[str, Any]:
    """Lots to look at first, with their flagged checks where the lots are few."""
    lots = lots_told(result, units).reset_index(drop=True)
    flagged = lots[lots["n_flags"] > 0].sort_values("visit_rank")
    n_checks = MAX_LISTED_CHECKS if len(flagged) <= MAX_LOTS_WITH_CHECKS else 0
    items = []
    for index, lot in flagged.head(MAX_LISTED_LOTS).iterrows():
        failed = [v for v in verdicts if v.lot_id == lot["lot_id"] and v.is_flag]
        items.append(
            {
                "index": index,
                "rank": lot["visit_rank"],
                "lot": clip_text(str(lot["lot_id"]), 60),
                "finding": clip_text(str(lot["main_finding"]), 200),
                "n_flags": int(lot["n_flags"]),
                "checks": [
                    (subject_words(v), comparison_words(v, units), place_of(v, places)) for v in failed[:n_checks]
                ],
                "more": max(0, len(failed) - n_checks) if n_checks else 0,
            }
        )
    return {
        "items": items,
        "more": max(0, len(flagged) - MAX_LISTED_LOTS),
        "unflagged": len(lots) - len(flagged),
        "not_assessed": int(lots["n_not_assessed"].fillna(0).sum()),
    }


def lots_table(result: BlockResult, units: UnitSystem) -> dict[str, Any]:
    """Headings and cells of the table of lots; each cell is its text and what it sorts by."""
    columns = [next(column for column in SUMMARY_COLUMNS if column.name == name) for name in _TABLE_FIELDS]
    lots = lots_told(result, units).reset_index(drop=True).sort_values("visit_rank")
    return {
        "heads": [
            (label_with_unit(column, units), column.meaning, not column.is_text, column.name) for column in columns
        ],
        "rows": [
            {"index": index, "cells": [_cell(row[column.name], column, units) for column in columns]}
            for index, row in lots.iterrows()
        ],
        "lot_at": _TABLE_FIELDS.index("lot_id"),
    }


def _cell(value: Any, column: Column, units: UnitSystem) -> tuple[str, str]:
    text = format_cell(value, column, units)
    if column.is_text:
        return clip_text(text, 160), text[:80].casefold()
    # The unit stands in the heading.
    text = text.removesuffix(f" {shown_unit(column.unit, units).symbol}")
    return text, "" if is_missing(value) else repr(float(value))


def checks_list(
    verdicts: list[Verdict], places: Mapping[tuple[str, str], Place], criteria: Criteria, units: UnitSystem
) -> list[dict[str, Any]]:
    """Every check in words."""
    return [
        {
            "outcome": outcome_words(verdict)[0],
            "mark": outcome_words(verdict)[1],
            "lot": clip_text(verdict.lot_id, 60),
            "subject": subject_words(verdict),
            "compared": comparison_words(verdict, units),
            "background": background_words(verdict, criteria, units),
            "place": place_of(verdict, places),
        }
        for verdict in verdicts
    ]


def data_rows(result: BlockResult, provenance: Mapping[str, Any] | None, units: UnitSystem) -> list[tuple[str, str]]:
    """Names and values of what the result was made from."""
    grid, rain, balance = result.block.grid, result.storm.rain, result.ponding
    runoff, ponded, left = (
        format_value(volume, "m3", units) for volume in (balance.runoff_m3, balance.ponded_m3, balance.left_window_m3)
    )
    cell = format_value(grid.cell_m, "m", units)
    return [
        ("Rain", f"{rain_words(rain, units)} ({clip_text(rain.source)})"),
        ("Thresholds", clip_text(profile_words(result.criteria))),
        ("Elevation grid", f"{grid.n_rows} x {grid.n_cols} cells of {cell}"),
        ("Map projection of the data", grid.crs if len(grid.crs) < 40 else "given as WKT in result.json"),
        ("Water balance of the window", f"runoff {runoff}; left standing {ponded}; left the window {left}"),
        *_flat({name: value for name, value in (provenance or {}).items() if name != "sha256"}),
    ]


def _flat(values: Mapping[str, Any], above: str = "") -> list[tuple[str, str]]:
    rows: list[tuple[str, str]] = []
    for name, value in values.items():
        label = f"{above}{name}".replace("_", " ")
        if isinstance(value, Mapping):
            rows += _flat(value, f"{label}: ")
        else:
            rows.append((clip_text(label, 80), clip_text(str(value))))
    return rows


def meanings(layers: list[PageLayer], units: UnitSystem) -> list[tuple[str, list[tuple[str, str]]]]:
    """What each number in the details means, by what it is a number of."""
    return [
        (layer.kind.noun, [(label_with_unit(column, units), column.meaning) for column in layer.columns])
        for layer in layers
        if not layer.kind.is_context
    ]


def layer_groups(layers: list[PageLayer], *, has_basemap: bool) -> list[dict[str, Any]]:
    """Switches of the layers under their headings, each with its legend, then those of the pictures."""
    groups: dict[str, list[dict[str, Any]]] = {group: [] for group in LayerGroup}
    for layer in layers:
        kind = layer.kind
        legend = [(key.swatch, key.text) for key in layer.legend]
        groups[kind.group].append({"key": kind.key, "label": kind.label, "is_on": kind.is_on, "legend": legend})
    for key, group in IMAGES.items():
        if key != "basemap" or has_basemap:
            groups[group].append({"key": key, "label": "", "is_on": key == "relief", "legend": []})
    return [{"title": title, "switches": switches} for title, switches in groups.items() if switches]
