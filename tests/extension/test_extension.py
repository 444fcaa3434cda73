"""A package beside the toolkit adds a check, a layer, a column and a kind of improvement, and finds them everywhere.

It runs in a process of its own, so that what it adds leaks into no other test.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import shapely

from tests.inputs.files import NORTH, UTM, WEST, write_layer, write_raster

SOURCE = Path(__file__).with_name("small_site.py")
ROOT = Path(__file__).parents[2]
N_ROWS, N_COLS = 60, 80
COMMAND = "from screening.commands.main import main; main()"


def inputs(folder: Path) -> list[str]:
    """Two lots on a plane that falls to the south: 30 % steep on the western half, 5 % on the other."""
    row, col = np.mgrid[:N_ROWS, :N_COLS]
    ground = np.where(col < N_COLS / 2, 150 - 0.30 * row, 150 - 0.05 * row).astype(np.float32)
    write_raster(folder / "ground.tif", ground)
    lots = [shapely.box(WEST + west, NORTH - 45, WEST + west + 20, NORTH - 15) for west in (8, 52)]
    write_layer(folder / "lots.gpkg", lots, lot_id=["steep", "easy"])
    garden = shapely.box(WEST + 58, NORTH - 34, WEST + 64, NORTH - 26)
    frame = gpd.GeoDataFrame({"id": ["G-1"], "kind": ["rain garden"], "depth_m": [0.4]}, geometry=[garden], crs=UTM)
    frame.to_file(folder / "improvements.gpkg", engine="pyogrio")
    return [
        *("--elevation", str(folder / "ground.tif"), "--vertical-unit", "m"),
        *("--lots", str(folder / "lots.gpkg"), "--lot-id", "steep", "--lot-id", "easy"),
        *("--rain-mm", "76.2"),
    ]


def install(folder: Path) -> dict[str, str]:
    """Put the package on the path with its metadata, as an installer does; give the environment that finds it."""
    folder.mkdir()
    shutil.copy(SOURCE, folder / SOURCE.name)
    metadata = folder / "small_site-1.0.dist-info"
    metadata.mkdir()
    (metadata / "METADATA").write_text("Metadata-Version: 2.1\nName: small-site\nVersion: 1.0\n", encoding="utf-8")
    points = "[screening.extensions]\nsmall-site = small_site:EXTENSION\n"
    (metadata / "entry_points.txt").write_text(points, encoding="utf-8")
    return os.environ | {"PYTHONPATH": os.pathsep.join((str(folder), str(ROOT)))}


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Outputs of `screening site --improvements` with the extension beside the toolkit."""
    folder = tmp_path_factory.mktemp("extension")
    given, environment = inputs(folder), install(folder / "beside")
    args = [*given, "--improvements", str(folder / "improvements.gpkg"), "--brief", "all", "--out", str(folder / "out")]
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, "site", *args], env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return folder / "out"


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def document(out: Path) -> dict[str, list[dict[str, object]]]:
    read: dict[str, list[dict[str, object]]] = json.loads((out / "before" / "result.json").read_text(encoding="utf-8"))
    return read


def test_its_check_is_judged_scored_and_told(out: Path) -> None:
    found = document(out)
    verdicts = {row["lot_id"]: row for row in found["verdicts"] if row["check_id"] == "excavator_slope"}
    steep, easy = verdicts["steep"], verdicts["easy"]
    assert steep["outcome"] == "failed" and steep["value"] == pytest.approx(30, abs=0.1) and steep["unit"] == "pct"
    # One and a half times the threshold, half its points by its own weight.
    assert steep["points"] == pytest.approx(0.75, abs=0.01)
    assert steep["check"] == "A small excavator can work on the lot" and "common practice" in str(steep["source"])
    assert easy["outcome"] == "passed" and easy["value"] == pytest.approx(5, abs=0.1) and easy["points"] == 0
    summary = {row["lot_id"]: row for row in rows_of(out / "before" / "summary.csv")}
    assert summary["steep"]["n_flags"] == "1" and summary["steep"]["visit_rank"] == "1"
    assert summary["steep"]["main_finding"] == "The lot is too steep for a small excavator"
    assert float(summary["steep"]["visit_score"]) == pytest.approx(0.75, abs=0.01)
    page = (out / "before" / "map.html").read_text(encoding="utf-8")
    assert "The lot is too steep for a small excavator" in page and "a small excavator can work on the lot" in page
    briefs = [path.read_text(encoding="utf-8") for path in (out / "before").glob("brief*.html")]
    assert any("too steep for a small excavator" in brief for brief in briefs)


