"""The tools of the map give what the toolkit itself gives, by pointer and by keyboard, in both units."""

from __future__ import annotations

import json
import re
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
from pyproj import Transformer

from screening.flow.places import Cell
from screening.flow.queries import catchment_of, flow_path_from
from screening.models import BlockResult
from screening.units import M_PER_FT
from tests.slow.browser.conftest import Open

pytestmark = pytest.mark.browser


def degrees_of(result: BlockResult, row: float, col: float) -> str:
    """Latitude and longitude of a place in rows and columns, as a reader would type them."""
    grid = result.block.grid
    to_degrees = Transformer.from_crs(grid.crs, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(grid.west_m + col * grid.cell_m, grid.north_m - row * grid.cell_m)
    return f"{lat:.8f}, {lon:.8f}"


def take(page: Any, tool: str, *places: str) -> None:
    """Start a tool and type places; wait for what it says of the last."""
    page.locator(f"[data-tool={tool}]").click()
    for number, place in enumerate(places, start=1):
        page.locator(".typed input").fill(place)
        page.locator(".typed button").click()
        page.wait_for_selector(f"#detail-body[data-places='{number}']")


def numbers_of(page: Any) -> dict[str, str]:
    rows = page.evaluate(
        "[...document.querySelectorAll('#detail-body dt')].map((dt) => [dt.textContent, dt.nextSibling.textContent])"
    )
    return dict(rows)


def value_of(text: str) -> float:
    return float(re.findall(r"-?[\d,]+\.?\d*", text)[0].replace(",", ""))


def some_cells(result: BlockResult) -> list[tuple[int, int]]:
    """Cells with much, some and hardly any ground above them."""
    area = result.flow.contributing_area_m2.ravel()
    order = np.argsort(area, kind="stable")
    picked = order[[order.size // 2, -order.size // 100, -order.size // 1000, -1]]
    return [divmod(int(cell), result.block.grid.n_cols) for cell in picked]


def test_what_drains_to_a_place_is_its_catchment(page: Any, sample_result: BlockResult) -> None:
    for row, col in some_cells(sample_result):
        found = catchment_of(sample_result.flow, Cell(row=row, col=col))
        take(page, "up", degrees_of(sample_result, row + 0.5, col + 0.5))
        told = numbers_of(page)
        assert value_of(told["Cells of it on the map"]) == found.is_upstream.sum()
        assert value_of(told["Ground that drains here"]) == pytest.approx(found.area_m2, abs=0.5)
        assert told["Ground that drains here"].startswith("at least") is found.edge_contaminated
        assert page.locator(".leaflet-traced_area-pane path").count() == 1
        page.locator("[data-tool=up]").click()
    assert page.locator(".leaflet-traced_area-pane path").count() == 0


def test_a_channel_missed_by_two_cells_is_offered(page: Any, sample_result: BlockResult) -> None:
    area = sample_result.flow.contributing_area_m2
    row, col = some_cells(sample_result)[2]
    beside = min(((row + r, col + c) for r in range(-2, 3) for c in range(-2, 3)), key=lambda at: area[at])
    take(page, "up", degrees_of(sample_result, beside[0] + 0.5, beside[1] + 0.5))
    near = [(beside[0] + r, beside[1] + c) for r in range(-3, 4) for c in range(-3, 4) if r * r + c * c <= 9]
    most = max(area[at] for at in near)
    offer = page.locator("text=Move to the strongest flow")
    assert value_of(offer.inner_text().split(": ")[1]) == pytest.approx(most, abs=0.5)
    offer.click()
    page.wait_for_selector("text=Move to the strongest flow", state="detached")
    assert value_of(numbers_of(page)["Ground that drains here"]) == pytest.approx(most, abs=0.5)


def test_where_water_goes_is_its_flow_path(page: Any, sample_result: BlockResult) -> None:
    for row, col in some_cells(sample_result)[:3]:
        (path,) = flow_path_from(sample_result.flow, Cell(row=row, col=col))
        take(page, "down", degrees_of(sample_result, row + 0.5, col + 0.5))
        told = numbers_of(page)
        assert value_of(told["Length of the flow path"]) == pytest.approx(path.line.length, abs=0.051)
        assert (told["Its end"] == "leaves the ground that was screened") is (path.reason == "window edge")
        ground = sample_result.surface.elev_m.ravel()
        fall = float(ground[path.cells[0]]) - float(ground[path.cells[-1]])
        assert value_of(told["Fall from start to end"]) == pytest.approx(fall, abs=0.011)
        page.locator("[data-tool=down]").click()


def test_the_profile_reads_the_ground_and_the_water_on_it(page: Any, sample_result: BlockResult) -> None:
    depth = sample_result.ponding.water_depth_m
    row, col = np.unravel_index(int(depth.argmax()), depth.shape)
    ends = [degrees_of(sample_result, row + 0.5, col + 0.5 + step) for step in (-30, 30)]
    take(page, "profile", *ends)
    told = numbers_of(page)
    elev = sample_result.surface.elev_m[row, col - 30 : col + 31]
    assert value_of(told["Length"]) == pytest.approx(60.0, abs=0.06)
    assert value_of(told["Lowest ground"]) == pytest.approx(float(elev.min()), abs=0.011)
    assert value_of(told["Highest ground"]) == pytest.approx(float(elev.max()), abs=0.011)
    assert value_of(told["Fall from start to end"]) == pytest.approx(float(elev[0] - elev[-1]), abs=0.011)
    assert value_of(told["Deepest water on it"]) == pytest.approx(float(depth.max()), abs=0.006)
    assert page.locator(".profile .standing").count() >= 1
    page.locator(".slide").focus()
    before = page.locator(".reading").inner_text()
    page.keyboard.press("ArrowRight")
    assert page.locator(".reading").inner_text() != before
    assert page.locator(".slide").get_attribute("aria-valuetext") == page.locator(".reading").inner_text()


def test_measuring_gives_lengths_and_areas_in_both_units(page: Any, sample_result: BlockResult) -> None:
    take(page, "measure", *(degrees_of(sample_result, row, col) for row, col in ((100, 100), (100, 140), (130, 140))))
    told = numbers_of(page)
    assert value_of(told["Length"]) == pytest.approx(70.0, abs=0.06)
    assert value_of(told["Last part"]) == pytest.approx(30.0, abs=0.06)
    assert value_of(told["Area inside, last joined to first"]) == pytest.approx(600.0, abs=1.0)
    assert value_of(told["Length round it"]) == pytest.approx(120.0, abs=0.06)
    page.locator("[name=units][value=us]").check()
    page.wait_for_selector("#detail-body dd:has-text('ft')")
    assert value_of(numbers_of(page)["Length"]) == pytest.approx(70.0 / M_PER_FT, abs=0.2)
    page.locator("text=Undo").click()
    page.wait_for_selector("#detail-body[data-places='2']")
    assert value_of(numbers_of(page)["Length"]) == pytest.approx(40.0 / M_PER_FT, abs=0.2)


def test_a_catchment_is_saved_as_geojson_of_its_area(
    open_page: Open, sample_html: str, sample_result: BlockResult, tmp_path: Any
) -> None:
    page = open_page(sample_html)
    page.wait_for_selector("[data-ready=yes]")
    row, col = some_cells(sample_result)[2]
    found = catchment_of(sample_result.flow, Cell(row=row, col=col))
    take(page, "up", degrees_of(sample_result, row + 0.5, col + 0.5))
    with page.expect_download() as started:
        page.locator(".save").click()
    started.value.save_as(tmp_path / "area.geojson")
    saved = gpd.read_file(tmp_path / "area.geojson").to_crs(sample_result.block.grid.crs)
    assert saved.geometry.is_valid.all()
    assert saved.geometry.area.sum() == pytest.approx(found.outline.area, rel=2e-3)
    assert saved.geometry.symmetric_difference(found.outline).area.sum() < 0.01 * found.outline.area
    assert json.loads((tmp_path / "area.geojson").read_text())["features"][0]["properties"]["area_m2"] > 0


def test_a_tool_works_by_keyboard_alone(page: Any) -> None:
    page.locator("[data-tool=down]").focus()
    page.keyboard.press("Enter")
    assert page.locator("[data-tool=down]").get_attribute("aria-pressed") == "true"
    page.locator(".folium-map").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".profile")
    assert "Length of the flow path" in numbers_of(page)
    page.keyboard.press("Escape")
    assert page.locator("#detail").is_hidden()
    assert page.locator("[data-tool=down]").get_attribute("aria-pressed") == "false"
    assert page.locator(".leaflet-traced_line-pane path").count() == 0


def test_a_click_goes_to_the_tool_and_not_to_what_lies_there(page: Any) -> None:
    page.locator("[data-tool=up]").click()
    page.locator(".folium-map").scroll_into_view_if_needed()
    box = page.locator(".folium-map").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + min(box["height"] / 2, 250))
    page.wait_for_selector("#detail-body dl")
    assert page.locator("#detail-title").inner_text() == "What drains here"


def test_a_place_off_the_ground_or_no_place_is_said(page: Any) -> None:
    page.locator("[data-tool=up]").click()
    page.locator(".typed input").fill("north")
    page.locator(".typed button").click()
    assert "latitude and longitude" in page.locator("#status").inner_text()
    page.locator(".typed input").fill("0, 0")
    page.locator(".typed button").click()
    page.wait_for_selector("#detail-body .lead")
    assert "outside the ground" in page.locator("#detail-body").inner_text()


def test_another_storm_changes_the_water_and_the_numbers(page: Any, sample_result: BlockResult) -> None:
    page.evaluate("document.getElementById('layers-box').open = true")
    picture = page.locator(".leaflet-storm_water-pane img")
    page.locator("[data-switch=storm_water]").check()
    first = picture.get_attribute("src")
    wet = int(sample_result.structures["pond_depth_storm_m"].to_numpy().argmax())
    lot = page.locator(".leaflet-structures-pane path").nth(wet)
    lot.dispatch_event("click")
    shown = [numbers_of(page)["Depth at the wall, storm"]]
    depths = [sample_result.structures["pond_depth_storm_m"].iloc[wet]]
    for number, further in enumerate(sample_result.further_storms, start=1):
        page.locator("[name=storm]").nth(number).check()
        assert picture.get_attribute("src") != first
        shown.append(numbers_of(page)["Depth at the wall, storm"])
        depths.append(further.structures["pond_depth_storm_m"].iloc[wet])
        assert further.storm.rain.label in page.locator("#storm-shown").inner_text()
    assert [value_of(text) for text in shown] == pytest.approx(depths, abs=0.006)
    page.locator("[name=storm]").first.check()
    assert picture.get_attribute("src") == first
    assert page.locator("#storm-shown").is_hidden()


def test_units_are_switched_everywhere_and_back(page: Any) -> None:
    # Published sources and cautions keep the units they were written in.
    parts = ["header.top", ".findings", ".layers", "#lots-table"]
    words = f"{parts}.map((part) => document.querySelector(part).innerText).join()"
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    page.locator(".findings .go").first.click()
    before = page.evaluate(words)
    assert re.search(r"\d m²", before)
    assert not re.search(r"\d (sq ft|cu ft|ft|in)\b", before)
    page.locator("[name=units][value=us]").check()
    changed = page.evaluate(words)
    assert re.search(r"\d sq ft", changed)
    assert not re.search(r"\d (m²|m³|mm|m)(?![\w/])", changed)
    assert page.locator(".leaflet-control-scale-line").inner_text().endswith("ft")
    page.locator("[name=units][value=metric]").check()
    assert page.evaluate(words) == before
