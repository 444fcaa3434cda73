from __future__ import annotations

import csv
import io
from html.parser import HTMLParser
from pathlib import Path

import pytest

from screening.models import BlockResult
from screening.report import write_outputs
from screening.report.visit.page import visit_page
from screening.report.visit.sheet import visit_rows
from screening.schema.columns import VISIT_COLUMNS, names
from tests.report.conftest import make_result


class Page(HTMLParser):
    """Elements, their attributes and their text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_every_part_is_there_and_filled_from_the_findings(tiny_result: BlockResult) -> None:
    rows = visit_rows(tiny_result, "metric")
    own = [row for row in rows if row["lot_id"] == "A-1"]
    assert list(dict.fromkeys(row["part"] for row in own)) == ["question", "level", "test", "photo"]
    asked = {row["subject_id"] for row in own if row["part"] == "question"}
    assert {"S-1", "LS-1"} <= asked
    assert "no wells layer was given" in [row["why"] for row in own]
    assert {row["subject_id"] for row in own if row["part"] == "test"} == {"IZ-1"}
    assert all(list(row) == names(VISIT_COLUMNS) for row in rows)


def test_levels_have_their_elevation_height_and_tolerance(tiny_result: BlockResult) -> None:
    levels = [row for row in visit_rows(tiny_result, "metric") if row["lot_id"] == "A-1" and row["part"] == "level"]
    shot = {(row["item"], row["subject_id"]): row for row in levels}
    low = shot["Point where it overflows", "LS-1"]
    table = tiny_result.depressions.table
    assert low["expected_elev_m"] == table["spill_elev_m"].iloc[0]
    assert low["above_first_m"] == low["expected_elev_m"] - levels[0]["expected_elev_m"]
    # RMSE 0.10 m of QL2 (USGS Lidar Base Specification, from memory); 1.96 at the 95 % level, of one and of two.
    assert levels[0]["tolerance_m"] == pytest.approx(0.196)
    assert low["tolerance_m"] == pytest.approx(0.196 * 2**0.5)
    # A door without a sill is none to shoot.
    assert not [row for row in levels if row["item"] == "Sill"]


def test_lots_stand_in_visiting_order(tiny_result: BlockResult) -> None:
    assert list(dict.fromkeys(row["lot_id"] for row in visit_rows(tiny_result, "metric"))) == ["A-1", "A-2"]


def test_the_page_prints_without_a_network(tiny_result: BlockResult) -> None:
    html = visit_page(tiny_result, title="Two lots")
    page = Page(html)
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "link", "img", "iframe", "object"}
    assert not [attrs for _, attrs in page.tags if {"src", "href"} & set(attrs)]
    assert "url(" not in html and "@import" not in html
    assert "@media print" in html and "default-src 'none'" in html
    assert "Two lots: sheet for the visit" in page.words
    assert any("threshold 20.0%" in word for word in page.words)


def test_hostile_text_stays_text(hostile_result: BlockResult, hostile_text: str) -> None:
    page = Page(visit_page(hostile_result, title=hostile_text))
    plain = Page(visit_page(make_result()))
    assert {tag for tag, _ in page.tags} == {tag for tag, _ in plain.tags}
    assert {name for _, attrs in page.tags for name in attrs} == {name for _, attrs in plain.tags for name in attrs}
    assert not any(mark in "".join(page.words) for mark in "\u202e\u2066\x1b\u2028")


def test_both_unit_systems(tiny_result: BlockResult) -> None:
    us, metric = visit_page(tiny_result, units="us"), visit_page(tiny_result)
    assert "Expected elevation (ft)" in us and "m²" not in us
    assert "Expected elevation (m)" in metric and "sq ft" not in metric


def test_the_sheet_is_written_with_the_rest(tiny_result: BlockResult, tmp_path: Path) -> None:
    written = write_outputs(tiny_result, tmp_path)
    assert written["visit_sheet"].read_text(encoding="utf-8").startswith("<!doctype html>")
    text = written["visit_sheet_csv"].read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert list(rows[0]) == [*names(VISIT_COLUMNS), "criteria_profile"]
    assert {row["criteria_profile"] for row in rows} == {"neutral"}
    assert len(rows) == len(visit_rows(tiny_result, "metric"))
