from __future__ import annotations

import hashlib
import json
import re

import pytest

from screening.errors import OutputError
from screening.report.map.drawing import DrawScript
from screening.report.map.offline import (
    ASSETS,
    OfflineFigure,
    PageScript,
    asset_text,
    json_for_script,
    new_map,
)

# npm package leaflet 1.9.4, folder dist.
LEAFLET_SHA256 = {
    "leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
    "LICENSE": "53e8dc25862014e4324741ca18fbe3611e11d42ef69f59f86ea8c5389647d4cb",
    "images/layers.png": "1dbbe9d028e292f36fcba8f8b3a28d5e8932754fc2215b9ac69e4cdecf5107c6",
    "images/layers-2x.png": "066daca850d8ffbef007af00b06eac0015728dee279c51f3cb6c716df7c42edf",
    "images/marker-icon.png": "574c3a5cca85f4114085b6841596d62f00d7c892c7b03f28cbfa301deb1dc437",
}


# npm package @geoman-io/leaflet-geoman-free 2.20.2, folder dist and licence.
GEOMAN_SHA256 = {
    "leaflet-geoman.min.js": "20d0ba38069526be959287b8ae13234f660f92db28de86782ebcad028dda9ed3",
    "LICENSE": "b8f81bc43788014a8be76982feb763d554b5b5218a1797fe4bedffd4df22e067",
}
KEPT_SHA256 = {"leaflet": LEAFLET_SHA256, "geoman": GEOMAN_SHA256}


@pytest.mark.parametrize(("folder", "name"), [(folder, name) for folder, sums in KEPT_SHA256.items() for name in sums])
def test_libraries_are_kept_as_published(folder: str, name: str) -> None:
    expected = KEPT_SHA256[folder][name]
    assert hashlib.sha256((ASSETS / folder / name).read_bytes()).hexdigest() == expected
    readme = (ASSETS / folder / "README.md").read_text(encoding="utf-8")
    assert f"| `{name}` | `{expected}` |" in readme


@pytest.mark.parametrize("folder", KEPT_SHA256)
def test_nothing_but_the_named_files_is_kept_with_a_library(folder: str) -> None:
    kept = {str(p.relative_to(ASSETS / folder)) for p in (ASSETS / folder).rglob("*") if p.is_file()}
    assert kept == {*KEPT_SHA256[folder], "README.md"}


@pytest.mark.parametrize("path", ["leaflet/leaflet.js", "geoman/leaflet-geoman.min.js"])
def test_a_library_comes_with_its_licence(path: str) -> None:
    licence = (ASSETS / path).with_name("LICENSE").read_text(encoding="utf-8").strip()
    assert asset_text(path).startswith(f"/*!\n{licence}\n*/")


def test_style_images_become_data_addresses() -> None:
    text = asset_text("leaflet/leaflet.css")
    assert "url(images/" not in text
    assert text.count("url(data:image/png;base64,") == 3


def test_source_map_link_is_left_out() -> None:
    assert "sourceMappingURL" not in asset_text("leaflet/leaflet.js")


def test_an_unknown_script_is_refused() -> None:
    figure = OfflineFigure("title", {})
    view = new_map(figure, center=(1.0, 2.0))
    view.add_js_link("surprise", "https://example.org/surprise.js")
    try:
        with pytest.raises(OutputError, match="surprise"):
            figure.render()
    finally:
        type(view).default_js[:] = [link for link in type(view).default_js if link[0] != "surprise"]


def test_the_page_script_asks_for_nothing_unknown() -> None:
    names = [name for name, _ in (*PageScript.default_js, *PageScript.default_css)]
    assert names == ["screening_page_css", "screening_filter_css"]
    names = [name for name, _ in (*DrawScript.default_js, *DrawScript.default_css)]
    assert names == ["leaflet_geoman", "screening_draw_css"]


@pytest.mark.parametrize("text", ["</script>", "<!--", "a & b", "\u2028\u2029", 'quote " and \\ and \n'])
def test_json_is_inert_in_a_script_and_reads_back(text: str) -> None:
    written = json_for_script({"text": text})
    assert not re.search("[<>&\u2028\u2029\n]", written)
    assert json.loads(written) == {"text": text}


def test_json_refuses_nan() -> None:
    with pytest.raises(ValueError, match="JSON"):
        json_for_script(float("nan"))
