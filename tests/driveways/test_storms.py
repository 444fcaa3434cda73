"""Water at the garage line by storm, driveways on the sample, and the same in feet, by other windows and turned."""

import dataclasses
import json

import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely
from click.testing import CliRunner

from screening.commands.main import cli
from screening.models import Rain
from screening.pipeline import screen_block
from screening.report.driveway.words import drain_cautions, drain_rows
from screening.schema.codes.driveways import ShedsTo
from screening.schema.codes.storm import PeakCode
from screening.schema.criteria import Criteria
from screening.site.samples import samples_dir
from screening.storm.curve_numbers import runoff_depth_mm
from screening.storm.rainfall_tables import intensity_mm_h, rain_of_storm
from screening.units import GPM_PER_L_S, M_PER_FT
from tests.blocks import NORTH, WEST, make_block
from tests.driveways_by_hand import LONG, RAIN, STORM, TABLE, at, balance_error, study

GARAGE = ("G", "lot", "garage", at(40, -31, 46, -25))
SAMPLES = samples_dir()


def toward_garage(x, y):
    return 50 - 0.05 * x + 0.0 * y


def test_water_at_the_garage_line_by_hand():
    """Own rain on 80 square metres; run-on of the lawn behind it. The peak by the rational method, part or whole."""
    result = study(toward_garage, LONG, structures=[GARAGE], rain=STORM)
    row = result.driveways.iloc[0]
    storm = result.driveway_study.storms.iloc[0]
    assert row.own_m3 == pytest.approx(80 * float(runoff_depth_mm(120.0, 98.0)) / 1000)
    assert storm.wall_m3 == pytest.approx(row.own_m3 + row.run_on_m3, rel=1e-6)
    least = intensity_mm_h(TABLE, return_period_yr=10.0, duration_h=Criteria().storm.time_of_concentration_min_h)
    # HEC-22 Table 3-1: driveways 0.75 to 0.85, the middle. Own rain alone in five minutes is the least there can be.
    own_alone = 0.80 * float(least) / 3.6e6 * 80 * 1000
    assert storm.wall_peak_l_s >= own_alone * (1 - 1e-9)
    assert storm.wall_peak_l_s < own_alone * 1.8
    assert storm.wall_peak_gpm == pytest.approx(storm.wall_peak_l_s * 15.8503, rel=1e-5)
    assert pytest.approx(15.850323, rel=1e-6) == GPM_PER_L_S
    assert storm.peak_code == PeakCode.RATIONAL


def test_own_rain_alone_gives_the_rational_peak():
    """A driveway on a crest takes no run-on."""
    result = study(
        lambda x, y: 50 - 0.02 * np.abs(y + 28) - 0.02 * x, at(0, -30, 40, -26), structures=[GARAGE], rain=STORM
    )
    storm = result.driveway_study.storms.iloc[0]
    edges = result.driveway_study.edges
    least = intensity_mm_h(TABLE, return_period_yr=10.0, duration_h=Criteria().storm.time_of_concentration_min_h)
    whole = 0.80 * float(least) / 3.6e6 * 160 * 1000
    assert storm.run_on_m3 < 0.06 * storm.own_m3
    # Cells on the crest itself shed to both sides: what they bring adds to the peak by about their share of the water.
    shared = storm.run_on_m3 / storm.own_m3
    assert whole <= edges.peak_l_s.sum() <= whole * (1 + 1.2 * shared)


def test_where_the_rational_method_ends_the_peak_is_not_assessed():
    """On more ground than the criteria let it be used for; the volume stands."""
    small = Criteria.of(rational_area_max_m2=10.0)
    large = study(toward_garage, LONG, structures=[GARAGE], rain=STORM, criteria=small)
    storm = large.driveway_study.storms.iloc[0]
    assert np.isnan(storm.wall_peak_l_s) and storm.peak_code == PeakCode.AREA_TOO_LARGE
    assert storm.wall_m3 > 0.0


def test_several_storms_take_the_same_ways():
    rains = [rain_of_storm(TABLE, text) for text in ("1yr-24h", "100yr-24h")]
    result = study(toward_garage, LONG, structures=[GARAGE], rain=STORM, further=tuple(rains))
    storms = result.driveway_study.storms
    assert storms.storm.tolist() == ["10yr-24h", "1yr-24h", "100yr-24h"]
    by_rain = storms.sort_values("rain_mm")
    assert by_rain.wall_peak_l_s.is_monotonic_increasing and by_rain.wall_m3.is_monotonic_increasing
    assert balance_error(result) < 1e-9
    alone = study(toward_garage, LONG, structures=[GARAGE], rain=rains[1]).driveway_study.storms
    pd.testing.assert_frame_equal(storms.iloc[[2]].reset_index(drop=True), alone)


