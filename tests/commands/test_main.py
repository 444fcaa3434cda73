import json
import subprocess
import sys

import geopandas as gpd
import pandas as pd
import pytest
import rasterio
import shapely
from click.testing import CliRunner

from screening.commands.main import cli
from screening.site.samples import samples_dir


def run(*arguments):
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


SAMPLES = samples_dir()
LOT = ["--elevation", SAMPLES / "elevation.tif", "--lots", SAMPLES / "lots.geojson", "--lot-id", "TR-14"]


def test_site_writes_everything_and_prints_a_summary(tmp_path):
    result = run(
        "site",
        *LOT,
        "--structures",
        SAMPLES / "structures.geojson",
        "--driveways",
        SAMPLES / "driveways.geojson",
        "--soils",
        SAMPLES / "soils.geojson",
        "--rainfall",
        SAMPLES / "rainfall.csv",
        "--storm",
        "10yr-24h",
        "--storm",
        "2yr-24h",
        "--out",
        tmp_path,
        "--verbose",
    )
    assert result.exit_code == 0, result.stderr
    assert "missing: wells: " in result.stderr  # the log
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "brief_TR-14.html",
        "brief_TR-14.pdf",
        "interception_lines.csv",
        "map.html",
        "result.json",
        "structure_sides.csv",
        "structures.csv",
        "summary.csv",
        "summary.gpkg",
        "summary.parquet",
        "summary.xlsx",
        "used_criteria.toml",
        "visit_sheet.csv",
        "visit_sheet.html",
    ]
    assert (tmp_path / "map.html").read_text(encoding="utf-8").count('name="storm"') == 2
    assert "TR-14" in result.stdout and "screening, not design" in result.stdout
    assert len(result.stdout.splitlines()) < 40
    assert max(len(line) for line in result.stdout.splitlines() if str(tmp_path) not in line) <= 80
    summary = pd.read_csv(tmp_path / "summary.csv")
    assert summary.lot_id.tolist() == ["TR-14"]
    found = json.loads((tmp_path / "result.json").read_text())
    assert str(SAMPLES) not in json.dumps(found)  # no folder of this machine


def test_a_typed_depth_with_a_table_and_land_cover(tmp_path):
    with rasterio.open(SAMPLES / "elevation.tif") as elevation:
        left, bottom, right, top = elevation.bounds
        crs = elevation.crs
    woods = gpd.GeoDataFrame({"cover": ["woods"]}, geometry=[shapely.box(left, bottom, right, top)], crs=crs)
    woods.to_file(tmp_path / "cover.gpkg")
    rain = ["--rain-mm", 108.204, "--rainfall", SAMPLES / "rainfall.csv"]
    found = {}
    for name, more in (("lawn", []), ("woods", ["--land-cover", tmp_path / "cover.gpkg"])):
        result = run("site", *LOT, "--soils", SAMPLES / "soils.geojson", *rain, *more, "--out", tmp_path / name)
        assert result.exit_code == 0, result.stderr
        document = json.loads((tmp_path / name / "result.json").read_text())
        assert document["storm"]["returns"] == "about every 10 years"
        assert document["storm"]["table"]["series"] == "partial duration"
        found[name] = document["summary"][0]
    assert found["woods"]["curve_number"] < found["lawn"]["curve_number"]
    assert found["woods"]["runoff_mm"] < found["lawn"]["runoff_mm"]
    # Woods have a rougher floor: sheet flow takes longer.
    assert found["woods"]["tc_min"] > found["lawn"]["tc_min"] > 5
    assert document["provenance"]["files"]["land_cover"] == "cover.gpkg"
    assert str(tmp_path) not in json.dumps(document)


def test_rasters_are_written_if_asked(tmp_path):
    result = run("site", *LOT, "--rain-in", 3, "--rasters", "--out", tmp_path)
    assert result.exit_code == 0, result.stderr
    assert f"Open first: {tmp_path / 'map.html'}" in result.stdout.splitlines()
    assert "flow_direction.tif" in result.stdout
    assert len(list(tmp_path.glob("*.tif"))) == 8


