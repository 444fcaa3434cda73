"""Works tried out on the sample neighbourhood: its planted garages, the window, and the site as it was."""

from __future__ import annotations

import dataclasses
import json

import geopandas as gpd
import numpy as np
import pytest
import shapely

from screening.errors import InputError
from screening.models import Work, Works
from screening.schema.criteria import Criteria
from screening.site.chosen_rain import choose_rain
from screening.site.samples import demo_request, samples_dir
from screening.site.screen import screen_site
from screening.site.try_improvements import try_works

CRS = "EPSG:26917"
TRUTH = json.loads((samples_dir() / "truth.json").read_text(encoding="utf-8"))


def rain():
    return choose_rain(rainfall=samples_dir() / "rainfall.csv", storm="10yr-24h", criteria=Criteria())


def request_of(lot_id):
    return dataclasses.replace(demo_request(), lot_ids=(lot_id,))


def front_of(garage_id, driveway_id, *, away_m=1.5):
    """A line across a driveway before its garage, reaching over both edges."""
    folder = samples_dir()
    structures, driveways = (
        gpd.read_file(folder / f"{name}.geojson").to_crs(CRS) for name in ("structures", "driveways")
    )
    garage = structures.set_index("structure_id").geometry[garage_id]
    drive = driveways.set_index("driveway_id").geometry[driveway_id]
    around = garage.buffer(away_m, join_style="mitre").boundary.intersection(drive.buffer(1.0))
    parts = shapely.get_parts(around)
    merged = shapely.line_merge(shapely.MultiLineString(list(parts)))
    return max(shapely.get_parts(merged), key=lambda part: part.length)


PLANTED = [row for row in TRUTH["garages"]["driveways"] if row["garage_id"] in TRUTH["garages"]["take_water"]]


@pytest.mark.parametrize("row", PLANTED[2:5], ids=lambda row: row["garage_id"])
def test_a_drain_before_a_planted_garage_takes_its_driveway_water(row):
    line = front_of(row["garage_id"], row["driveway_id"])
    works = Works(CRS, (Work("T", "trench_drain", line, {}, {"to": "off"}),))
    found = try_works(request_of(row["lot_id"]), works, rain=rain())
    table = found.trial.comparison.table
    share = table[table["statistic"].eq("to_structure_frac") & table["subject_id"].eq(f"driveway {row['driveway_id']}")]
    before, after = float(share["before"].iloc[0]), float(share["after"].iloc[0])
    # Some of it leaves over the driveway's sides above the drain and meets the walls beside the garage.
    assert before > 0.7 and before - after > 0.35, (before, after)
    assert share["outcome_before"].iloc[0] == "failed" and share["outcome_after"].iloc[0] == "passed"
    walls = table[table["statistic"].eq("runoff_arriving_m3") & table["subject_id"].eq(row["garage_id"])].iloc[0]
    taken = float(found.trial.comparison.works["taken_m3"].iloc[0])
    assert walls["difference"] < -1.0
    # What does not come to the garage went into the drain; nothing else is taken from it.
    assert taken >= -walls["difference"] - 1e-6
    for result in (found.trial.before, found.trial.after):
        pond = result.ponding
        assert pond.rain_m3 == pytest.approx(pond.abstracted_m3 + pond.ponded_m3 + pond.left_window_m3, rel=1e-9)
    lots = found.trial.comparison.lots
    assert not lots["is_red_flag"].any() and len(lots) > 1


def test_the_site_before_is_the_site_as_it_is_screened_without_works():
    plain = screen_site(request_of("TR-16"), rain=rain())
    works = Works(CRS, (Work("T", "trench_drain", front_of("G-16", "D-16"), {}, {"to": "off"}),))
    found = try_works(request_of("TR-16"), works, rain=rain())
    assert found.trial.before.flow.grid == plain.result.flow.grid == found.trial.after.flow.grid
    assert found.before.summary.equals(plain.summary)
    assert found.trial.before.structures.equals(plain.result.structures)
    assert repr(found.trial.before.verdicts) == repr(plain.result.verdicts)
    assert np.array_equal(found.trial.before.ponding.water_depth_m, plain.result.ponding.water_depth_m)


def test_water_sent_to_a_neighbour_is_named():
    """The drain of TR-16, whose water went on to TR-15 before, led to TR-17."""
    lots = gpd.read_file(samples_dir() / "lots.geojson").to_crs(CRS).set_index("lot_id").geometry
    line = front_of("G-16", "D-16")
    # The hill falls to the south: the far end of the lot lies well below the garage.
    lowest = shapely.Point(lots["TR-17"].centroid.x, lots["TR-17"].bounds[1] + 8.0)
    works = Works(CRS, (
        Work("T", "trench_drain", line, {}, {"to": "O"}), Work("O", "outlet", lowest),
    ))  # fmt: skip
    found = try_works(request_of("TR-16"), works, rain=rain())
    changed = found.trial.comparison.lots.set_index("lot_id").loc["TR-17"]
    taken = float(found.trial.comparison.works["taken_m3"].iloc[0])
    assert changed["is_red_flag"] and not changed["is_chosen"]
    assert changed["run_on_difference_m3"] == pytest.approx(taken, rel=0.2)


def test_works_off_the_elevation_are_refused_by_name():
    far = shapely.LineString([(100_000, 100_000), (100_010, 100_000)])
    works = Works(CRS, (Work("B", "berm", far, {"height_m": 0.3}),))
    with pytest.raises(InputError, match=r"outside the elevation.*berm B"):
        try_works(request_of("TR-16"), works, rain=rain())
