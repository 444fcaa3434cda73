"""The sample files hold what truth.json says is planted.

Slope is taken by central differences where the script takes Horn's; fill and flow paths are
those of `sample_reader`.
"""

from __future__ import annotations

import json
from itertools import pairwise

import numpy as np
import pytest
import shapely
from scipy.ndimage import label
from shapely.geometry import shape

from tests.samples.sample_reader import SAMPLES, VECTORS, Sample, fill, pond_at

TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def sample() -> Sample:
    return Sample()


def test_raster_layout(sample: Sample) -> None:
    profile = sample.profile
    assert (profile["height"], profile["width"]) == (520, 640)
    assert profile["crs"].to_epsg() == 26917
    assert profile["dtype"] == "float32"
    assert profile["tiled"]
    assert (profile["blockxsize"], profile["blockysize"]) == (256, 256)
    assert sample.units == ("metre",)
    assert np.isnan(sample.z).sum() == TRUTH["voids"]["n_cells"]
    assert np.isnan(sample.z[0, -1])
    assert np.nanmax(np.abs(sample.z * 100 - np.round(sample.z * 100))) < 0.01
    assert max(path.stat().st_size for path in SAMPLES.glob("*.*")) < 600_000


def test_hillside_is_plausible(sample: Sample) -> None:
    """The plane that fits best falls 5 to 9 percent, and the ground is rough on top of it."""
    valid = ~np.isnan(sample.z) & (sample.y > sample.y.min() + 110.0)
    columns = np.column_stack([sample.x[valid], sample.y[valid], np.ones(valid.sum())])
    columns[:, :2] -= columns[:, :2].mean(axis=0)
    (east, north, _), *_ = np.linalg.lstsq(columns, sample.z[valid], rcond=None)
    assert 0.05 < np.hypot(east, north) < 0.09
    rough = sample.z[valid] - columns @ np.linalg.lstsq(columns, sample.z[valid], rcond=None)[0]
    assert rough.std() > 0.5


def test_vectors_follow_rfc_7946() -> None:
    for name in VECTORS:
        collection = json.loads((SAMPLES / f"{name}.geojson").read_text(encoding="utf-8"))
        assert "crs" not in collection
        for feature in collection["features"]:
            area = shape(feature["geometry"])
            assert area.is_valid
            west, south, east, north = area.bounds
            assert -180 <= west <= east <= 180
            assert -90 <= south <= north <= 90
            if area.geom_type == "Polygon":
                assert area.exterior.is_ccw
                assert not any(ring.is_ccw for ring in area.interiors)


def test_lots_hold_what_stands_on_them(sample: Sample) -> None:
    lots = sample.layers["lots"].shapes
    assert sorted(lots) == [f"TR-{n:02d}" for n in range(1, 25)]
    assert all(1000 <= lot.area <= 2500 for lot in lots.values())
    assert all(a.intersection(b).area < 0.1 for a in lots.values() for b in lots.values() if a is not b)
    structures = sample.layers["structures"]
    for key, area in structures.shapes.items():
        properties = structures.properties[key]
        assert properties["kind"] in {"house", "garage", "shed"}
        assert lots[properties["lot_id"]].contains(area)
        sides = np.hypot(*np.diff(area.minimum_rotated_rectangle.exterior.coords, axis=0).T)
        assert sides.min() >= 4.99
    garages = [key for key in structures.shapes if key.startswith("G-")]
    attached = [g for g in garages if structures.shapes[g].distance(structures.shapes[f"H-{g[2:]}"]) < 0.002]
    assert len(garages) == 23
    assert len(attached) == 22
    for key, area in sample.layers["driveways"].shapes.items():
        sides = np.hypot(*np.diff(area.minimum_rotated_rectangle.exterior.coords, axis=0).T)
        assert 2.9 <= sides.min() <= 6.1
        assert area.distance(structures.shapes[f"G-{key[2:]}"]) < 0.002
        assert area.distance(sample.layers["roads"].shapes["R-1"]) < 0.002


