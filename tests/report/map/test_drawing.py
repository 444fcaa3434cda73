"""Improvements drawn on the map page, saved, and read by the command: in a real browser, with the network off."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from screening.commands.main import cli
from screening.inputs import read_improvements
from screening.report import build_map
from screening.report.map.drawing import form_of
from screening.schema.criteria import Criteria
from screening.schema.work_kinds import UNITS, all_kinds
from screening.site.chosen_rain import choose_rain
from screening.site.samples import demo_request, samples_dir
from screening.site.screen import Screening, screen_site
from screening.units import UnitSystem
from tests.report.browser.conftest import Open, browser, open_page, tabs  # noqa: F401  (fixtures)
from tests.report.conftest import make_result


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_form_offers_the_names_that_are_read(units: UnitSystem) -> None:
    form = {kind["kind"]: kind for kind in form_of(units)["kinds"]}
    assert set(form) == {*all_kinds(), "driveway"}
    for kind in all_kinds().values():
        offered = form[kind.kind]
        assert len(offered["numbers"]) == len(kind.numbers)
        for number, shown in zip(kind.numbers, offered["numbers"], strict=True):
            for name, _ in shown["names"]:
                low, high = shown["limits"][name]
                factor = UNITS[number.quantity][name.removeprefix(number.name)]
                assert (low * factor, high * factor) == pytest.approx((number.low, number.high))
        assert {choice[0] for choice in offered["choices"]} == set(kind.words) - {"to", "structure_id"}


def open_form(shown: Any) -> None:
    shown.wait_for_selector("[data-ready=yes]")
    shown.get_by_role("button", name="Draw improvements").click()


def choose(shown: Any, kind: str, **values: str) -> None:
    shown.locator("#draw-kind").select_option(kind)
    details = shown.locator(".draw-panel details")
    if details.count():
        details.locator("summary").click()
    for name, text in values.items():
        field = shown.locator(f"#draw-{name}")
        if field.evaluate("element => element.tagName") == "SELECT":
            field.select_option(text)
        else:
            field.fill(text)
    shown.get_by_role("button", name="Draw on the map").click()


def click_on_map(shown: Any, *places: tuple[float, float]) -> None:
    """Click at shares of the map's width and height."""
    box = shown.locator(".folium-map").bounding_box()
    for across, down in places:
        shown.mouse.click(box["x"] + across * box["width"], box["y"] + down * box["height"])
        shown.wait_for_timeout(60)


def save(shown: Any, path: Path) -> dict[str, Any]:
    with shown.expect_download() as waiting:
        shown.get_by_role("button", name=f"Save {path.name}").click()
    waiting.value.save_as(path)
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return document


@pytest.mark.browser
def test_what_is_drawn_is_saved_with_the_names_that_are_read(open_page: Open, tmp_path: Path) -> None:  # noqa: F811
    shown = open_page(build_map(make_result(), units="us"))
    open_form(shown)
    choose(shown, "trench_drain", width_ft="0.5", depth_ft="1", use="cars", has_discharge_permission="yes")
    click_on_map(shown, (0.30, 0.40), (0.42, 0.40))
    shown.get_by_role("button", name="Finish").click()
    click_on_map(shown, (0.30, 0.60))
    choose(shown, "berm", height_ft="1.5")
    click_on_map(shown, (0.20, 0.30), (0.30, 0.35), (0.40, 0.30))
    shown.get_by_role("button", name="Finish").click()
    choose(shown, "regrade", slope_pct="5", falls_toward_deg="180")
    click_on_map(shown, (0.20, 0.20), (0.30, 0.20), (0.30, 0.28), (0.20, 0.28))
    shown.get_by_role("button", name="Finish").click()
    document = save(shown, tmp_path / "improvements.geojson")
    first = document["features"][0]
    assert first["properties"] == {
        "id": "W-1",
        "kind": "trench_drain",
        "width_ft": 0.5,
        "depth_ft": 1,
        "use": "cars",
        "has_discharge_permission": "yes",
        "to": "W-2",
    }
    improvements = read_improvements(tmp_path / "improvements.geojson", crs="EPSG:26917")
    assert [improvement.kind for improvement in improvements.items] == ["trench_drain", "outlet", "berm", "regrade"]
    assert improvements.items[0].numbers["width_m"] == pytest.approx(0.1524)
    assert improvements.items[2].numbers["height_m"] == pytest.approx(0.4572)
    assert improvements.items[3].geometry.exterior.is_ccw
    assert not [note for note in improvements.notes if "not read" in note.text]


