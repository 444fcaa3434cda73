from __future__ import annotations

import zipfile
from pathlib import Path

import openpyxl
import pytest

from screening.models import BlockResult
from screening.report.tables.workbook import write_workbook
from screening.schema.columns import TABLES
from screening.units import M_PER_FT
from tests.report.hostile import BAD_MARKS


def test_numbers_are_numbers_under_headings_with_units(tiny_result: BlockResult, tmp_path: Path) -> None:
    write_workbook(tiny_result, tmp_path / "s.xlsx", units="us", title="Two lots")
    book = openpyxl.load_workbook(tmp_path / "s.xlsx")
    assert book.sheetnames[:3] == ["Lots", "Field notes", "Structures"]
    sheet = book["Lots"]
    heads = [cell.value for cell in sheet[1]]
    area = heads.index("Lot area [sq ft]")
    assert len(heads) == len(TABLES["summary"])
    assert sheet.cell(2, area + 1).value == pytest.approx(0.5 / M_PER_FT**2)
    assert sheet.cell(2, area + 1).number_format == "#,##0"
    cover = heads.index("Elevation cover [%]")
    assert sheet.cell(2, cover + 1).value == 0.5
    assert sheet.cell(2, cover + 1).number_format == "0%"
    # Not assessed is an empty cell, never 0.
    assert sheet.cell(2, heads.index("Mean slope [%]") + 1).value is None
    assert sheet.freeze_panes == "B2" or sheet.freeze_panes == "D2"
    assert sheet.auto_filter.ref.startswith("A1:")


def test_field_notes_have_room_for_the_visit(tiny_result: BlockResult, tmp_path: Path) -> None:
    write_workbook(tiny_result, tmp_path / "s.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "s.xlsx")["Field notes"]
    heads = [cell.value for cell in sheet[1]]
    assert heads[:3] == ["Lot", "Visit order", "Main finding"]
    assert [sheet.cell(row, 1).value for row in (2, 3)] == ["A-1", "A-2"]
    noted = heads[3:]
    assert "Visited on" in noted and "What the owner says" in noted
    assert all(sheet.cell(2, column).value is None for column in range(4, len(heads) + 1))
    assert sheet.freeze_panes == "D2"


def test_lots_stand_in_the_order_of_the_visit(tiny_result: BlockResult, tmp_path: Path) -> None:
    import dataclasses

    turned = dataclasses.replace(tiny_result, summary=tiny_result.summary.assign(visit_rank=[2, 1]))
    write_workbook(turned, tmp_path / "s.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "s.xlsx")["Lots"]
    assert [sheet.cell(row, 1).value for row in (2, 3)] == ["A-2", "A-1"]


def test_two_builds_are_the_same_to_the_byte(tiny_result: BlockResult, tmp_path: Path) -> None:
    for name in ("a", "b"):
        write_workbook(tiny_result, tmp_path / f"{name}.xlsx", title="Two lots")
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_hostile_text_is_text(hostile_result: BlockResult, hostile_text: str, tmp_path: Path) -> None:
    write_workbook(hostile_result, tmp_path / "h.xlsx", title=hostile_text)
    book = openpyxl.load_workbook(tmp_path / "h.xlsx")
    texts = [cell for sheet in book for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]
    assert any("'" in cell.value or cell.value for cell in texts)
    for cell in texts:
        # openpyxl marks what a spreadsheet would work out with "f", and errors with "e".
        assert cell.data_type == "s", cell.value[:60]
        assert not cell.value.startswith(("=", "+", "-", "@"))
        assert len(cell.value) <= 32_767
        assert not any(mark in cell.value for mark in BAD_MARKS)
        assert cell.hyperlink is None
    with zipfile.ZipFile(tmp_path / "h.xlsx") as parts:
        assert not any(b"<f>" in parts.read(name) or b"hyperlink" in parts.read(name) for name in parts.namelist())
