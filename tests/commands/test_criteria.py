"""The command that writes, checks and lists thresholds, and the profile of a screening."""

import json
import tomllib

import pandas as pd
import pyogrio
import rasterio
from click.testing import CliRunner

from screening.commands.main import cli
from screening.schema.criteria import PROFILES, choose_profile
from screening.site.samples import samples_dir


def run(*arguments):
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


def test_profiles_are_listed():
    result = run("criteria")
    assert result.exit_code == 0
    assert all(f"{name}: {profile.document}" in result.stdout for name, profile in PROFILES.items())


def test_a_written_file_checks_as_what_it_was_written_from(tmp_path):
    for name in PROFILES:
        path = tmp_path / "made" / f"{name}.toml"
        written = run("criteria", "--profile", name, "--out", path)
        assert written.exit_code == 0, written.stderr
        assert [file.name for file in path.parent.iterdir() if file.name.startswith(".")] == []
        assert tomllib.loads(path.read_text())["rate_min_mm_h"] == choose_profile(name).storage.rate_min_mm_h
        checked = run("criteria", "--check", path)
        assert checked.stdout == written.stdout.replace(f"  {path}\n", "")


def test_a_check_prints_what_differs_and_why(tmp_path):
    path = tmp_path / "county.toml"
    path.write_text("setback_well_m = 20\n")
    assert run("criteria", "--check", path).stdout.splitlines() == [
        "Thresholds: county (own), differs from neutral in setback_well_m",
        "  setback_well_m = 20 (default 30.5)",
        "    the user's own value (default 30.5 m, from Minnesota Stormwater Manual)",
    ]
    path.write_text("")
    assert run("criteria", "--check", path).stdout.splitlines()[-1] == "  no value differs from the default"


def test_what_cannot_be_used_ends_with_2(tmp_path):
    path = tmp_path / "county.toml"
    path.write_text("setback_wel_m = 20\n")
    result = run("criteria", "--check", path)
    assert result.exit_code == 2 and "setback_wel_m -> setback_well_m" in result.stderr
    assert run("criteria", "--profile", "minesota").exit_code == 2
    assert run("criteria", "--out", tmp_path).exit_code == 2


def test_a_profile_changes_the_result_and_is_named_in_every_output(tmp_path):
    samples = samples_dir()
    lot = [
        "--elevation",
        samples / "elevation.tif",
        "--lots",
        samples / "lots.geojson",
        "--lot-id",
        "TR-03",
        "--soils",
        samples / "soils.geojson",
        "--septic",
        samples / "septic.geojson",
        "--wells",
        samples / "wells.geojson",
        "--rain-mm",
        50,
    ]
    area = {}
    for name in ("neutral", "single-family-2010"):
        out = tmp_path / name
        result = run("site", *lot, "--profile", name, "--rasters", "--out", out)
        assert result.exit_code == 0, result.stderr
        assert any(line.endswith(f"Thresholds: {name}") for line in result.stdout.splitlines())
        found = json.loads((out / "result.json").read_text())
        assert found["thresholds"] == found["criteria"]["profile"] == name
        assert tomllib.loads((out / "used_criteria.toml").read_text())["profile"] == name
        assert pd.read_csv(out / "summary.csv")["criteria_profile"].tolist() == [name]
        page = (out / "map.html").read_text()
        assert f'<dt dir="auto">Thresholds</dt><dd dir="auto">{name}</dd>' in page
        with rasterio.open(out / "flow_direction.tif") as raster:
            assert raster.tags()["thresholds"] == name
        assert pyogrio.read_dataframe(out / "summary.gpkg", layer="summary")["criteria_profile"].tolist() == [name]
        area[name] = found["summary"][0]["infiltration_area_m2"]
    # Wells at 50 ft instead of 100 ft, septic fields at 25 ft instead of 50 ft, and soils of group C.
    assert area["single-family-2010"] > area["neutral"] > 0
