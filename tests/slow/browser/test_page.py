"""The page in a real browser, with the network off: it paints, it answers, and nothing covers anything."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from PIL import Image

from screening.report import build_map, map_iframe
from tests.report.conftest import HOSTILE_TEXTS, make_result
from tests.slow.browser.conftest import SIZES, Open

pytestmark = pytest.mark.browser

CONTROLS = (".leaflet-control-zoom-in", ".leaflet-control-zoom-out", ".compass", ".leaflet-control-scale-line")


def map_picture(page: Any) -> np.ndarray[Any, Any]:
    shot = page.locator(".folium-map").screenshot()
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=int)


def is_covered(page: Any, selector: str) -> bool:
    """True if something else lies over the middle of an element."""
    return bool(
        page.evaluate(
            """(selector) => {
              const element = document.querySelector(selector);
              const box = element.getBoundingClientRect();
              const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
              return !(top && (element.contains(top) || top.contains(element)));
            }""",
            selector,
        )
    )


def draw_count(page: Any) -> int:
    return int(
        page.evaluate("document.querySelectorAll('.folium-map path.leaflet-interactive, .folium-map img').length")
    )


def open_layers(page: Any) -> None:
    if not page.evaluate("document.getElementById('layers-box').open"):
        page.locator("#layers-box > summary").click()


def test_the_map_paints(page: Any) -> None:
    assert page.evaluate("document.querySelector('.leaflet-relief-pane img').naturalWidth") > 500
    picture = map_picture(page)
    assert len(np.unique(picture.reshape(-1, 3), axis=0)) > 500
    blue = (picture[..., 2] > picture[..., 0] + 60) & (picture[..., 2] > 90)
    brown = (picture[..., 0] > picture[..., 2] + 40) & (picture[..., 1] < 170)
    assert blue.sum() > 200
    assert brown.sum() > 50


@pytest.mark.parametrize("size", list(SIZES))
def test_nothing_scrolls_sideways_and_nothing_covers_the_controls(open_page: Open, sample_html: str, size: str) -> None:
    page = open_page(sample_html, size)
    page.wait_for_selector("[data-ready=yes]")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for selector in CONTROLS:
        page.locator(selector).scroll_into_view_if_needed()
        assert not is_covered(page, selector), selector
    page.locator(".findings .go").first.click()
    page.wait_for_timeout(500)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for selector in (".leaflet-control-zoom-in", ".leaflet-control-zoom-out", "#detail-close"):
        assert not is_covered(page, selector), selector


def test_controls_are_large_enough_to_touch(page: Any) -> None:
    open_layers(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, summary, .switch, .leaflet-bar a')]
          .map((element) => [element.className || element.tagName, element.getBoundingClientRect()])
          .filter(([, box]) => box.width > 0 && (box.height < 43.5 || box.width < 43.5))
          .map(([name, box]) => name + ' ' + box.width + 'x' + box.height)"""
    )
    assert small == []


def test_every_switch_changes_the_drawing(page: Any) -> None:
    open_layers(page)
    for box in page.locator("[data-switch]").all():
        key = box.get_attribute("data-switch")
        if key == "contributing_areas":
            continue
        before, was_on = draw_count(page), box.is_checked()
        box.click()
        changed = draw_count(page)
        assert (changed < before) if was_on else (changed > before), key
        box.click()
        assert box.is_checked() == was_on
        assert draw_count(page) == before, key


def test_the_contributing_area_shows_with_its_lot(page: Any) -> None:
    assert page.locator(".leaflet-contributing_areas-pane path").count() == 0
    page.locator(".findings .go").first.click()
    assert page.locator(".leaflet-contributing_areas-pane path").count() >= 1
    open_layers(page)
    page.locator("#detail-close").click()
    assert page.locator(".leaflet-contributing_areas-pane path").count() == 0


def test_choosing_on_the_map_opens_the_details(page: Any) -> None:
    assert page.locator("#detail").is_hidden()
    page.locator(".leaflet-structures-pane path").first.dispatch_event("click")
    assert page.locator("#detail-title").inner_text().startswith("Structure ")
    assert "Depth at the wall" in page.locator("#detail-body").inner_text()
    page.keyboard.press("Escape")
    assert page.locator("#detail").is_hidden()


