from __future__ import annotations

import json
import re
from html.parser import HTMLParser

import pytest

from screening.errors import InputError
from screening.models import BlockResult
from screening.report import CAUTIONS, TAGLINE, build_map
from screening.report.findings import clip_text
from screening.report.map.offline import asset_text
from screening.units import UnitSystem

TILES = "https://{s}.tiles.example.org/{z}/{x}/{y}.png"
# What may carry an address without asking for it: name spaces, and what the kept libraries say of themselves.
INERT_ADDRESSES = {
    "http://www.w3.org/2000/svg",
    "http://www.w3.org/1999/xlink",
    "https://leafletjs.com",
    "http://geoman.io",
    "https://geoman.io",
    "https://github.com/geoman-io/leaflet-geoman/issues",
}


class Page(HTMLParser):
    """Elements, attributes and text of a page as a browser's parser sees them."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.starts: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self._open = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.starts.append((tag, dict(attrs)))
        self._open = tag

    def handle_data(self, data: str) -> None:
        self.texts.setdefault(self._open, []).append(data)

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.starts if name == tag]


def payload_of(html: str) -> dict[str, object]:
    (text,) = re.findall(r'<script type="application/json" id="screening-data">(.*?)</script>', html, flags=re.S)
    return json.loads(text)


def policy_of(html: str) -> str:
    metas = {meta.get("http-equiv"): meta.get("content") for meta in Page(html).named("meta")}
    return str(metas["Content-Security-Policy"])


def test_two_builds_are_the_same_to_the_byte(tiny_result: BlockResult) -> None:
    assert build_map(tiny_result) == build_map(tiny_result)


def test_no_address_leads_out(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result)
    assert set(re.findall(r"https?://[\w.-]+(?:/[\w./-]*)?", html)) <= INERT_ADDRESSES
    ours = html
    for kept in ("leaflet/leaflet.js", "leaflet/leaflet.css", "geoman/leaflet-geoman.min.js"):
        ours = ours.replace(asset_text(kept), "")
    assert "://" not in ours
    for tag, attributes in Page(html).starts:
        for name in ("src", "href", "action", "data", "poster", "srcset"):
            value = attributes.get(name)
            assert value is None or value.startswith(("#", "data:")), (tag, name, value)


def test_the_policy_forbids_all_loading(tiny_result: BlockResult) -> None:
    assert policy_of(build_map(tiny_result)) == (
        "default-src 'none'; connect-src 'none'; img-src data: blob:; style-src 'unsafe-inline'; "
        "script-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
    )


def test_head_and_landmarks(tiny_result: BlockResult) -> None:
    page = Page(build_map(tiny_result, title="Two lots"))
    assert [tag for tag, _ in page.starts[:3]] == ["html", "head", "title"]
    assert page.named("html") == [{"lang": "en"}]
    viewports = [meta["content"] for meta in page.named("meta") if meta.get("name") == "viewport"]
    assert viewports == ["width=device-width, initial-scale=1"]
    assert len(page.named("main")) == len(page.named("h1")) == 1
    ids = [attributes["id"] for _, attributes in page.starts if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert "map_2" in ids


def test_dropped_libraries_are_absent(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result).lower()
    for name in ("bootstrap", "jquery", "font-awesome", "glyphicon", "awesome-marker"):
        assert name not in html


def test_cautions_notes_and_data_are_on_the_page(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result, provenance={"date": "2026-01-02", "files": {"elevation": "e.tif"}})
    text = " ".join("".join(parts) for parts in Page(html).texts.values())
    assert html.count(TAGLINE) >= 3
    for caution in CAUTIONS:
        assert caution in text
    for words in ("vertical unit m as stated", "2026-01-02", "files: elevation", "e.tif", "108 mm", "EPSG:26917"):
        assert words in text


def test_each_layer_has_a_switch(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result)
    switches = [box["data-switch"] for box in Page(html).named("input") if "data-switch" in box]
    keys = [layer["key"] for layer in payload_of(html)["layers"]]  # type: ignore[attr-defined]
    assert sorted(switches) == sorted([*keys, "storm_water", "relief"])


def test_the_findings_lead_to_places_that_exist(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result)
    layers = {layer["key"]: layer["features"] for layer in payload_of(html)["layers"]}  # type: ignore[attr-defined]
    buttons = [button for button in Page(html).named("button") if "data-layer" in button]
    assert len(buttons) >= 4
    for button in buttons:
        assert int(str(button["data-index"])) < len(layers[button["data-layer"]])


def test_verdicts_are_shown_with_their_subject_and_their_lot(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result)
    payload = payload_of(html)
    layers = {layer["key"]: layer["features"] for layer in payload["layers"]}  # type: ignore[attr-defined]
    # The words of the verdicts stand once, in the list of all checks, in the order of their numbers.
    told = re.findall(r'<li><span class="mark [a-z-]+">([^<]+)</span>', html)
    assert told == ["flagged", "not assessed", "not flagged", "none found"]
    verdicts = payload["verdicts"]
    assert [verdict["is_passed"] for verdict in verdicts] == [False, False, True, True]  # type: ignore[attr-defined]
    assert verdicts[0]["at"] == ["structures", 0]  # type: ignore[index]
    assert layers["structures"][0]["d"] == [0]
    assert layers["lots"][0]["d"] == [0, 2]
    assert layers["lots"][1]["d"] == [1, 3]


def test_hostile_text_stays_text(hostile_result: BlockResult, hostile_text: str) -> None:
    html = build_map(hostile_result, title=hostile_text, provenance={hostile_text: hostile_text})
    page = Page(html)
    assert len(page.named("script")) == len(Page(build_map_of_plain_text()).named("script"))
    assert not page.named("img")
    assert not [name for _, attributes in page.starts for name in attributes if name.startswith("on")]
    lots = next(layer for layer in payload_of(html)["layers"] if layer["key"] == "lots")  # type: ignore[attr-defined]
    assert lots["features"][0]["id"] == clip_text(hostile_text, 60)
    assert html.count("<title>") == 1


def build_map_of_plain_text() -> str:
    from tests.report.conftest import make_result

    return build_map(make_result())


def test_long_text_is_cut_on_the_page() -> None:
    from tests.report.conftest import make_result

    html = build_map(make_result(text="y" * 10_000))
    assert "y" * 601 not in html
    assert "y" * 150 in html


@pytest.mark.parametrize(("units", "own", "other"), [("us", "sq ft", "m²"), ("metric", "m²", "sq ft")])
def test_both_unit_systems_are_told_and_one_is_shown(
    tiny_result: BlockResult, units: UnitSystem, own: str, other: str
) -> None:
    page = Page(build_map(tiny_result, units=units))
    shown = " ".join(text for tag, parts in page.texts.items() if tag not in ("script", "style") for text in parts)
    assert own in shown
    assert other not in shown
    told = [attributes for tag, attributes in page.starts if tag == "span" and "data-us" in attributes]
    assert any("sq ft" in str(pair["data-us"]) and "m²" in str(pair["data-metric"]) for pair in told)


def test_a_base_map_opens_its_host_alone(tiny_result: BlockResult) -> None:
    html = build_map(tiny_result, basemap_url=TILES, basemap_attribution="A <b>survey</b> office")
    assert "img-src data: blob: https://*.tiles.example.org; style-src" in policy_of(html)
    boxes = [box for box in Page(html).named("input") if box.get("data-switch") == "basemap"]
    assert len(boxes) == 1
    assert "checked" not in boxes[0]
    assert "<b>survey" not in html


@pytest.mark.parametrize(
    "url",
    [
        "ftp://example.org/{z}/{x}/{y}",
        "https://example.org/{z}/{x}",
        "/{z}/{x}/{y}",
        "javascript://example.org/{z}/{x}/{y}",
        "https://example.org; script-src */{z}/{x}/{y}",
        "https://user@example.org/{z}/{x}/{y}",
        "https://*/{z}/{x}/{y}",
        "https://{s}/{z}/{x}/{y}",
    ],
)
def test_a_base_map_that_cannot_be_used_is_refused(tiny_result: BlockResult, url: str) -> None:
    with pytest.raises(InputError, match="base map address"):
        build_map(tiny_result, basemap_url=url, basemap_attribution="office")


def test_a_base_map_needs_an_attribution(tiny_result: BlockResult) -> None:
    with pytest.raises(InputError, match="attribution"):
        build_map(tiny_result, basemap_url=TILES)


def test_the_sample_site_is_light(sample_result: BlockResult) -> None:
    assert len(build_map(sample_result).encode("utf-8")) < 3_000_000
