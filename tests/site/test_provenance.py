"""Where numbers come from: hashes of inputs, the trace of a result, and the same bytes from the same inputs."""

from __future__ import annotations

import csv
import hashlib
import json
import re
from pathlib import Path

import geopandas as gpd
import pytest

from screening.inputs import hashes
from screening.inputs.hashes import content_hash
from screening.report.outputs import FILE_NAMES
from tests.awkward.ground import HOUSE, LOT, write, write_clean
from tests.awkward.judging import run

# These keep the time of their writing.
DATED = (".gpkg", ".xlsx", ".parquet", ".pdf")
HOSTILE = "=cmd|' /C calc'!A1 <script>alert(1)</script> ../../etc \x1b[31m\x1b]8;;x\x07\u202e\x00\r\n"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, str | None], Path]:
    """Options of a run, and the folder that it wrote."""
    folder = tmp_path_factory.mktemp("provenance")
    options: dict[str, str | None] = {**write_clean(folder / "plain"), "rain-mm": "75", "realisations": "2"}
    assert run("site", {**options, "out": str(folder / "out")}).exit_code == 0
    return options, folder / "out"


def test_the_same_inputs_give_the_same_bytes(written: tuple[dict[str, str | None], Path], tmp_path: Path) -> None:
    options, out = written
    assert run("site", {**options, "out": str(tmp_path)}).exit_code == 0
    names = sorted(path.name for path in out.iterdir() if path.suffix not in DATED)
    assert {"summary.csv", "result.json", "map.html"} <= set(names)
    differing = [name for name in names if (out / name).read_bytes() != (tmp_path / name).read_bytes()]
    assert differing == []


def test_a_result_says_what_it_rests_on(written: tuple[dict[str, str | None], Path]) -> None:
    options, out = written
    document = json.loads((out / "result.json").read_text())
    found = document["provenance"]
    whole = Path(str(options["elevation"])).read_bytes()
    assert found["sha256"]["elevation"] == hashlib.sha256(whole).hexdigest()
    assert set(found["sha256"]) == set(found["files"]) == {"elevation", "lots", "structures"}
    assert found["decisions"]["vertical_unit"] == "m"
    assert found["decisions"]["crs_screened_in"] == "NAD83 / UTM zone 17N (EPSG:26917)"
    assert (document["criteria"]["n_realisations"], document["criteria"]["error_seed"]) == (2, 0)
    assert document["versions"]["numpy"]


def test_inspect_prints_how_a_number_came_to_be(written: tuple[dict[str, str | None], Path]) -> None:
    from click.testing import CliRunner

    from screening.commands.main import cli

    _, out = written
    row = json.loads((out / "result.json").read_text())["summary"][0]
    result = CliRunner().invoke(cli, ["inspect", str(out / "result.json"), "--lot-id", "A-1"])
    assert result.exit_code == 0, result.output
    lines = result.stdout.splitlines()
    assert f"  contributing_area_m2 = {row['contributing_area_m2']:,.0f} m²" in lines
    assert any(line.startswith("Input elevation: clean.tif, SHA-256 ") for line in lines)
    assert "Elevation error: 2 realisations, seed 0" in lines
    score = next(line for line in lines if line.startswith("  visit_score ") and "sum of the points" in line)
    assert score.endswith(f"({row['visit_score']:g})")


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "not JSON"), ("[1]", "no result"), ("{}", "no result"), ("[" * 100_000, "not JSON"), ('"x"', "no result")],
)
def test_what_is_no_result_is_refused(tmp_path: Path, text: str, words: str) -> None:
    from click.testing import CliRunner

    from screening.commands.main import cli

    (tmp_path / "found.json").write_text(text)
    result = CliRunner().invoke(cli, ["inspect", str(tmp_path / "found.json")])
    assert result.exit_code == 2
    assert words in result.stderr and "found.json" in result.stderr and "To mend it" in result.stderr


