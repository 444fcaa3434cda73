"""The page of before and after, its tables and files, in words and in a real browser with the network off."""

from __future__ import annotations

import csv
import dataclasses
import json
import re
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely

from screening.improvements.trial import try_works_on_block
from screening.models import Rain, Trial, Work, Works
from screening.report.improvements.outputs import WORKS_FILE_NAMES, write_works_outputs
from screening.report.improvements.page import build_works_page
from screening.report.improvements.words import change_findings, volume_words, volumes_words
from screening.schema.criteria import Criteria
from tests.blocks import CRS, box, line, make_block
from tests.improvements.test_apply import plane, point
from tests.report.browser.conftest import Open, browser, open_page, tabs  # noqa: F401  (fixtures)
from tests.report.conftest import HOSTILE_TEXTS

RAIN = Rain(100.0, "100 mm", "test")


def make_trial(text: str = "T") -> Trial:
    """A drain before a garage and a berm that sends water to the neighbour."""
    elev = plane(0.05, 24, 22)
    lots = make_block(elev, lots=[("west", box(0, 0, 24, 10)), (f"{text} east", box(0, 10, 24, 22))]).lots
    block = make_block(
        elev, lots=[("west", box(0, 0, 24, 10))], structures=[(f"{text} G", "west", text, box(18, 3, 21, 8))]
    )
    works = Works(
        CRS,
        (
            Work(text, "trench_drain", line([(16, 3), (16, 7)]), {"width_m": 0.1, "depth_m": 0.2}, {"to": "O"}),
            Work("O", "outlet", point(22, 1)),
            Work("B", "berm", line([(6, 0), (11, 12)]), {"height_m": 0.5}),
        ),
    )
    return try_works_on_block(block, works, criteria=Criteria(), rain=RAIN, lots=lots)


@pytest.fixture(scope="module")
def trial() -> Trial:
    return make_trial()


def test_volumes_are_said_in_litres_or_gallons_while_they_are_small() -> None:
    assert volume_words(0.0378541, "us") == "10 gal" and volume_words(9.9994, "metric") == "9,999 L"
    assert volume_words(12.34, "metric") == "12.3 m³" and volume_words(-0.0001, "metric") == "0 L"
    assert volume_words(float("nan"), "metric") == "not assessed"
    assert volumes_words([39.335, 39.485], "metric") == ["39,335 L", "39,485 L"]
    assert volumes_words([390.0, 0.5], "metric") == ["390.0 m³", "0.5 m³"]


def test_red_flags_come_first_and_name_the_neighbour(trial: Trial) -> None:
    findings = change_findings(trial, "metric")
    marks = [mark for mark, _ in findings]
    assert marks == sorted(marks, key=["worse", "better", "same"].index)
    assert re.match(r"Lot T east, a neighbour, gets more water: [\d,.]+ (L|m³) more in this storm", findings[0][1])
    assert any(mark == "better" and words.startswith("Structure T G: water at the walls") for mark, words in findings)
    assert any(words.startswith("Trench drain T takes") for _, words in findings)
    assert " L " not in " ".join(words for _, words in change_findings(trial, "us"))


def test_the_page_is_one_file_the_same_each_time(trial: Trial) -> None:
    page = build_works_page(trial, title="West lot")
    assert page == build_works_page(trial, title="West lot")
    # The drawing library has the address of its own makers in a text that is not shown.
    ours = re.sub(r"<script>.*?</script>", "", page, flags=re.DOTALL)
    assert not re.findall(r"""(?:src|href)=["'](?!#|data:)[^"']+""", ours) and "https:" not in ours
    for words in ("811", "4 ft", "load class", "has to be permitted", "neighbouring land"):
        assert words in page
    assert len(page) < 1_000_000