@pytest.mark.browser
def test_wrong_numbers_are_said_and_nothing_is_drawn(open_page: Open) -> None:  # noqa: F811
    shown = open_page(build_map(make_result()))
    open_form(shown)
    said = shown.locator(".draw-panel .say")
    choose(shown, "berm")
    assert said.inner_text() == "Height above the ground is needed."
    choose(shown, "berm", height_m="tall")
    assert "is no number" in said.inner_text()
    choose(shown, "berm", height_m="45")
    assert "0.01 to 10" in said.inner_text()
    choose(shown, "berm", height_m="0,5")
    click_on_map(shown, (0.2, 0.3))
    shown.get_by_role("button", name="Finish").click()
    assert said.inner_text() == "It needs 2 corners."
    shown.keyboard.press("Escape")
    assert shown.locator(".draw-panel li").count() == 0
    assert shown.get_by_role("button", name="Save improvements.geojson").is_disabled()
    shown.keyboard.press("Escape")
    assert shown.locator(".draw-panel").is_hidden()


@pytest.mark.browser
def test_it_is_drawn_without_a_pointer_and_on_a_phone(open_page: Open, tmp_path: Path) -> None:  # noqa: F811
    shown = open_page(build_map(make_result()), "phone")
    open_form(shown)
    choose(shown, "storage", volume_m3="2", shape="point")
    shown.get_by_role("button", name="Add the middle of the map").press("Enter")
    document = save(shown, tmp_path / "improvements.geojson")
    assert document["features"][0]["geometry"]["type"] == "Point"
    shown.get_by_role("button", name="Remove").click()
    assert shown.locator(".draw-panel li").count() == 0


@pytest.fixture(scope="module")
def one_lot() -> Screening:
    rain = choose_rain(rainfall=samples_dir() / "rainfall.csv", storm="10yr-24h", criteria=Criteria())
    request = demo_request()
    lots: Any = {name: getattr(request, name) for name in ("lots", "structures", "driveways", "roads", "drains")}
    return screen_site(type(request)(elevation=request.elevation, lot_ids=("TR-16",), **lots), rain=rain)


@pytest.mark.browser
@pytest.mark.slow
def test_drawn_saved_and_tried_out_by_the_command(open_page: Open, one_lot: Screening, tmp_path: Path) -> None:  # noqa: F811
    shown = open_page(one_lot.map_html())
    open_form(shown)
    shown.evaluate("document.querySelector('.draw-panel').style.maxHeight = '45%'")
    choose(shown, "berm", height_m="0.4")
    click_on_map(shown, (0.45, 0.30), (0.55, 0.32))
    shown.get_by_role("button", name="Finish").click()
    save(shown, tmp_path / "improvements.geojson")
    folder = samples_dir()
    arguments = ["site", "--elevation", folder / "elevation.tif", "--lot-id", "TR-16", "--rain-mm", "75"]
    for name in ("lots", "structures", "driveways", "roads", "drains"):
        arguments += [f"--{name}", folder / f"{name}.geojson"]
    arguments += ["--improvements", tmp_path / "improvements.geojson", "--brief", "none", "--out", tmp_path / "out"]
    result = CliRunner().invoke(cli, [str(each) for each in arguments])
    assert result.exit_code == 0, result.output
    assert "What the improvements change:" in result.output
    written = json.loads((tmp_path / "out" / "comparison.json").read_text(encoding="utf-8"))
    assert written["given"][0]["kind"] == "berm" and written["given"][0]["numbers"] == {"height_m": 0.4}
    assert written["improvements"][0]["fill_max_m"] == pytest.approx(0.4, abs=1e-4)
    after = json.loads((tmp_path / "out" / "after" / "result.json").read_text(encoding="utf-8"))
    assert after["provenance"]["improvements"] == ["berm W-1"]


@pytest.mark.browser
@pytest.mark.slow
def test_a_driveway_is_drawn_and_studied_by_the_command(open_page: Open, one_lot: Screening, tmp_path: Path) -> None:  # noqa: F811
    shown = open_page(one_lot.map_html())
    open_form(shown)
    shown.evaluate("document.querySelector('.draw-panel').style.maxHeight = '45%'")
    assert shown.get_by_role("button", name="Save driveways.geojson").is_hidden()
    choose(shown, "driveway")
    click_on_map(shown, (0.45, 0.25), (0.50, 0.25), (0.50, 0.45), (0.45, 0.45))
    shown.get_by_role("button", name="Finish").click()
    assert shown.get_by_role("button", name="Save improvements.geojson").is_disabled()
    document = save(shown, tmp_path / "driveways.geojson")
    assert [feature["properties"] for feature in document["features"]] == [{"driveway_id": "D-1"}]
    folder = samples_dir()
    arguments = ["driveway", "--elevation", folder / "elevation.tif", "--lot-id", "TR-16", "--rain-mm", "75"]
    for name in ("lots", "structures", "roads", "drains"):
        arguments += [f"--{name}", folder / f"{name}.geojson"]
    arguments += ["--driveways", tmp_path / "driveways.geojson", "--out", tmp_path / "out"]
    result = CliRunner().invoke(cli, [str(each) for each in arguments])
    assert result.exit_code == 0, result.output
    assert "Driveway D-1, lot TR-16" in result.output