def test_soils_cover_the_raster_once(sample: Sample) -> None:
    soils = sample.layers["soils"]
    groups = [properties["hydgrp"] for properties in soils.properties.values()]
    assert {"A", "B", "C", "D", "B/D", None} == set(groups)
    count = np.sum([sample.inside(area) for area in soils.shapes.values()], axis=0)
    assert (count >= 1).all()
    assert (count > 1).mean() < 1e-4
    lots = sample.layers["lots"].shapes.values()
    n_units = [sum(area.intersects(lot) for area in soils.shapes.values()) for lot in lots]
    assert sum(n > 1 for n in n_units) >= 3


def test_rainfall_table_is_complete_and_monotonic() -> None:
    lines = (SAMPLES / "rainfall.csv").read_text(encoding="utf-8").splitlines()
    assert "not a real station" in lines[5]
    start = lines.index("PRECIPITATION FREQUENCY ESTIMATES")
    rows = [line.split(":,") for line in lines[start + 1 :] if ":," in line]
    depth_in = np.array([[float(value) for value in values.split(",")] for _, values in rows[1:]])
    assert [float(year) for year in rows[0][1].split(",")] == [1, 2, 5, 10, 25, 50, 100, 200, 500, 1000]
    assert depth_in.shape == (19, 10)
    assert (np.diff(depth_in, axis=0) > 0).all()
    assert (np.diff(depth_in, axis=1) > 0).all()


def test_kerb_stands_above_the_gutter(sample: Sample) -> None:
    """Mean step over the pavement's upper edge, away from driveways: 0.13 m of curb on a 2 percent crown."""
    road = sample.layers["roads"].shapes["R-1"]
    lots = sample.layers["lots"].shapes
    upper = shapely.union_all([lot for key, lot in lots.items() if key <= "TR-12"])
    lower = shapely.union_all([lot for key, lot in lots.items() if key > "TR-12"])
    drives = shapely.union_all(list(sample.layers["driveways"].shapes.values()))
    edge = shapely.distance(road.exterior, sample.points) < 0.7
    edge &= (shapely.distance(upper, sample.points) < 6.0) & (shapely.distance(lower, sample.points) > 8.0)
    edge &= shapely.distance(drives, sample.points) > 4.0
    is_road = sample.inside(road)
    steps = []
    for x in range(712_440, 712_860, 6):
        near = edge & (np.abs(sample.x - x) < 3)
        if (near & is_road).any() and (near & ~is_road).any():
            steps.append(sample.z[near & ~is_road].mean() - sample.z[near & is_road].mean())
    assert len(steps) > 30
    assert 0.10 < np.median(steps) < 0.17


def test_bowl_volume_survives_the_noise(sample: Sample) -> None:
    truth = TRUTH["closed_depression"]
    depth = pond_at(sample.z, sample.filled, sample.at(truth))
    measured = {
        "volume_m3": depth.sum(),
        "area_m2": (depth > 0).sum(),
        "depth_max_m": depth.max(),
        "spill_elev_m": sample.filled[sample.at(truth)],
    }
    assert measured == pytest.approx({key: truth["after_noise"][key] for key in measured}, abs=0.006)
    assert measured["volume_m3"] == pytest.approx(truth["volume_m3"], rel=0.02)
    assert 40 <= truth["volume_m3"] <= 90
    assert truth["depth_max_m"] >= 0.4
    assert not (depth[sample.beside(sample.buildings)] > 0).any()
    assert (depth[~sample.cells["lots"][truth["lot_id"]]] == 0).all()


def test_houses_in_low_spots_are_touched(sample: Sample) -> None:
    depth = np.where(sample.buildings | np.isnan(sample.z), 0.0, sample.walled_filled - sample.walled)
    at_wall = {key: depth[sample.beside(cells)].max() for key, cells in sample.cells["structures"].items()}
    truth = TRUTH["depth_at_walls_m"]
    assert TRUTH["low_spot_house"]["structure_id"] in truth["in_a_low_spot"]
    for key, depth_m in truth["all"].items():
        assert at_wall[key] == pytest.approx(depth_m, abs=0.07), key
    for key, depth_m in truth["in_a_low_spot"].items():
        assert depth_m >= 0.25
        assert at_wall[key] == pytest.approx(depth_m, abs=0.05)
    assert max(at_wall[key] for key in truth["clear_of_ponds"]) <= 0.10
    assert at_wall[TRUTH["swale_house"]["structure_id"]] <= 0.12


