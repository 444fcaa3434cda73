"""The page for everybody: no violation that axe-core finds, no globals left about, one page on paper, no surprises."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from screening.models import BlockResult
from screening.report import build_map
from tests.report.conftest import HOSTILE_TEXTS, make_result
from tests.slow.browser.conftest import SIZES, Open, violations

pytestmark = pytest.mark.browser

# Leaflet's own, and the two switches of it that folium sets; the map's id names its element.
KNOWN_GLOBALS = {"L", "leaflet", "L_NO_TOUCH", "L_DISABLE_3D", "_leaflet_events"}


@pytest.mark.parametrize("size", list(SIZES))
def test_axe_finds_nothing(browser: Any, sample_html: str, axe_script: str, tmp_path: Path, size: str) -> None:
    width, height = SIZES[size]
    # The page's policy lets no script in from outside, so the context of the test lifts it.
    context = browser.new_context(viewport={"width": width, "height": height}, offline=True, bypass_csp=True)
    page = context.new_page()
    (tmp_path / "page.html").write_text(sample_html, encoding="utf-8")
    page.goto((tmp_path / "page.html").as_uri())
    page.wait_for_selector("[data-ready=yes]")
    page.evaluate(axe_script)
    assert violations(page) == []
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    page.locator(".findings .go").first.click()
    assert violations(page) == []
    for tool in ("down", "up", "profile", "measure"):
        page.locator(f"[data-tool={tool}]").click()
        page.get_by_role("button", name="Middle of the map", exact=True).click()
        page.wait_for_selector("#detail-body[data-places='1']")
        assert violations(page) == [], tool
    context.close()


def test_scripts_leave_no_globals(open_page: Open, sample_html: str) -> None:
    blank = set(open_page("<!DOCTYPE html><title>blank</title>").evaluate("Object.getOwnPropertyNames(window)"))
    page = open_page(sample_html)
    page.wait_for_selector("[data-ready=yes]")
    assert set(page.evaluate("Object.getOwnPropertyNames(window)")) - blank <= KNOWN_GLOBALS


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("is_chosen", [False, True], ids=["findings", "lot"])
def test_it_prints_to_one_page(open_page: Open, sample_html: str, paper: str, is_chosen: bool) -> None:
    page = open_page(sample_html)
    page.wait_for_selector("[data-ready=yes]")
    page.locator("[name=units][value=us]").check()
    if is_chosen:
        page.locator(".findings .go").nth(1).click()
        page.wait_for_timeout(600)
    printed = page.pdf(format=paper, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


def test_on_paper_the_findings_and_the_legend_are_whole(open_page: Open, sample_html: str) -> None:
    page = open_page(sample_html)
    page.wait_for_selector("[data-ready=yes]")
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 718, "height": 900})
    for part in (".side", ".layers", ".map-box"):
        assert page.evaluate(
            f"(() => {{ const p = document.querySelector('{part}'); return p.scrollHeight <= p.clientHeight + 2; }})()"
        ), part
    assert page.locator(".tools").is_hidden()
    assert page.locator("#lots-table").is_hidden()
    assert page.locator(".paper").is_visible()
    page.emulate_media(media="screen")
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.locator(".tools").is_visible()


@pytest.mark.parametrize("size", list(SIZES))
def test_every_control_can_be_used(open_page: Open, sample_html: str, size: str) -> None:
    """Each control once, whatever it does; the fixture fails on any error or request."""
    page = open_page(sample_html, size)
    page.wait_for_selector("[data-ready=yes]")
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    page.evaluate("window.print = () => { document.body.dataset.printed = 'yes'; }")
    for selector in ("[data-switch]", "[name=units]", "[name=storm]"):
        for box in page.locator(selector).all():
            box.click()
    for selector in (".leaflet-control-zoom-in", ".leaflet-control-zoom-out", "#print"):
        page.locator(selector).click()
    for number in range(page.locator("[data-tool]").count()):
        page.locator("[data-tool]").nth(number).click()
        page.get_by_role("button", name="Middle of the map", exact=True).click()
        page.wait_for_selector("#detail-body[data-places='1']")
        page.locator("text=Start again").click()
    page.locator("#detail-close").click()
    for button in page.locator(".sort").all():
        button.click()
    for selector in (".findings .go", "#lots-table .go", ".checks .go"):
        page.locator(selector).first.click()
        assert page.locator("#detail").is_visible()
        page.locator("#detail-close").click()
    assert page.evaluate("document.body.dataset.printed") == "yes"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def all_hostile() -> BlockResult:
    """Every hostile text at once, in every field that a file could bring."""
    text = " ".join(HOSTILE_TEXTS.values())
    return make_result((text, f"2 {text}"), text, text)


@pytest.mark.parametrize("size", list(SIZES))
def test_hostile_text_in_every_field_stays_text_in_every_panel(open_page: Open, size: str) -> None:
    page = open_page(build_map(all_hostile(), title="Safe title"), size)
    page.wait_for_selector("[data-ready=yes]")
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    for box in page.locator("[data-switch]").all():
        box.check()
    layers = page.evaluate(
        "JSON.parse(document.getElementById('screening-data').textContent).layers.map((layer) => layer.key)"
    )
    for key in layers:
        shapes = page.locator(f".leaflet-{key}-pane path.leaflet-interactive")
        if shapes.count():
            shapes.first.dispatch_event("mouseover")
            shapes.first.dispatch_event("click")
            assert page.locator("#detail").is_visible(), key
    page.locator("[name=units][value=us]").check()
    page.locator("[data-tool=down]").click()
    page.get_by_role("button", name="Middle of the map", exact=True).click()
    page.wait_for_selector("#detail-body[data-places='1']")
    assert page.title() == "Safe title"
    assert page.evaluate("document.querySelectorAll('main script, main img:not(.leaflet-image-layer)').length") == 0
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