def test_without_a_table_the_peak_is_graphical():
    result = study(toward_garage, LONG, structures=[GARAGE], rain=Rain(depth_mm=100.0, label="100 mm", source="test"))
    storm = result.driveway_study.storms.iloc[0]
    assert storm.peak_code == PeakCode.GRAPHICAL and storm.wall_peak_l_s > 0


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_rough_ground_turned_with_its_driveway(turns):
    """Quarter turns: all but the low points' ties is the same."""
    size = 44
    row, col = np.mgrid[:size, :size].astype(float)
    elev = 50 - 0.04 * row - 0.013 * col + 0.05 * np.sin(row * 0.7) * np.cos(col * 0.9)
    shape = shapely.Polygon([(10.3, 12.2), (14.6, 11.1), (20.9, 33.4), (16.1, 34.8)])

    def found(turn):
        def place(x, y):
            for _ in range(turn):
                x, y = y, size - x
            return x, y

        ring = [place(x, y) for x, y in shape.exterior.coords]
        outline = shapely.Polygon([(WEST + x, NORTH - y) for x, y in ring])
        block = make_block(np.rot90(elev, turn), driveways=[("D", "lot", "driveway", outline)])
        return screen_block(block, criteria=Criteria(), rain=RAIN).driveways.iloc[0]

    one, other = found(0), found(turns)
    for name in ("own_m3", "run_on_m3", "stays_m3", "long_slope_pct", "cross_slope_pct", "crown_m", "width_m"):
        assert other[name] == pytest.approx(one[name], rel=0.02, abs=1e-3), name


def test_ground_moved_by_whole_cells_changes_nothing():
    def rough(x, y):
        return 50 - 0.04 * x + 0.013 * y + 0.05 * np.sin(y * 0.7) * np.cos(x * 0.9)

    one = study(rough, LONG)
    moved = study(lambda x, y: rough(x - 3, y + 2), shapely.affinity.translate(LONG, 3, -2), size=(62, 73))
    names = ["own_m3", "stays_m3", "own_to_lawn_frac", "own_stays_frac", "long_slope_pct", "cross_slope_pct"]
    assert moved.driveways[names].iloc[0].tolist() == pytest.approx(one.driveways[names].iloc[0].tolist(), rel=1e-4)
    assert balance_error(one) < 1e-9 and balance_error(moved) < 1e-9


def test_planted_garages_of_the_sample(sample_result):
    truth = json.loads((SAMPLES / "truth.json").read_text())["garages"]
    found = sample_result.driveways.set_index("driveway_id")
    edges = sample_result.driveway_study.edges
    for planted in truth["driveways"]:
        row = found.loc[planted["driveway_id"]]
        takes = planted["garage_id"] in truth["take_water"]
        assert (row.own_to_wall_frac > 0.5) == takes, planted
        assert (row.wall_peak_l_s > 1.0) == takes
        assert takes or row.own_to_wall_frac < 0.02
        at_wall = edges[(edges.driveway_id == planted["driveway_id"]) & (edges.sheds_to == ShedsTo.GARAGE)]
        assert set(at_wall.sheds_to_id) == {planted["garage_id"]}
        # Planted slope along it, without its flat apron and the gutter.
        assert row.long_slope_pct == pytest.approx(abs(planted["slope_pct"]), abs=2.8)
    assert balance_error(dataclasses.replace(sample_result)) < 1e-9


def run(*arguments):
    return CliRunner().invoke(cli, [str(argument) for argument in arguments])


DRIVEWAY = [
    "driveway",
    "--elevation",
    SAMPLES / "elevation.tif",
    "--lots",
    SAMPLES / "lots.geojson",
    "--lot-id",
    "TR-14",
    "--structures",
    SAMPLES / "structures.geojson",
    "--roads",
    SAMPLES / "roads.geojson",
    "--rainfall",
    SAMPLES / "rainfall.csv",
    "--storm",
    "10yr-24h",
    "--storm",
    "2yr-24h",
]


