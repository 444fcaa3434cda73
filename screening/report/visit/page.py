"""The sheet for the visit as one page to print: plain HTML, no script, nothing from the network."""

from __future__ import annotations

from html import escape
from typing import Any

from screening.models import BlockResult
from screening.report.cautions import TAGLINE, site_cautions_of
from screening.report.findings import clip_text, format_cell, is_missing, label_with_unit, rain_words
from screening.report.visit.sheet import visit_rows
from screening.report.words import lots_told
from screening.report.words.storage import caution_words
from screening.schema.columns import VISIT_COLUMNS
from screening.schema.criteria import profile_words
from screening.units import UnitSystem

_PARTS: dict[str, tuple[str, tuple[str, ...]]] = {
    "question": ("Questions", ("item", "subject_id", "why")),
    "level": ("Levels to shoot", ("item", "subject_id", "expected_elev_m", "above_first_m", "tolerance_m", "why")),
    "test": ("Tests to make", ("item", "subject_id", "n_wanted", "depth_m", "why")),
    "photo": ("Photos to take", ("item", "subject_id", "n_wanted", "why")),
}
_FOUND = {"question": "Answer", "level": "Found", "test": "Found", "photo": "Taken"}
_COLUMNS = {column.name: column for column in VISIT_COLUMNS}
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_CSS = """
body { font: 11pt/1.35 sans-serif; color: #1a1a1a; background: #fff; margin: 1.5cm; overflow-wrap: anywhere; }
@media screen and (max-width: 760px) { body { margin: 12px; } }
h1 { font-size: 16pt; } h2 { font-size: 13pt; border-bottom: 2px solid #1a1a1a; } h3 { font-size: 11pt; }
table { border-collapse: collapse; width: 100%; margin-bottom: 1em; }
th, td { border: 1px solid #777; padding: 3px 6px; text-align: left; vertical-align: top; overflow-wrap: anywhere; }
th { background: #eee; } td.number { text-align: right; white-space: nowrap; } .found { width: 22%; }
@media print { body { margin: 0; } section { break-before: page; } section:first-of-type { break-before: auto; }
  tr { break-inside: avoid; } thead { display: table-header-group; } }
@page { margin: 1.5cm; }
"""


def visit_page(result: BlockResult, *, units: UnitSystem = "metric", title: str = "") -> str:
    """Build the sheet: one part a lot, in the order in which to visit them, with room for what is found.

    Parameters
    ----------
    result
        What was found.
    units
        How numbers are shown.
    title
        Heading.
    """
    rows = visit_rows(result, units)
    by_lot: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        by_lot.setdefault(row["lot_id"], []).append(row)
    heading = _text(title or "Site visit")
    parts = "".join(_lot_section(result, lot_id, own, units) for lot_id, own in by_lot.items())
    storm, thresholds = _text(rain_words(result.storm.rain, units)), _text(profile_words(result.criteria))
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{heading}: sheet for the visit</title>"
        f"<style>{_CSS}</style></head>\n<body><main><h1>{heading}: sheet for the visit</h1>"
        f"<p><strong>{_text(TAGLINE)}.</strong> Storm: {storm}. Thresholds: {thresholds}. Date: ____________ "
        f"By: ____________ Weather: ____________ First level shot at: ____________</p>\n{parts}</main></body></html>\n"
    )


def _lot_section(result: BlockResult, lot_id: str, rows: list[dict[str, Any]], units: UnitSystem) -> str:
    lots = lots_told(result, units)
    summary = lots[lots["lot_id"] == lot_id]
    finding = "".join(f"<p>{_text(text)}</p>" for text in summary["main_finding"])
    finding += "".join(
        f"<p>Storage on the lot: {_text(status)}: {_text(why)}.</p>"
        for status, why in zip(summary["storage_status"], summary["storage_why"], strict=True)
        if not is_missing(status)
    )
    cautions = [
        f"<li>Storage {_text(storage_id)}: {_text(caution_words(caution, units))}</li>"
        for storage_id, caution in site_cautions_of(result, lot_id)
    ]
    listed = f"<h3>Cautions that this lot sets off</h3><ul>{''.join(cautions)}</ul>" if cautions else ""
    tables = "".join(_part_table(part, [row for row in rows if row["part"] == part], units) for part in _PARTS)
    return f"<section><h2>Lot {_text(lot_id)}</h2>{finding}{listed}{tables}</section>\n"


def _part_table(part: str, rows: list[dict[str, Any]], units: UnitSystem) -> str:
    if not rows:
        return ""
    heading, fields = _PARTS[part]
    heads = "".join(f"<th>{_text(label_with_unit(_COLUMNS[name], units))}</th>" for name in fields)
    body = "".join(
        "<tr>" + "".join(_cell(row, name, units) for name in fields) + '<td class="found"></td></tr>' for row in rows
    )
    return (
        f"<h3>{heading}</h3><table><thead><tr>{heads}<th>{_FOUND[part]}</th></tr></thead><tbody>{body}</tbody></table>"
    )


def _cell(row: dict[str, Any], name: str, units: UnitSystem) -> str:
    column, value = _COLUMNS[name], row[name]
    mark = "" if column.is_text else ' class="number"'
    shown = "" if value is None else format_cell(value, column, units)
    return f"<td{mark}>{_text(shown)}</td>"


def _text(text: object) -> str:
    """Escape any text, without marks that cannot be printed or turn the direction of writing."""
    printable = "".join(mark for mark in clip_text(str(text)) if mark.isprintable() or mark in "\n\t")
    return escape(printable)