@pytest.mark.parametrize("change", ["format", "summary", "verdicts", "lot"])
def test_a_result_that_was_changed_is_refused(
    written: tuple[dict[str, str | None], Path], tmp_path: Path, change: str
) -> None:
    from click.testing import CliRunner

    from screening.commands.main import cli

    document = json.loads((written[1] / "result.json").read_text())
    document |= {"format": {"format": 99}, "summary": {"summary": [{}]}, "verdicts": {"verdicts": 3}}.get(change, {})
    (tmp_path / "result.json").write_text(json.dumps(document))
    lot = ["--lot-id", "none"] if change == "lot" else []
    result = CliRunner().invoke(cli, ["inspect", str(tmp_path / "result.json"), *lot])
    assert result.exit_code == 2 and result.stderr.startswith("Error: "), result.output


def test_hashes_of_files_of_parts_and_of_large_ones(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shape = Path(write(tmp_path / "lots.shp", [LOT], lot_id=["A-1"]))
    before = content_hash(f"{shape}::lots")
    table = shape.with_suffix(".dbf")
    table.write_bytes(table.read_bytes().replace(b"A-1", b"A-2"))
    assert content_hash(shape) != before
    assert content_hash(tmp_path / "none.tif") == content_hash("/vsicurl/x.tif") == ""
    assert len(content_hash(tmp_path)) == 64
    large = tmp_path / "large.tif"
    large.write_bytes(bytes(range(256)) * 4)
    whole = content_hash(large)
    monkeypatch.setattr(hashes, "WHOLE_UP_TO_BYTES", 100)
    monkeypatch.setattr(hashes, "_END_BYTES", 50)
    assert content_hash(large).startswith("ends-") and whole not in content_hash(large)


def test_hostile_text_in_every_attribute_is_harmless(tmp_path: Path) -> None:
    """As GeoJSON, the format that can hold all of it."""
    plain: dict[str, str | None] = dict(write_clean(tmp_path / "plain"))
    plain["lots"] = write(tmp_path / "lots.geojson", [LOT], lot_id=[HOSTILE], owner=[HOSTILE])
    plain["structures"] = write(tmp_path / "houses.geojson", [HOUSE], structure_id=[HOSTILE], kind=[HOSTILE])
    plain["driveways"] = write(tmp_path / "drives.geojson", [HOUSE.buffer(2)], driveway_id=[HOSTILE])
    plain["soils"] = write(tmp_path / "soils.geojson", [LOT], hydgrp=[HOSTILE], mukey=[HOSTILE])
    out = tmp_path / "a" / "out"
    options = {**plain, "title": HOSTILE.replace("\0", ""), "rain-mm": "75"}
    site = run("site", {**options, "out": str(out)})
    inspect = run("inspect", plain)
    traced = run("inspect", {"lots": None})
    assert site.exit_code == inspect.exit_code == 0, site.output + inspect.output
    assert traced.exit_code == 2 and "--elevation" in traced.output
    for text in (site.output, inspect.output):
        assert all(mark.isprintable() or mark == "\n" for mark in text)
    # Names made of data are of plain marks, and nothing is written elsewhere.
    briefs = [path.name for path in out.iterdir() if path.name not in FILE_NAMES.values()]
    assert all(re.fullmatch(r"brief_[A-Za-z0-9_-]+\.(html|pdf)", name) for name in briefs)
    assert sorted(path.name for path in (tmp_path / "a").iterdir()) == ["out"]
    page = (out / "map.html").read_text(encoding="utf-8")
    assert "<script>alert(1)" not in page
    for path in out.glob("*.html"):
        assert "<script>alert(1)" not in path.read_text(encoding="utf-8"), path.name
    for path in out.glob("*.csv"):
        with path.open(encoding="utf-8-sig", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert not [cell for cell in cells if cell.lstrip().startswith(("=", "@"))], path.name
    layers = gpd.read_file(out / "summary.gpkg", layer="summary")
    assert layers["lot_id"].iloc[0].startswith("=cmd|")