def test_the_command_writes_everything_and_says_it_in_few_lines(tmp_path):
    given = ["--driveways", SAMPLES / "driveways.geojson", "--driveway-id", "D-14"]
    result = run(*DRIVEWAY, *given, "--use", "trucks", "--load-class", "B125", "--out", tmp_path)
    assert result.exit_code == 0, result.stderr
    assert {path.name for path in tmp_path.iterdir()} == {
        "map.html",
        "driveways.csv",
        "driveway_edges.csv",
        "driveway_storms.csv",
        "driveways.gpkg",
        "driveways.json",
        "used_criteria.toml",
    }
    lines = result.stdout.splitlines()
    assert len(lines) < 30 and max(len(line) for line in lines if str(tmp_path) not in line) <= 100
    for words in ("garage G-14", "gpm", "10yr-24h", "2yr-24h", "have utilities located", "load class does not hold"):
        assert words in " ".join(result.stdout.split()), words
    import pyogrio

    layers = {name for name, _ in pyogrio.list_layers(tmp_path / "driveways.gpkg").tolist()}
    assert layers >= {"driveways", "driveway_edges", "driveway_arrows", "driveway_low_points"}
    found = json.loads((tmp_path / "driveways.json").read_text())
    assert [row["driveway_id"] for row in found["driveways"]] == ["D-14"]
    assert [row["outcome"] for row in found["drain_site"]][2] == "failed"
    assert len(found["driveway_storms"]) == 2
    page = (tmp_path / "map.html").read_text()
    assert "Edges of driveways" in page and "The discharge is permitted" in page
    assert pd.read_csv(tmp_path / "driveway_edges.csv").own_frac.sum() == pytest.approx(1, abs=0.01)


def test_elevations_in_feet_find_the_same(tmp_path):
    """Heights in feet are rounded elsewhere than those in metres, by 0.03 mm at most."""
    with rasterio.open(SAMPLES / "elevation.tif") as raster:
        profile, elev_m = raster.profile, raster.read(1)
    with rasterio.open(tmp_path / "feet.tif", "w", **profile) as raster:
        raster.write(np.where(elev_m == profile["nodata"], elev_m, elev_m / M_PER_FT).astype(np.float32), 1)
    found = {}
    for name, more in {"m": [], "ft": ["--elevation", tmp_path / "feet.tif", "--vertical-unit", "ft"]}.items():
        given = ["--driveways", SAMPLES / "driveways.geojson", "--driveway-id", "D-14"]
        result = run(*DRIVEWAY, *given, *more, "--out", tmp_path / name)
        assert result.exit_code == 0, result.stderr
        found[name] = [pd.read_csv(tmp_path / name / f"{table}.csv") for table in ("driveways", "driveway_storms")]
    for in_m, in_ft in zip(found["m"], found["ft"], strict=True):
        pd.testing.assert_frame_equal(in_ft, in_m, rtol=5e-3, atol=2e-3)


def test_impervious_polygons_at_a_garage_or_street_are_driveways(tmp_path):
    import geopandas as gpd

    drives = gpd.read_file(SAMPLES / "driveways.geojson").to_crs("EPSG:26917")
    roofs = gpd.read_file(SAMPLES / "structures.geojson").to_crs("EPSG:26917")
    lot = gpd.read_file(SAMPLES / "lots.geojson").to_crs("EPSG:26917").set_index("lot_id").geometry["TR-14"]
    own = [drives.set_index("driveway_id").geometry["D-14"], roofs[roofs.intersects(lot)].geometry.iloc[0]]
    far = lot.centroid.buffer(1.0)
    gpd.GeoDataFrame(geometry=[*own, far], crs="EPSG:26917").to_file(tmp_path / "hard.gpkg")
    result = run(*DRIVEWAY, "--impervious", tmp_path / "hard.gpkg", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    found = json.loads((tmp_path / "out" / "driveways.json").read_text())
    assert len(found["driveways"]) == 1 and found["driveways"][0]["own_to_wall_frac"] > 0.6
    assert any("1 of 3 impervious polygons" in note["text"] for note in found["notes"])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--driveways", SAMPLES / "driveways.geojson", "--driveway-id", "D-99"], "No such driveway"),
        ([], "There is no driveway on the lots"),
        (["--driveways", SAMPLES / "driveways.geojson", "--cut-depth-m", 1, "--cut-depth-ft", 3], "not both"),
    ],
)
def test_bad_questions_are_refused(tmp_path, arguments, words):
    result = run(*DRIVEWAY, *arguments, "--out", tmp_path / "out")
    assert result.exit_code == 2 and words in result.stderr
    assert not (tmp_path / "out").exists()


def test_cautions_of_the_dig_follow_its_depth():
    from screening.hydraulics.drain_site import DrainSite

    def outcomes(**known):
        return {
            row.statistic + str(round(row.threshold, 2)): row.outcome
            for row in drain_rows(DrainSite(**known), criteria=Criteria())
        }

    shallow, middle, deep = (outcomes(cut_depth_m=depth) for depth in (1.0, 1.3, 1.6))
    assert (shallow["cut_depth_m1.22"], shallow["cut_depth_m1.52"]) == ("passed", "passed")
    assert (middle["cut_depth_m1.22"], middle["cut_depth_m1.52"]) == ("failed", "passed")
    assert (deep["cut_depth_m1.22"], deep["cut_depth_m1.52"]) == ("failed", "failed")
    assert set(outcomes().values()) == {"not assessed"}
    words = " ".join(drain_cautions(DrainSite(), criteria=Criteria()))
    assert "811" in words and "permission" in words and "not known" in words