def test_its_threshold_stands_in_the_criteria(out: Path) -> None:
    criteria = tomllib.loads((out / "before" / "used_criteria.toml").read_text(encoding="utf-8"))
    assert criteria["excavator_slope_max_pct"] == 20.0 and criteria["weight_excavator"] == 0.5


def test_its_layer_is_a_table_a_layer_and_a_switch(out: Path) -> None:
    rows = rows_of(out / "before" / "lowest_ground.csv")
    # The middle of the cell before row 45: 44 cells below the first one.
    expected = {"steep": 150 - 0.30 * 44, "easy": 150 - 0.05 * 44}
    assert {row["lot_id"]: float(row["lowest_elev_m"]) for row in rows} == pytest.approx(expected, abs=1e-3)
    assert document(out)["lowest_ground"] == [
        {"lot_id": row["lot_id"], "lowest_elev_m": pytest.approx(float(row["lowest_elev_m"]))} for row in rows
    ]
    layer = pyogrio.read_dataframe(out / "before" / "summary.gpkg", layer="lowest_ground")
    assert layer.geometry.geom_type.tolist() == ["Point", "Point"]
    lots = pyogrio.read_dataframe(out / "before" / "summary.gpkg", layer="summary").set_index("lot_id").geometry
    assert all(lots[row.lot_id].contains(row.geometry) for row in layer.itertuples())
    page = (out / "before" / "map.html").read_text(encoding="utf-8")
    assert re.search(r'data-switch="?lowest_ground', page) and "Lowest ground of each lot" in page
    assert '"key":"lowest_ground"' in page.replace('": "', '":"')


def test_its_column_stands_in_the_summary(out: Path) -> None:
    margin = {row["lot_id"]: float(row["excavator_margin_pct"]) for row in rows_of(out / "before" / "summary.csv")}
    assert margin == pytest.approx({"steep": -10.0, "easy": 15.0}, abs=0.1)
    layer = pyogrio.read_dataframe(out / "before" / "summary.gpkg", layer="summary")
    assert layer.set_index("lot_id")["excavator_margin_pct"].to_dict() == pytest.approx(margin)


def test_its_improvement_is_tried_and_checked(out: Path) -> None:
    before, after = (
        json.loads((out / when / "result.json").read_text(encoding="utf-8"))["low_spots"]
        for when in ("before", "after")
    )
    assert before == []
    # 6 m by 8 m, dug 0.4 m deep into ground that falls by 0.05 m a cell to the south.
    (spot,) = after
    assert spot["area_m2"] <= 48 and spot["depth_max_m"] == pytest.approx(0.4, abs=0.06)
    compared = json.loads((out / "comparison.json").read_text(encoding="utf-8"))
    (garden,) = compared["improvements"]
    assert garden["kind"] == "rain garden" and garden["cut_m3"] == pytest.approx(0.4 * 48, rel=1e-4)
    checks = rows_of(out / "improvement_checks.csv")
    (deep,) = [row for row in checks if row["improvement_id"] == "G-1"]
    assert deep["outcome"] == "failed" and float(deep["threshold"]) == 0.3
    page = (out / "before" / "map.html").read_text(encoding="utf-8")
    assert "rain_garden" in page and "Rain garden" in page


def test_without_it_there_is_nothing_of_it() -> None:
    from screening.schema.checks import all_checks
    from screening.schema.layers import all_layers, all_tables
    from screening.schema.work_kinds import all_kinds

    assert "excavator_slope" not in {check.check_id for check in all_checks()}
    assert "lowest_ground" not in {*all_tables(), *(layer.key for layer in all_layers())}
    assert "rain_garden" not in all_kinds()
