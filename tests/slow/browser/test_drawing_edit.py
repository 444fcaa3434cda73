"""Lines are snapped, measured, edited and taken back as they are drawn: in a real browser, with the network off."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import shapely
from pyproj import Transformer

from screening.report import build_map
from tests.report.conftest import CRS, NORTH_M, WEST_M, box, make_result
from tests.slow.browser.conftest import Open, violations
from tests.slow.browser.test_drawing import choose, click_on_map, open_form, save

pytestmark = pytest.mark.browser

TO_DEGREES = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
TO_METRES = Transformer.from_crs("EPSG:4326", CRS, always_xy=True)
HOUSE = box(10, 10, 20, 18)
"""Structure S-1 of the result by hand."""


def typed(east_m: float, north_m: float) -> str:
    """A place in metres from the lower left corner of the grid, as a reader would type it."""
    lon, lat = TO_DEGREES.transform(WEST_M + east_m, NORTH_M - 40 + north_m)
    return f"{lat:.9f}, {lon:.9f}"


def type_corners(shown: Any, *places: tuple[float, float]) -> None:
    for place in places:
        shown.locator(".draw-panel .typed input").fill(typed(*place))
        shown.locator(".draw-panel .typed button").click()


def said(shown: Any) -> str:
    return str(shown.locator(".draw-panel .say").inner_text())


def corners(shown: Any) -> Any:
    return shown.locator(".marker-icon:not(.marker-icon-middle):not(.cursor-marker)")


def middle_of(locator: Any) -> tuple[float, float]:
    found = locator.bounding_box()
    return found["x"] + found["width"] / 2, found["y"] + found["height"] / 2


def drag(shown: Any, locator: Any, right: float, down: float) -> None:
    x, y = middle_of(locator)
    shown.mouse.move(x, y)
    shown.mouse.down()
    shown.mouse.move(x + right / 2, y + down / 2, steps=3)
    shown.mouse.move(x + right, y + down, steps=3)
    shown.mouse.up()
    shown.wait_for_timeout(50)


def places_of(document: dict[str, Any], number: int = 0) -> list[tuple[float, float]]:
    """Corners of a saved line in metres from the lower left corner of the grid."""
    found = document["features"][number]["geometry"]["coordinates"]
    metres = (TO_METRES.transform(*place) for place in found)
    return [(x - WEST_M, y - (NORTH_M - 40)) for x, y in metres]


def start_berm(open_page: Open, size: str = "desktop") -> Any:
    shown = open_page(build_map(make_result()), size)
    open_form(shown)
    choose(shown, "berm", height_m="0.5")
    return shown


def test_the_length_and_the_fall_are_said_as_it_is_drawn(open_page: Open) -> None:
    shown = start_berm(open_page)
    # The ground falls 0.03 m a metre to the south, away from the bowl: 8 m make 0.24 m.
    type_corners(shown, (34, 34))
    assert said(shown) == "1 corner"
    type_corners(shown, (34, 26))
    assert said(shown) == "2 corners: 8.0 m long, ground falls 0.24 m"
    type_corners(shown, (40, 26))
    assert said(shown).startswith("3 corners: 14.0 m long, ground falls 0.36 m")
    area = shown.locator(".folium-map").bounding_box()
    shown.mouse.move(area["x"] + 0.5 * area["width"], area["y"] + 0.5 * area["height"])
    shown.mouse.move(area["x"] + 0.5 * area["width"] + 9, area["y"] + 0.5 * area["height"])
    assert " m long" in shown.locator(".drawn-size").inner_text()
    shown.get_by_role("button", name="Undo").click()
    assert said(shown) == "2 corners: 8.0 m long, ground falls 0.24 m"
    shown.get_by_role("button", name="Finish").click()
    assert "8.0 m long, ground falls 0.24 m" in shown.locator(".draw-panel li").inner_text()
    shown.wait_for_selector(".drawn-size", state="detached")


def test_a_corner_near_a_wall_lies_on_it(open_page: Open, tmp_path: Path) -> None:
    shown = start_berm(open_page)
    wall = shown.locator(".leaflet-structures-pane path").first.bounding_box()
    shown.mouse.click(wall["x"] - 7, wall["y"] + 0.4 * wall["height"])
    shown.wait_for_timeout(60)
    type_corners(shown, (8.9, 30))
    shown.get_by_role("button", name="Finish").click()
    near, exact = places_of(save(shown, tmp_path / "improvements.geojson"))
    m_per_px = 10 / wall["width"]
    assert 7 * m_per_px > 0.15  # else it would lie on the wall by chance
    house = shapely.affinity.translate(HOUSE, -WEST_M, -(NORTH_M - 40))
    assert house.exterior.distance(shapely.Point(near)) < 0.02
    # A typed place is taken as it is, wherever the wall.
    assert exact == pytest.approx((8.9, 30), abs=0.01)


def test_corners_are_dragged_added_and_taken_back_one_step_at_a_time(open_page: Open, tmp_path: Path) -> None:
    shown = start_berm(open_page)
    type_corners(shown, (30, 30), (36, 30))
    shown.get_by_role("button", name="Finish").click()
    shown.get_by_role("button", name="Edit W-1").click()
    assert corners(shown).count() == 2
    drag(shown, corners(shown).nth(1), 0, 60)
    assert "6.0 m long" not in said(shown)
    drag(shown, shown.locator(".marker-icon-middle").first, 40, -40)
    assert corners(shown).count() == 3
    assert shown.locator("#draw-corner option").count() == 3
    # The corner was added and dragged in one go: one step takes it back.
    shown.get_by_role("button", name="Undo").click()
    assert corners(shown).count() == 2
    assert "6.0 m long" not in said(shown)
    shown.get_by_role("button", name="Undo").click()
    assert said(shown).startswith("W-1: 6.0 m long")
    corners(shown).nth(1).click(button="right")
    shown.wait_for_timeout(50)
    assert corners(shown).count() == 2  # a line keeps two
    shown.get_by_role("button", name="Done").click()
    assert corners(shown).count() == 0
    saved = places_of(save(shown, tmp_path / "improvements.geojson"))
    assert [tuple(round(v, 2) for v in place) for place in saved] == [(30, 30), (36, 30)]
    # Undo goes on to the drawing itself.
    shown.keyboard.press("Control+z")
    assert shown.locator(".draw-panel li").count() == 0


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_lines_are_drawn_and_edited_by_keyboard_alone(open_page: Open, tmp_path: Path, size: str) -> None:
    shown = start_berm(open_page, size)
    shown.locator(".folium-map").focus()
    # Away from lot lines and walls, to which a corner would snap.
    for key in {"desktop": ("ArrowRight",), "phone": ("ArrowRight", "ArrowDown")}[size]:
        shown.keyboard.press(key)
        shown.wait_for_timeout(400)
    shown.keyboard.press("Enter")
    assert said(shown) == "1 corner"
    assert shown.locator(".cross").is_visible()
    shown.locator(".draw-panel .typed input").fill(typed(30, 36))
    shown.keyboard.press("Enter")
    shown.get_by_role("button", name="Finish").press("Enter")
    shown.get_by_role("button", name="Edit W-1").press("Enter")
    assert shown.evaluate("document.activeElement.id") == "draw-corner"
    shown.locator("#draw-corner").select_option("1")
    shown.locator(".draw-panel .typed input").fill(typed(24, 34))
    shown.keyboard.press("Enter")
    shown.get_by_role("button", name="Add one there after it").press("Enter")
    assert shown.locator("#draw-corner option").count() == 3
    shown.get_by_role("button", name="Remove it").press("Enter")
    shown.get_by_role("button", name="Done").press("Enter")
    middle, last = places_of(save(shown, tmp_path / "improvements.geojson"))
    # The corner that was added at the middle is there, and the typed one is gone.
    assert last == pytest.approx(middle, abs=0.2)
    assert shown.evaluate("document.querySelectorAll('.leaflet-drawn_corners-pane [tabindex=\"0\"]').length") == 0


def test_a_drain_can_be_taken_up_again_while_its_outlet_is_awaited(open_page: Open, tmp_path: Path) -> None:
    shown = open_page(build_map(make_result()))
    open_form(shown)
    choose(shown, "trench_drain")
    type_corners(shown, (30, 30), (36, 30))
    shown.get_by_role("button", name="Finish").click()
    shown.wait_for_timeout(50)
    assert "where its water comes out" in said(shown)
    shown.get_by_role("button", name="Undo").click()
    assert said(shown).startswith("2 corners")
    type_corners(shown, (40, 30))
    shown.get_by_role("button", name="Finish").click()
    shown.wait_for_timeout(50)
    type_corners(shown, (50, 6))
    shown.wait_for_timeout(50)
    document = save(shown, tmp_path / "improvements.geojson")
    assert [feature["properties"] for feature in document["features"]] == [
        {"id": "W-1", "kind": "trench_drain", "to": "W-2"},
        {"id": "W-2", "kind": "outlet"},
    ]
    assert len(places_of(document)) == 3
    shown.get_by_role("button", name="Undo").click()
    assert shown.locator(".draw-panel li").count() == 0


def test_drawing_over_a_lot_chooses_nothing_and_a_double_click_ends_it(open_page: Open) -> None:
    shown = start_berm(open_page)
    click_on_map(shown, (0.30, 0.40), (0.42, 0.40))
    assert shown.locator("#detail").is_hidden()
    area = shown.locator(".folium-map").bounding_box()
    scale = shown.locator(".leaflet-control-scale-line").inner_text()
    shown.mouse.dblclick(area["x"] + 0.42 * area["width"], area["y"] + 0.60 * area["height"])
    shown.wait_for_timeout(500)
    assert "Drawn." in said(shown)
    assert shown.locator(".leaflet-control-scale-line").inner_text() == scale
    assert shown.locator("#detail").is_hidden()


@pytest.mark.parametrize("size", ["desktop", "tablet", "phone"])
def test_the_panel_covers_no_corner_and_its_controls_are_large(open_page: Open, size: str) -> None:
    shown = start_berm(open_page, size)
    click_on_map(shown, (0.30, 0.20), (0.60, 0.30))
    shown.get_by_role("button", name="Finish").click()
    shown.get_by_role("button", name="Edit W-1").click()
    small = shown.evaluate(
        """() => [...document.querySelectorAll('.draw-panel button, .draw-panel select, .draw-panel input, .draw-open')]
          .map((element) => [element.textContent || element.id, element.getBoundingClientRect()])
          .filter(([, box]) => box.width > 0 && (box.height < 43.5 || box.width < 43.5)).map(([name]) => name)"""
    )
    assert small == []
    for number in range(2):
        x, y = middle_of(corners(shown).nth(number))
        assert shown.evaluate(
            "([x, y]) => document.elementFromPoint(x, y).classList.contains('marker-icon')", [x, y]
        ), number
        # A finger's width about a corner takes hold of it.
        assert shown.evaluate(
            "([x, y]) => document.elementFromPoint(x, y).classList.contains('marker-icon')", [x, y + 20]
        ), number
    assert shown.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_axe_finds_nothing_while_it_is_drawn_and_edited(browser: Any, axe_script: str, tmp_path: Path) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 800}, offline=True, bypass_csp=True)
    shown = context.new_page()
    (tmp_path / "page.html").write_text(build_map(make_result()), encoding="utf-8")
    shown.goto((tmp_path / "page.html").as_uri())
    open_form(shown)
    shown.evaluate(axe_script)
    assert violations(shown) == []
    choose(shown, "berm", height_m="0.5")
    click_on_map(shown, (0.30, 0.40), (0.42, 0.40))
    assert violations(shown) == []
    shown.get_by_role("button", name="Finish").click()
    shown.get_by_role("button", name="Edit W-1").click()
    assert violations(shown) == []
    context.close()