def test_all_files_are_written_and_read_back(trial: Trial, tmp_path: Path) -> None:
    written = write_works_outputs(trial, tmp_path, title="West lot", provenance={"files": {"works": "w.geojson"}})
    assert {tmp_path / name for name in WORKS_FILE_NAMES.values()} <= set(written.values())
    rows = list(csv.DictReader((tmp_path / "comparison.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert len(rows) == len(trial.comparison.table)
    walls = next(row for row in rows if row["statistic"] == "runoff_arriving_m3")
    assert float(walls["after"]) - float(walls["before"]) == pytest.approx(float(walls["difference"]), abs=1e-6)
    layers = {str(name): kind for name, kind in pyogrio.list_layers(tmp_path / "works.gpkg")}
    assert layers["works_lines"] == "LineString" and layers["works_points"] == "Point"
    assert layers["lot_changes"] == "MultiPolygon" and layers["comparison"] is None
    lines = pyogrio.read_dataframe(tmp_path / "works.gpkg", layer="works_lines")
    assert lines["work_id"].tolist() == ["T", "B"] and lines.crs == CRS
    assert lines["taken_m3"].iloc[0] == pytest.approx(trial.comparison.works["taken_m3"].iloc[0])
    document = json.loads((tmp_path / "comparison.json").read_text(encoding="utf-8"))
    assert [work["work_id"] for work in document["given"]] == ["T", "O", "B"]
    assert document["findings"][0]["mark"] == "worse"
    for when in ("before", "after"):
        assert (tmp_path / when / "result.json").is_file() and (tmp_path / when / "map.html").is_file()


@pytest.mark.browser
@pytest.mark.parametrize("size", ["desktop", "tablet", "phone"])
def test_the_page_switches_between_before_and_after(trial: Trial, open_page: Open, size: str) -> None:  # noqa: F811
    shown = open_page(build_works_page(trial), size)
    shown.wait_for_selector("#trial-map[data-ready=yes]")
    assert shown.locator("#trial-map").get_attribute("data-when") == "after"
    assert shown.locator(".more-water").inner_text() == "T east: more water"
    names = [text.strip() for text in shown.locator(".work-name").all_inner_texts()]
    strokes = shown.evaluate(
        "[...document.querySelectorAll('.leaflet-works-pane path')].map((path) => path.getAttribute('stroke'))"
    )
    # Each on its white casing, not under it.
    assert strokes[:6] == ["#ffffff", "#5b1f6e"] * 3
    assert "O" in names and any(name.startswith("trench drain T: ") for name in names)
    shown.get_by_text("Before", exact=True).first.click()
    assert shown.locator("#trial-map").get_attribute("data-when") == "before"
    assert shown.locator(".more-water").count() == 0
    shown.keyboard.press("ArrowRight")
    assert shown.locator("#trial-map").get_attribute("data-when") == "after"
    shown.get_by_text("Proposed improvements", exact=True).first.click()
    assert shown.locator(".work-name").count() == 0
    same = shown.locator("#comparison-table tr.same").first
    assert same.is_hidden()
    shown.get_by_text("Show what stays the same too").click()
    assert same.is_visible()
    assert shown.evaluate("document.documentElement.scrollWidth <= window.innerWidth + 1")


@pytest.mark.browser
@pytest.mark.parametrize("name", list(HOSTILE_TEXTS))
def test_hostile_text_stays_text(name: str, open_page: Open) -> None:  # noqa: F811
    trial = make_trial(HOSTILE_TEXTS[name])
    hostile_note = dataclasses.replace(trial.after.notes[0], text=HOSTILE_TEXTS[name])
    notes = (*trial.after.notes, hostile_note)
    hostile: Any = dataclasses.replace(trial, after=dataclasses.replace(trial.after, notes=notes))
    shown = open_page(build_works_page(hostile, title=HOSTILE_TEXTS[name]))
    shown.wait_for_selector("#trial-map[data-ready=yes]")
    assert shown.title() not in ("owned", "1")
    assert shown.locator("img[src=x]").count() == 0


def test_works_of_every_shape_are_drawn(trial: Trial) -> None:
    area = Work("R", "regrade", box(2, 2, 4, 6), {"elev_m": 49.9})
    spot = Work("S", "storage", shapely.Point(box(3, 8, 4, 9).centroid), {"volume_m3": 1.0})
    other = try_works_on_block(
        trial.before.block, Works(CRS, (area, spot)), criteria=Criteria(), rain=RAIN, lots=trial.before.block.lots
    )
    page = build_works_page(other, units="us")
    assert "level 163.7 ft" in page and "264 gal" in page
