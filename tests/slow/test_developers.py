"""The changes that DEVELOPERS.md walks through: each is put on a copy of the package, which then screens with it."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.places import ROOT

CHANGES = re.findall(r"^```diff\n(.*?)^```$", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.M | re.S)
TITLES = ("check", "layer", "stage")
LOT = "TR-14"


@pytest.fixture(scope="module", params=TITLES)
def outputs(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """Title of a change, and what the changed package writes of a lot of the sample."""
    folder = tmp_path_factory.mktemp(request.param)
    skipped = shutil.ignore_patterns("node_modules", "web")
    shutil.copytree(ROOT / "screening", folder / "screening", ignore=skipped)
    change = CHANGES[TITLES.index(request.param)]
    subprocess.run(["git", "apply", "-"], input=change, text=True, cwd=folder, check=True)
    samples = ROOT / "data_samples"
    command = [
        "site",
        "--elevation",
        samples / "elevation.tif",
        "--lot-id",
        LOT,
        "--rain-mm",
        "75",
        "--out",
        folder / "out",
    ]
    for name in ("lots", "structures", "driveways"):
        command += [f"--{name}", samples / f"{name}.geojson"]
    program = "import sys; from screening.commands.main import main; main()"
    environment = os.environ | {"PYTHONPATH": str(folder)}
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", program, *map(str, command)],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return request.param, folder / "out"


def test_there_is_one_change_for_each():
    assert len(CHANGES) == len(TITLES)
    touched = [len(re.findall(r"^diff --git", change, re.M)) for change in CHANGES]
    assert touched[:2] == [2, 2]


def test_what_a_change_adds_is_in_every_output(outputs):
    import pyogrio

    title, out = outputs
    layers = {name for name, _ in pyogrio.list_layers(out / "summary.gpkg").tolist()}
    result = json.loads((out / "result.json").read_text(encoding="utf-8"))
    page = (out / "map.html").read_text(encoding="utf-8")
    if title == "check":
        assert "lot_slope_flag_pct = 15.0" in (out / "used_criteria.toml").read_text(encoding="utf-8")
        (row,) = [row for row in result["verdicts"] if row["check_id"] == "lot_slope"]
        assert row["threshold"] == 15.0 and row["value"] == result["summary"][0]["slope_pct"]
        assert row["outcome"] == ("passed" if row["value"] < 15.0 else "failed")
        assert row["check"] == "Machines can work on the lot" and row["check"][1:] in page
    elif title == "layer":
        assert "low_spot_points" in layers and '"low_spot_points"' in page
        rows = (out / "low_spot_points.csv").read_text(encoding="utf-8-sig").splitlines()
        assert len(rows) == 1 + len(result["low_spots"]) > 1
    else:
        assert "level_ground" in layers and '"level_ground"' in page
        (row,) = result["level_ground"]
        assert row["lot_id"] == LOT and 0.0 <= row["level_frac"] <= 1.0