def test_a_real_click_on_a_lot_opens_it(open_page: Open, sample_html: str) -> None:
    page = open_page(sample_html)
    page.wait_for_selector("[data-ready=yes]")
    page.locator(".findings .go").first.click()
    page.wait_for_timeout(600)
    chosen = page.locator("#detail-title").inner_text()
    page.locator("#detail-close").click()
    spots = page.evaluate(
        """() => [...document.querySelectorAll('.leaflet-lots-pane path.leaflet-interactive')].flatMap((path) => {
          const box = path.getBoundingClientRect();
          const shares = [0.1, 0.3, 0.5, 0.7, 0.9];
          return shares.flatMap((x) => shares.map((y) => [box.x + x * box.width, box.y + y * box.height]))
            .filter(([x, y]) => document.elementFromPoint(x, y) === path);
        })"""
    )
    assert spots
    page.mouse.click(*spots[len(spots) // 2])
    assert page.locator("#detail-title").inner_text().startswith("Lot ")
    assert chosen.startswith("Lot ")


def test_a_finding_zooms_and_opens_its_lot(page: Any) -> None:
    scale = page.locator(".leaflet-control-scale-line")
    before = scale.inner_text()
    button = page.locator(".findings .go").first
    name = button.locator("bdi").inner_text()
    button.click()
    page.wait_for_timeout(700)
    assert page.locator("#detail-title").inner_text() == f"Lot {name}"
    assert scale.inner_text() != before
    assert page.locator(".leaflet-chosen-pane path").count() == 2
    assert "On this lot" in page.locator("#detail-body").inner_text()
    box = page.locator(".leaflet-chosen-pane path").first.bounding_box()
    frame = page.locator(".map-box").bounding_box()
    assert box is not None
    assert frame is not None
    assert frame["x"] <= box["x"] + box["width"] / 2 <= frame["x"] + frame["width"]
    assert box["width"] > 60


def test_what_lies_on_a_lot_can_be_reached_from_it_by_keyboard(page: Any) -> None:
    page.locator(".findings .go").first.focus()
    page.keyboard.press("Enter")
    page.locator("#detail-body .near button").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("#detail-title").inner_text().startswith("Structure ")
    assert page.evaluate("document.activeElement.id") == "detail-title"
    assert "See also" in page.locator("#detail-body").inner_text()


def test_status_speaks(page: Any) -> None:
    assert page.locator("#status").get_attribute("aria-live") == "polite"
    page.locator(".findings .go").first.click()
    assert page.locator("#status").inner_text().endswith("details shown")


def test_the_table_sorts_both_ways(page: Any) -> None:
    column = page.locator("#lots-table thead .sort").nth(6)
    column.click()
    rising = read_column(page, 6)
    assert rising == sorted(rising)
    assert page.locator("#lots-table thead th").nth(6).get_attribute("aria-sort") == "ascending"
    column.focus()
    page.keyboard.press("Enter")
    assert read_column(page, 6) == sorted(rising, reverse=True)
    assert len(set(rising)) > 3


def read_column(page: Any, column: int) -> list[float]:
    cells = page.evaluate(
        f"[...document.querySelectorAll('#lots-table tbody tr')].map((row) => row.cells[{column}].dataset.key)"
    )
    return [float(text) for text in cells if text]


def test_a_lot_in_the_table_is_shown_on_the_map(page: Any) -> None:
    row = page.locator("#lots-table tbody .go").last
    row.click()
    page.wait_for_timeout(500)
    assert page.locator("#detail-title").inner_text() == f"Lot {row.inner_text()}"
    assert page.locator("tr.chosen").count() == 1
    assert page.evaluate("document.querySelector('.map-box').getBoundingClientRect().bottom > 100")


def test_the_legend_is_closed_on_a_phone_alone(page: Any) -> None:
    is_phone = page.viewport_size["width"] < 760
    assert page.evaluate("document.getElementById('layers-box').open") is not is_phone


@pytest.mark.parametrize("name", list(HOSTILE_TEXTS))
@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_hostile_text_does_nothing(open_page: Open, name: str, size: str) -> None:
    text = HOSTILE_TEXTS[name]
    page = open_page(build_map(make_result((text, f"{text} 2"), text, text), title="Safe title"), size)
    page.wait_for_selector("[data-ready=yes]")
    page.locator(".findings .go").first.click()
    page.locator(".leaflet-structures-pane path").first.hover(force=True)
    page.locator(".leaflet-structures-pane path").first.dispatch_event("click")
    page.wait_for_timeout(200)
    assert page.title() == "Safe title"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.evaluate("document.querySelectorAll('main script, main img:not(.leaflet-image-layer)').length") == 0


def test_a_base_map_that_does_not_load_is_said(open_page: Open) -> None:
    html = build_map(
        make_result(), basemap_url="https://tiles.example.org/{z}/{x}/{y}.png", basemap_attribution="Survey office"
    )
    page = open_page(html, is_quiet=False)
    page.wait_for_selector("[data-ready=yes]")
    assert "Survey office" not in page.locator(".map-box").inner_text()
    page.locator("[data-switch=basemap]").click()
    page.wait_for_selector("#status:has-text('did not load')")
    assert "Survey office" in page.locator(".leaflet-control-attribution").inner_text()


def test_the_page_works_inside_a_notebook_frame(open_page: Open) -> None:
    page = open_page(f"<!DOCTYPE html><title>cell</title>{map_iframe(build_map(make_result()))}")
    frame = page.frame_locator("iframe")
    frame.locator("[data-ready=yes]").wait_for()
    frame.locator(".findings .go").first.click()
    assert frame.locator("#detail-title").inner_text() == "Lot A-1"
