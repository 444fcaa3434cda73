"""The table of lots in a real browser: it filters, and table and map choose for each other."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from screening.report import build_map
from screening.schema.columns import SUMMARY_COLUMNS
from tests.report.conftest import HOSTILE_TEXTS, make_result

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("Chromium is not installed")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as started:
        running = started.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        yield running
        running.close()


@pytest.fixture
def page(chromium: Any, tmp_path: Path) -> Iterator[Any]:
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, offline=True)
    opened = context.new_page()
    troubles: list[str] = []
    opened.on("pageerror", lambda error: troubles.append(str(error)))
    (tmp_path / "page.html").write_text(build_map(make_result(kind=HOSTILE_TEXTS["script"])), encoding="utf-8")
    opened.goto((tmp_path / "page.html").as_uri())
    yield opened
    context.close()
    assert troubles == []


def shown(page: Any) -> list[str]:
    rows = page.locator("#lots-table tbody tr:visible .go")
    return [rows.nth(place).inner_text() for place in range(rows.count())]


def test_it_filters_by_words_exposure_and_flags(page: Any) -> None:
    assert shown(page) == ["A-1", "A-2"]
    page.get_by_label("Filter by words").fill("NOTHING flag")
    assert shown(page) == ["A-2"]
    assert page.locator("#table-count").inner_text() == "1 of 2 lots"
    # The lot that is filtered away fades on the map.
    assert page.locator('.leaflet-lots-pane path[fill-opacity="0.75"]').count() == 1
    page.get_by_role("button", name="Show all").click()
    assert page.locator('.leaflet-lots-pane path[fill-opacity="0.75"]').count() == 0
    page.get_by_label("Exposure", exact=True).select_option("ponding")
    assert shown(page) == ["A-1"]
    page.get_by_label("flagged lots only").check()
    page.get_by_label("Exposure", exact=True).select_option("low")
    assert shown(page) == []
    assert page.locator("#table-count").inner_text() == "0 of 2 lots"
    page.get_by_role("button", name="Show all").click()
    assert shown(page) == ["A-1", "A-2"]
    assert page.locator("#table-count").inner_text() == ""


def test_a_filtered_table_still_sorts(page: Any) -> None:
    page.get_by_label("flagged lots only").check()
    page.locator("#lots-table .sort").nth(1).click()
    assert shown(page) == ["A-1"]
    page.get_by_role("button", name="Show all").click()
    page.locator("#lots-table .sort").nth(1).click()
    assert shown(page) == ["A-2", "A-1"]


def test_any_place_of_a_row_chooses_the_lot_on_the_map(page: Any) -> None:
    page.locator("#lots-table tbody tr").nth(1).locator("td.words").first.click()
    assert page.locator("#detail-title").inner_text() == "Lot A-2"
    assert page.locator("tr.chosen .go").inner_text() == "A-2"


def test_a_lot_chosen_elsewhere_shows_its_row_though_it_was_filtered_away(page: Any) -> None:
    page.get_by_label("Filter by words").fill("A-2")
    assert shown(page) == ["A-2"]
    # The findings list chooses as a click on the map does.
    page.locator(".side .go", has_text="A-1").first.click()
    page.wait_for_function("document.querySelector('tr.chosen') && !document.querySelector('tr.chosen').hidden")
    assert "A-1" in shown(page)


def test_the_columns_that_it_filters_by_are_there() -> None:
    labels = {column.label for column in SUMMARY_COLUMNS}
    assert {"Exposure", "Flags"} <= labels
