"""Tables of a screening as one workbook: units in the headings, room for notes of the visit, no formulas."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.models import BlockResult
from screening.plain_text import clean
from screening.report.cautions import CAUTIONS, TAGLINE, all_cautions
from screening.report.findings import is_missing, rain_words, sort_notes
from screening.report.tables.files import guard_cell, table_of
from screening.report.words.notes import note_words
from screening.schema.columns import SUMMARY_COLUMNS, Column
from screening.schema.layers import all_tables
from screening.units import UnitSystem, shown_unit

if TYPE_CHECKING:
    import pandas as pd

MAX_CELL_CHARS = 32_767
"""Characters of a cell: ECMA-376 leaves it open, the programs that read it do not (common practice)."""
MAX_LOTS, MAX_LOTS_WITH_NOTES = 20_000, 1_000
"""Lots of a batch in a workbook, the first by rank: programs that read one grow slow with more (common practice)."""
_SAFE = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
_CREATED = datetime.datetime(2000, 1, 1)
"""Fixed, so that the same findings make the same file to the byte."""
_SHEETS: dict[str, str] = {
    "summary": "Lots",
    "structures": "Structures",
    "driveways": "Driveways",
    "low_spots": "Low spots",
    "infiltration_zones": "Candidate zones",
    "storage_options": "Storage",
    "verdicts": "Checks",
}
_LEFT_FIELDS = ("lot_id", "visit_rank", "main_finding")
"""Columns of the sheet of lots that stay when it is scrolled sideways."""
_NOTE_HEADS: tuple[tuple[str, int], ...] = (
    ("Visited on", 13),
    ("By", 12),
    ("Weather, last rain", 18),
    ("What the owner says", 30),
    ("What was found at the walls", 30),
    ("Levels shot", 22),
    ("Where downspouts end", 22),
    ("Drains, sumps, pipes found", 24),
    ("Photos", 14),
    ("Agrees with the screening?", 16),
    ("What to do next", 30),
)
_WIDE_CHARS, _TEXT_CHARS, _NUMBER_CHARS = 44, 18, 12


def write_workbook(result: BlockResult, path: Path, *, units: UnitSystem = "metric", title: str = "") -> None:
    """Write the tables that a person reads as an XLSX workbook, numbers as numbers in the units of the reader.

    Parameters
    ----------
    result
        What was found.
    path
        A file of that name is replaced.
    units
        Of the numbers; the headings name them.
    title
        What the screening is called.

    Notes
    -----
    Text is written as text, never as a formula or a link, and guarded as in the CSV for whoever saves it as such.

    References
    ----------
    ECMA-376, Office Open XML file formats.
    """
    import xlsxwriter

    with xlsxwriter.Workbook(path, _SAFE) as book:
        book.set_properties({"title": clean(title, 200), "comments": TAGLINE, "created": _CREATED})
        for name, heading in _SHEETS.items():
            frame = table_of(result, name)
            if name == "summary":
                frame = frame.sort_values("visit_rank", kind="stable")
            _write_table(book, heading, frame, all_tables()[name], units)
            if name == "summary":
                _write_field_notes(book, frame)
        _write_meanings(book, [(heading, all_tables()[name]) for name, heading in _SHEETS.items()], units)
        _write_about(book, _about(result, units, title))


def write_lots_workbook(lots: pd.DataFrame, columns: Sequence[Column], path: Path, *, title: str = "") -> None:
    """Write many ranked lots as an XLSX workbook, the first of them with room for notes; metric.

    Parameters
    ----------
    lots
        One row a lot in visiting order, with the columns.
    columns
        Of the sheet of lots.
    path
        A file of that name is replaced.
    title
        What the screening is called.
    """
    import xlsxwriter

    shown = lots.head(MAX_LOTS)
    rows = [("Screening", title), ("Limits", f"{TAGLINE}.")]
    if len(shown) < len(lots):
        rows.append(("Lots", f"The first {len(shown):,} of {len(lots):,} by rank; all are in summary.csv"))
    rows += [("Empty cells", "not assessed, or nothing there; never a pass")]
    with xlsxwriter.Workbook(path, _SAFE) as book:
        book.set_properties({"title": clean(title, 200), "comments": TAGLINE, "created": _CREATED})
        _write_table(book, _SHEETS["summary"], shown, columns, "metric")
        _write_field_notes(book, shown[shown["visit_rank"].notna()].head(MAX_LOTS_WITH_NOTES))
        _write_meanings(book, [(_SHEETS["summary"], columns)], "metric")
        _write_about(book, [*rows, *(("Caution", text) for text in CAUTIONS)])


def _cell_text(value: object) -> str:
    return guard_cell(clean(value, MAX_CELL_CHARS - 1))


def _heading(column: Column, units: UnitSystem) -> str:
    if column.kind != "number":
        return column.label
    symbol = shown_unit(column.unit, units).symbol
    return f"{column.label} [{symbol}]" if symbol else column.label


def _number_format(column: Column, units: UnitSystem) -> str:
    if column.kind == "count":
        return "0"
    if column.unit == "frac":
        return "0%"
    decimals = shown_unit(column.unit, units).decimals if column.unit else 2
    return "#,##0" + ("." + "0" * decimals if decimals else "")


def _write_table(book: Any, name: str, frame: pd.DataFrame, columns: Sequence[Column], units: UnitSystem) -> None:
    sheet = book.add_worksheet(name)
    head = _head_format(book)
    for place, column in enumerate(columns):
        sheet.write_string(0, place, _heading(column, units), head)
        _write_column(book, sheet, place, column, frame[column.name].tolist(), units)
    n_left = len(_LEFT_FIELDS) if name == _SHEETS["summary"] else 1
    sheet.freeze_panes(1, n_left)
    sheet.autofilter(0, 0, max(len(frame), 1), len(columns) - 1)
    sheet.set_row(0, 48)
    _set_print(sheet)


def _write_column(book: Any, sheet: Any, place: int, column: Column, values: list[Any], units: UnitSystem) -> None:
    if column.is_text:
        texts = ["" if is_missing(value) else _cell_text(value) for value in values]
        longest = max((len(text) for text in texts), default=0)
        wrapped = book.add_format({"text_wrap": True, "valign": "top", "num_format": "@"})
        sheet.set_column(place, place, _WIDE_CHARS if longest > _TEXT_CHARS * 1.5 else _TEXT_CHARS, wrapped)
        for row, text in enumerate(texts, start=1):
            if text:
                sheet.write_string(row, place, text, wrapped)
        return
    shown = book.add_format({"num_format": _number_format(column, units), "valign": "top"})
    sheet.set_column(place, place, _NUMBER_CHARS, shown)
    # A share stays a share: the format of the cell shows it as a percentage.
    factor = 1.0 if column.unit == "frac" or column.kind != "number" else shown_unit(column.unit, units).factor
    for row, value in enumerate(values, start=1):
        if column.kind == "flag":
            sheet.write_string(row, place, "" if is_missing(value) else "yes" if value else "no", shown)
        elif not is_missing(value) and math.isfinite(float(value)):
            sheet.write_number(row, place, float(value) * factor, shown)


def _write_field_notes(book: Any, lots: pd.DataFrame) -> None:
    sheet = book.add_worksheet("Field notes")
    head = _head_format(book)
    told = [column for column in SUMMARY_COLUMNS if column.name in _LEFT_FIELDS]
    body = book.add_format({"text_wrap": True, "valign": "top", "border": 1, "num_format": "@"})
    number = book.add_format({"valign": "top", "border": 1, "num_format": "0"})
    for place, column in enumerate(told):
        sheet.write_string(0, place, column.label, head)
        is_words = column.is_text
        sheet.set_column(place, place, (34 if column.name == "main_finding" else 14) if is_words else 8)
        for row, value in enumerate(lots[column.name].tolist(), start=1):
            if is_words:
                sheet.write_string(row, place, _cell_text(value), body)
            else:
                sheet.write_number(row, place, float(value), number)
    for place, (label, width) in enumerate(_NOTE_HEADS, start=len(told)):
        sheet.write_string(0, place, label, head)
        sheet.set_column(place, place, width)
        for row in range(1, len(lots) + 1):
            sheet.write_blank(row, place, None, body)
    sheet.set_row(0, 32)
    sheet.freeze_panes(1, len(told))
    _set_print(sheet)


def _write_meanings(book: Any, sheets: Sequence[tuple[str, Sequence[Column]]], units: UnitSystem) -> None:
    sheet = book.add_worksheet("Meanings")
    head = _head_format(book)
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    for place, (label, width) in enumerate((("Sheet", 18), ("Column", 34), ("Meaning", 90), ("Name in the CSV", 28))):
        sheet.write_string(0, place, label, head)
        sheet.set_column(place, place, width, wrapped)
    rows = [
        (shown, _heading(column, units), column.meaning, column.name) for shown, columns in sheets for column in columns
    ]
    for row, texts in enumerate(rows, start=1):
        for place, text in enumerate(texts):
            sheet.write_string(row, place, text, wrapped)
    sheet.freeze_panes(1, 0)
    _set_print(sheet)


def _about(result: BlockResult, units: UnitSystem, title: str) -> list[tuple[str, str]]:
    rain = result.storm.rain
    return [
        ("Screening", title),
        ("Limits", f"{TAGLINE}."),
        ("Rain", f"{rain_words(rain, units)} ({rain.source})"),
        ("Empty cells", "not assessed, or nothing there; never a pass"),
        *(("Caution", text) for text in all_cautions(result, units)),
        *((f"Data: {note.kind}", f"{note.subject}: {note_words(note)}") for note in sort_notes(result.notes)),
    ]


def _write_about(book: Any, rows: Sequence[tuple[str, str]]) -> None:
    sheet = book.add_worksheet("About")
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    bold = book.add_format({"bold": True, "valign": "top"})
    sheet.set_column(0, 0, 18, bold)
    sheet.set_column(1, 1, 110, wrapped)
    for row, (label, text) in enumerate(rows):
        sheet.write_string(row, 0, label, bold)
        sheet.write_string(row, 1, _cell_text(text), wrapped)
    _set_print(sheet)


def _head_format(book: Any) -> Any:
    return book.add_format(
        {"bold": True, "text_wrap": True, "valign": "vcenter", "bg_color": "#e8e4d8", "border": 1, "num_format": "@"}
    )


def _set_print(sheet: Any) -> None:
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