def test_swale_leads_to_the_wall(sample: Sample) -> None:
    truth = TRUTH["swale_house"]
    ring = sample.beside(sample.cells["structures"][truth["structure_id"]])
    area_m2 = (sample.upstream(ring) & ~sample.buildings).sum()
    assert min(area_m2, truth["contributing_area_m2"]) > 10_000


def driveway_share(sample: Sample, number: str) -> float:
    """Share of a driveway's cells whose path meets the house or garage wall inside the lot."""
    drive, lot = sample.cells["driveways"][f"D-{number}"], sample.cells["lots"][f"TR-{number}"]
    walls = sample.cells["structures"][f"G-{number}"] | sample.cells["structures"][f"H-{number}"]
    goal, allowed = sample.beside(walls).ravel(), (drive | lot).ravel()
    met = 0
    for start in np.flatnonzero(drive):
        cell = int(start)
        while allowed[cell] and not goal[cell] and sample.receiver[cell] != cell:
            cell = int(sample.receiver[cell])
        met += bool(allowed[cell] and goal[cell])
    return met / drive.sum()


def test_garages_take_water_or_do_not(sample: Sample) -> None:
    garages = TRUTH["garages"]
    keys = garages["take_water"] + garages["do_not_take_water"]
    shares = {key: driveway_share(sample, key[2:]) for key in keys}
    assert len(shares) == 23
    assert min(shares[key] for key in garages["take_water"]) >= 0.6, shares
    assert max(shares[key] for key in garages["do_not_take_water"]) <= 0.2, shares
    upper = {key for key in garages["take_water"] if int(key[2:]) <= 12}
    assert upper
    assert upper < set(garages["take_water"])


def test_driveway_slopes(sample: Sample) -> None:
    """Fall towards the garage beyond the verge, from a plane fitted to the driveway's cells on the lot."""
    for row in TRUTH["garages"]["driveways"]:
        cells = sample.cells["driveways"][row["driveway_id"]] & sample.cells["lots"][row["lot_id"]]
        garage = sample.layers["structures"].shapes[row["garage_id"]]
        to_garage = shapely.distance(garage, sample.points[cells])
        slope_pct = 100 * np.polyfit(-to_garage, sample.z[cells], 1)[0]
        assert slope_pct == pytest.approx(row["slope_pct"], abs=1.0), row["driveway_id"]
        assert 4 <= abs(row["slope_pct"]) <= 12
        assert (row["slope_pct"] < 0) == (row["sheds_to"] == "garage")


def test_street_water_enters_where_stated(sample: Sample) -> None:
    road = sample.inside(sample.layers["roads"].shapes["R-1"])
    for row in TRUTH["garages"]["driveways"]:
        cells = sample.cells["driveways"][row["driveway_id"]]
        street_m2 = (sample.upstream(cells & sample.cells["lots"][row["lot_id"]]) & road).sum()
        assert (street_m2 > 150) == row["takes_street_water"], (row["driveway_id"], street_m2)


def test_lane_holds_back_a_pond_and_the_culvert_lets_it_go(sample: Sample) -> None:
    truth = TRUTH["embankment"]
    behind = truth["without_culvert"]
    depth = pond_at(sample.z, sample.filled, sample.at(behind))
    assert depth.sum() == pytest.approx(behind["volume_m3"], rel=0.05)
    assert behind["depth_max_m"] >= 1.2
    drain, line = sample.layers["drains"].properties["K-1"], sample.layers["drains"].shapes["K-1"]
    assert drain["invert_up_m"] > drain["invert_down_m"]
    opened = sample.z.copy()
    along = shapely.line_locate_point(line, sample.points, normalized=True)
    near = shapely.distance(line, sample.points) <= 1.0
    grade = drain["invert_up_m"] + along * (drain["invert_down_m"] - drain["invert_up_m"])
    opened[near] = np.minimum(opened, grade)[near]
    left = (fill(opened) - opened)[depth > 0]
    assert left.sum() < 0.05 * depth.sum()