def test_what_was_written_can_be_used_again(tmp_path):
    assert run("site", *LOT, "--rain-in", 3, "--out", tmp_path / "a").exit_code == 0
    again = run(
        "site",
        *LOT,
        "--rain-mm",
        76.2,
        "--criteria",
        tmp_path / "a" / "used_criteria.toml",
        "--out",
        tmp_path / "b",
    )
    assert again.exit_code == 0, again.stderr
    first, second = (pd.read_csv(tmp_path / name / "summary.csv") for name in "ab")
    pd.testing.assert_frame_equal(first, second)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--at", "here"], "latitude and longitude"),
        (["--storm", "10yr-24h"], "--rainfall"),
        (["--rain-in", "2", "--rain-mm", "50"], "not both"),
        (["--capture-in", "2", "--capture-mm", "50"], "not both"),
        (["--rain-mm", "0"], "more than 0"),
        (["--rainfall", SAMPLES / "rainfall.csv", "--storm", "10yr"], "10yr-24h"),
        (["--lot-id", "TR-99"], "TR-9"),
        (["--soils", "nowhere.gpkg"], "nowhere.gpkg"),
        (["--criteria", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_bad_input_is_said_and_nothing_is_written(tmp_path, arguments, words):
    result = run("site", *LOT, *arguments, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert result.stderr.startswith("Error: ") and words in result.stderr
    assert "Traceback" not in result.stderr
    assert not (tmp_path / "out").exists()


def test_missing_elevation_is_said(tmp_path):
    result = run("site", "--elevation", tmp_path / "none.tif", "--at", "32,-78", "--out", tmp_path / "out")
    assert result.exit_code == 2 and "none.tif" in result.stderr


def test_inspect_says_what_there_is():
    result = run("inspect", *LOT, "--soils", SAMPLES / "soils.geojson", "--rainfall", SAMPLES / "rainfall.csv")
    assert result.exit_code == 0, result.stdout
    for words in ("elevation: ok", "EPSG:26917", "lots: ok", "soils: ok", "A screening can run."):
        assert words in result.stdout, words


def test_inspect_says_why_not(tmp_path):
    broken = tmp_path / "broken.tif"
    broken.write_bytes(b"not a raster")
    result = run("inspect", "--elevation", broken)
    assert result.exit_code == 2
    assert "CANNOT BE USED" in result.stdout and "A screening cannot run" in result.stdout


def test_help_needs_no_heavy_library():
    code = (
        "import sys; from screening.commands.main import cli; "
        "cli.main(['--help'], standalone_mode=False); "
        "heavy = {'numpy', 'geopandas', 'rasterio', 'numba', 'folium', 'pandas', 'shapely'} & set(sys.modules); "
        "sys.exit(f'imported {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    for command in ("demo", "inspect", "site"):
        assert command in done.stdout


def test_demo(tmp_path):
    result = run("demo", "--out", tmp_path)
    assert result.exit_code == 0
    assert (tmp_path / "map.html").stat().st_size < 3_000_000
    assert result.stderr == ""


def test_lot_without_elevation_gives_exit_code_1(tmp_path):
    import geopandas as gpd
    import numpy as np
    import rasterio

    with rasterio.open(SAMPLES / "elevation.tif") as source:
        elev, profile, bounds = source.read(1), source.profile, source.bounds
    lots = gpd.read_file(SAMPLES / "lots.geojson").to_crs(profile["crs"])
    west, south, east, north = lots.geometry.iloc[0].buffer(5).bounds
    rows = slice(int(bounds.top - north), int(bounds.top - south))
    elev[rows, int(west - bounds.left) : int(east - bounds.left)] = profile["nodata"]
    with rasterio.open(tmp_path / "holed.tif", "w", **profile) as target:
        target.write(elev.astype(np.float32), 1)
        target.units = ("metre",)
    first, second = lots.lot_id.iloc[0], lots.lot_id.iloc[5]
    result = run(
        "site",
        "--elevation",
        tmp_path / "holed.tif",
        "--lots",
        SAMPLES / "lots.geojson",
        "--lot-id",
        first,
        "--lot-id",
        second,
        "--rain-mm",
        50,
        "--out",
        tmp_path / "out",
    )
    assert result.exit_code == 1
    assert f"Not assessed, no ground of their own with elevation: {first}" in result.stderr
    assert (tmp_path / "out" / "map.html").exists()
    assert len(list((tmp_path / "out").glob("brief_*.pdf"))) == 2  # both were asked for by name


def test_storage_is_sized_for_a_typed_depth_in_either_unit(tmp_path):
    found = []
    for name, depth in (("--capture-in", "1"), ("--capture-mm", "25.4")):
        lot = ["--elevation", SAMPLES / "elevation.tif", "--lots", SAMPLES / "lots.geojson", "--lot-id", "TR-18"]
        out = tmp_path / name
        result = run("site", *lot, "--soils", SAMPLES / "soils.geojson", name, depth, "--rain-mm", "75", "--out", out)
        assert result.exit_code == 0, result.stderr
        found.append(json.loads((out / "result.json").read_text())["storage_options"])
    assert found[0] == found[1]
    assert [row["rain_mm"] for row in found[0]] == pytest.approx([25.4] * len(found[0]))
    assert len(found[0]) > 0
