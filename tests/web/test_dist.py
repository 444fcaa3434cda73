"""The committed bundles are what their sources build; what they are built from is tested, linted and typed."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from screening.report.map.offline import ASSETS
from screening.report.templates import DIST, bundle_text
from tests.web.conftest import WEB, run

BUNDLES = ("improvements", "lots", "map")


def test_each_page_kind_has_its_bundle_and_nothing_else_is_kept() -> None:
    assert sorted(path.name for path in DIST.iterdir()) == [f"{name}.js" for name in BUNDLES]


@pytest.mark.parametrize("name", BUNDLES)
def test_a_bundle_is_strict_plain_and_asks_for_nothing(name: str) -> None:
    text = bundle_text(name)
    assert text.startswith('"use strict";')
    assert text.isascii()
    assert not re.search(r"</(script|style)|://|\bfetch\(|XMLHttpRequest|WebSocket|innerHTML", text)


def test_the_lock_file_names_no_registry_and_every_tool_is_pinned() -> None:
    lock = json.loads((WEB / "package-lock.json").read_text(encoding="utf-8"))
    resolved = [entry["resolved"] for entry in lock["packages"].values() if "resolved" in entry]
    assert resolved == []
    assert all("integrity" in entry for path, entry in lock["packages"].items() if path)
    package = json.loads((WEB / "package.json").read_text(encoding="utf-8"))
    assert package["private"] is True and "dependencies" not in package
    assert [name for name, version in package["devDependencies"].items() if not re.fullmatch(r"[\d.]+", version)] == []


def test_no_source_file_is_long() -> None:
    lengths = {
        path.name: len(path.read_text(encoding="utf-8").splitlines())
        for path in WEB.glob("*/**/*.ts")
        if "node_modules" not in path.parts
    }
    assert len(lengths) > 30
    assert {name: length for name, length in lengths.items() if length > 300} == {}


def test_the_bundles_are_what_the_sources_build(node_modules: Path, tmp_path: Path) -> None:
    built = run("node", "build.mjs", "--out", str(tmp_path))
    assert built.returncode == 0, built.stderr
    for name in BUNDLES:
        fresh = (tmp_path / f"{name}.js").read_bytes()
        assert fresh == (DIST / f"{name}.js").read_bytes(), f"{name}.js is stale: npm run build in screening/web"


def test_the_kept_editor_is_the_one_whose_types_are_used(node_modules: Path) -> None:
    published = node_modules / "@geoman-io" / "leaflet-geoman-free" / "dist" / "leaflet-geoman.min.js"
    assert published.read_bytes() == (ASSETS / "geoman" / "leaflet-geoman.min.js").read_bytes()


@pytest.mark.parametrize("task", ["test", "lint", "typecheck"])
def test_the_sources_pass(node_modules: Path, task: str) -> None:
    done = run("npm", "run", "--silent", task)
    assert done.returncode == 0, (done.stdout + done.stderr)[-3000:]