def test_run_on(sample: Sample) -> None:
    truth = TRUTH["run_on"]
    cells = sample.cells["lots"]
    outside = {key: (sample.upstream(lot) & ~lot).sum() for key, lot in cells.items()}
    assert min(outside[key] for key in truth["receive"]) >= 1500, outside
    assert max(outside[key] for key in truth["receive_little"]) <= 1000, outside


class Rules:
    """Infiltration rules of truth.json on the files, each as the cells that it rejects."""

    def __init__(self, sample: Sample) -> None:
        rules = TRUTH["infiltration"]["rules"]
        layers = sample.layers
        soils = layers["soils"]
        self.group = np.full(sample.z.shape, "", dtype="U7")
        for key, area in soils.shapes.items():
            self.group[sample.inside(area)] = soils.properties[key]["hydgrp"] or "unknown"
        north, east = np.gradient(sample.z)
        self.soil = ~np.isin(self.group, rules["hydrologic_groups"])
        self.steep = ~(100 * np.hypot(north, east) < rules["slope_pct_below"])
        self.near = np.zeros(sample.z.shape, dtype=bool)
        for name, rule in (("structures", "structure"), ("wells", "well"), ("septic", "septic")):
            together = shapely.union_all(list(layers[name].shapes.values()))
            self.near |= shapely.distance(together, sample.points) < rules[f"setback_{rule}_m"]
        for key, lot in layers["lots"].shapes.items():
            cells = sample.cells["lots"][key]
            to_line = shapely.distance(lot.exterior, sample.points[cells])
            self.near[cells] |= to_line < rules["setback_lot_line_m"]
        self.covered = sample.inside(layers["roads"].shapes["R-1"]) | sample.buildings
        self.covered |= np.any(list(sample.cells["driveways"].values()), axis=0)


def test_lots_that_can_and_cannot_infiltrate(sample: Sample) -> None:
    rules, truth = Rules(sample), TRUTH["infiltration"]
    free = ~(rules.soil | rules.steep | rules.near | rules.covered)
    for row in truth["can"]:
        groups, _ = label(free & sample.cells["lots"][row["lot_id"]])
        assert np.bincount(groups.ravel())[1:].max(initial=0) >= 80, row["lot_id"]
    for row in truth["cannot"]:
        lot = sample.cells["lots"][row["lot_id"]] & ~rules.covered
        assert not (free & lot).any(), row["lot_id"]
        groups = set(rules.group[lot])
        if row["reason"].startswith("hydrologic group"):
            assert groups == {row["reason"].split()[-1]}
        elif row["reason"].startswith("unknown soil"):
            assert groups == {"unknown"}
        elif row["reason"].startswith("too steep"):
            assert (lot & ~rules.soil & ~rules.near).sum() > 80
        else:
            assert row["reason"].startswith("no room")
            assert (lot & ~rules.soil & ~rules.steep).sum() > 400
            assert not (lot & ~rules.soil & ~rules.near).any()
    reasons = {row["reason"].split(" outside")[0] for row in truth["cannot"]}
    assert len(reasons) == 5
    both = [row["lot_id"] for key in ("can", "cannot") for row in truth[key]]
    assert len(both) == len(set(both))


def test_durations_rise() -> None:
    """The rainfall rows stand in order of duration."""
    unit = {"min": 1, "hr": 60, "day": 1440}
    text = (SAMPLES / "rainfall.csv").read_text(encoding="utf-8")
    labels = [line.split(":,")[0].split("-") for line in text.splitlines() if line[:1].isdigit()]
    minutes = [int(number) * unit[name] for number, name in labels]
    assert all(a < b for a, b in pairwise(minutes))
