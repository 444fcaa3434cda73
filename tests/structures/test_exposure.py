import dataclasses

import numpy as np
import pytest
from scipy import ndimage

from screening.kernels.accumulate import upstream_mask
from screening.models import Rain, RainfallTable, Verdict
from screening.pipeline import screen_block
from screening.report.tables.files import table_of
from screening.report.words.depressions import return_words
from screening.report.words.structures import exposure_words
from screening.schema.codes.depressions import Returns
from screening.schema.codes.verdicts import Aspect, Operator, Outcome, SubjectKind
from screening.schema.criteria import Criteria
from screening.storm.rainfall_tables import return_period_yr
from tests.blocks import NORTH, WEST, box, make_block
from tests.made_ground import bumps

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")


def hollow(depth=0.5):
    """A square that falls gently outward from its middle, with a hollow there of 20 x 24 cells."""
    row, col = np.mgrid[:40, :50].astype(float)
    away = np.maximum(np.abs(row - 19.5) - 10.5, np.abs(col - 24.5) - 12.5)
    return 10 - 0.01 * np.maximum(away, 0) - depth * (away < 0)


def screened(elev, **layers):
    return screen_block(make_block(elev, **layers), criteria=Criteria(), rain=RAIN)


def test_house_in_a_hollow_ponds():
    result = screened(hollow(), structures=[("H", "lot", "house", box(16, 20, 24, 30))])
    row = result.structures.iloc[0]
    assert row.exposure == "ponding" and row.low_spot_id == "LS-1"
    assert row.pond_depth_full_m == pytest.approx(0.5, abs=1e-5)
    assert row.lowest_adjacent_grade_m == pytest.approx(9.5, abs=1e-5)
    assert row.freeboard_m == pytest.approx(-0.5, abs=1e-5)
    # 20 x 24 m of hollow less the house, 100 mm on soil of unknown group: some water, not half a metre.
    assert 0 < row.pond_depth_storm_m < 0.2
    assert "LS-1" in exposure_words(row, Criteria())


def test_house_at_the_rim_keeps_dry():
    result = screened(hollow(), structures=[("H", "lot", "house", box(2, 2, 7, 8))])
    row = result.structures.iloc[0]
    assert row.exposure == "low" and row.pond_depth_full_m == 0 and row.low_spot_id == ""
    assert np.isnan(row.freeboard_m)


def test_house_across_a_swale_takes_the_hill():
    row, col = np.mgrid[:80, :41].astype(float)
    swale = 50 - 0.05 * row + 0.1 * np.abs(col - 20)
    result = screened(swale, structures=[("H", "lot", "house", box(60, 16, 68, 25))])
    house = result.structures.iloc[0]
    # Rows above the house drain into the swale and meet its uphill wall: 60 rows of 41 m, and the ring beside it.
    assert house.contributing_area_m2 > 60 * 41 * 0.95
    assert house.exposure in ("run-on", "ponding")
    assert house.edge_contaminated
    # The runoff at the walls is that ground's, roof not counted.
    depth = float(result.storm.runoff_mm[10, 10]) / 1000
    assert house.wall_inflow_m3 == pytest.approx(house.contributing_area_m2 * depth, rel=1e-6)


def test_roof_water_is_not_counted_as_arriving():
    flat_top = 10 - 0.05 * np.hypot(*(np.mgrid[:30, :37] - np.array([15.0, 18.0])[:, None, None]))
    result = screened(flat_top, structures=[("H", "lot", "house", box(12, 14, 19, 23))])
    house = result.structures.iloc[0]
    # Only the ring of ground round it: (7 + 2)(9 + 2) - 7 x 9 cells.
    assert house.contributing_area_m2 == 36
    assert house.exposure == "low"


def test_structures_on_no_chosen_lot_stand_as_walls_but_are_not_assessed():
    result = screened(
        hollow(),
        lots=[("lot", box(0, 0, 40, 25))],
        structures=[("mine", "lot", "house", box(16, 16, 20, 22)), ("theirs", "", "house", box(16, 30, 20, 34))],
    )
    assert result.structures.structure_id.tolist() == ["mine"]
    assert result.surface.structure_index.max() == 2


def test_no_elevation_at_the_walls_is_not_assessed():
    elev = hollow()
    elev[10:30, 10:40] = np.nan
    result = screen_block(
        make_block(elev, structures=[("H", "lot", "house", box(16, 20, 24, 30))]),
        criteria=Criteria.of(void_fill_max_m2=0.0),
        rain=RAIN,
    )
    assert result.structures.exposure.tolist() == ["not assessed"]
    outcomes = {verdict.outcome for verdict in result.verdicts if verdict.subject_kind == "structure"}
    assert outcomes == {"not assessed"}


def test_court_between_walls_is_not_assessed():
    walls = [
        ("N", "lot", "house", box(10, 10, 12, 20)),
        ("S", "lot", "house", box(18, 10, 20, 20)),
        ("W", "lot", "house", box(12, 10, 18, 12)),
        ("E", "lot", "house", box(12, 18, 18, 20)),
    ]
    dome = 50 - 0.02 * np.hypot(*(np.mgrid[:30, :34] - np.array([15.0, 15.0])[:, None, None]))
    result = screened(dome, structures=walls)
    assert set(result.structures.exposure) == {"not assessed"}
    assert all("courtyard" in why for why in table_of(result, "structures").exposure_why)


def arriving(result, structure_id):
    """Contributing areas by side of one structure."""
    own = result.structure_sides[result.structure_sides.structure_id == structure_id]
    return own.set_index("side").contributing_area_m2


def test_what_arrives_at_each_side_of_a_house_on_a_plane():
    """Ground that falls to the south: the north wall takes the 16 rows above it, the others what lies beside them."""
    ground = 50 - 0.05 * np.mgrid[:40, :50][0]
    result = screened(ground, structures=[("H", "lot", "house", box(16, 20, 24, 30))])
    sides = arriving(result, "H")
    # A corner belongs to the wall that ends there clockwise: the north-west one to the west, the next to the north.
    assert sides.to_dict() == {"north": 11 * 16, "east": 8 + 1, "south": 11, "west": 16 + 8}
    house = result.structures.iloc[0]
    assert house.contributing_area_m2 == sides.sum()
    assert (house.inflow_side, house.inflow_side_area_m2) == ("north", 11 * 16)


@pytest.mark.parametrize("seed", range(4))
def test_sides_add_up_to_their_structure(seed):
    """On any ground, with houses that touch, one on no lot, courtyards and gaps: each cell's water counts once."""
    elev = bumps(50, 60, seed, gap_share=0.02) + 0.05 * np.mgrid[:50, :60][0].astype(np.float32)
    structures = [
        ("A", "lot", "house", box(10, 10, 18, 22)),
        ("B", "lot", "garage", box(12, 22, 18, 28)),
        ("C", "", "house", box(30, 30, 38, 40)),
        ("D", "lot", "house", box(38, 34, 44, 44)),
        ("E", "lot", "shed", box(25, 5, 26, 6)),
        ("F", "lot", "house", box(22, 45, 34, 58).difference(box(25, 48, 31, 55))),
    ]
    result = screened(elev, structures=structures)
    by_structure = result.structure_sides.groupby("structure_id", sort=False)
    for column in ("contributing_area_m2", "wall_inflow_m3"):
        total = by_structure[column].sum(min_count=1)
        own = result.structures.set_index("structure_id")[column]
        np.testing.assert_allclose(total[own.index], own, rtol=1e-12)
    assert by_structure.n_inflow_points.sum().sum() == len(result.inflow_points)
    # By another way: all that drains through the ring and the footprint, less the footprint.
    flow, index = result.flow, result.surface.structure_index
    for row in result.structures.itertuples():
        number = result.block.structures.structure_id.tolist().index(row.structure_id) + 1
        zone = ndimage.binary_dilation(index == number, np.ones((3, 3))) & ((index == 0) | (index == number))
        upstream = upstream_mask(flow.receiver, flow.order, zone.ravel())
        known = flow.receiver >= 0
        expected = upstream[known].sum() - (index == number).sum()
        if row.exposure != "not assessed" and not row.has_enclosed_courtyard:
            assert row.contributing_area_m2 == expected, row.structure_id


def test_a_roof_that_sheds_over_another_roof_arrives_where_it_comes_down():
    ground = 50 - 0.05 * np.mgrid[:30, :40][0]
    pair = [("A", "lot", "house", box(10, 10, 16, 20)), ("B", "lot", "garage", box(10, 20, 16, 26))]
    result = screened(ground, structures=pair)
    a, b = result.structures.itertuples()
    # All the ground above and beside the pair, each cell at the wall it first meets; what comes over the other's roof.
    assert arriving(result, "A").sum() == a.contributing_area_m2
    assert "east" not in arriving(result, "A").index and "west" not in arriving(result, "B").index
    roofs = 12 * 6
    ring = (6 + 2) * (16 + 2) - 16 * 6
    assert a.contributing_area_m2 + b.contributing_area_m2 <= 18 * 10 + ring + roofs


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_sides_turn_with_the_ground(turns):
    names = ["north", "east", "south", "west"]
    rng = np.random.default_rng(5)
    # Steeper than its roughness, also along the walls: no level water, whose ways out do not turn with the ground.
    elev = 80 - 0.3 * np.mgrid[:40, :50][0] - 0.15 * np.mgrid[:40, :50][1] + rng.normal(0, 0.02, (40, 50))
    mask = np.zeros((40, 50), bool)
    mask[18:26, 20:32] = True

    def sides(k):
        rows, cols = np.nonzero(np.rot90(mask, k))
        house = box(rows.min(), cols.min(), rows.max() + 1, cols.max() + 1)
        result = screened(np.rot90(elev, k), structures=[("H", "lot", "house", house)])
        table = result.structure_sides.set_index("side").drop(columns=["geometry", "structure_id", "lot_id", "side_id"])
        # The longest way to a side may cross a level roof, which drains by an order that does not turn.
        return result, table.drop(columns=["tc_min", "peak_l_s"])

    first_result, first = sides(0)
    result, turned = sides(turns)
    # A quarter turn to the left takes what faced north to the west.
    for name in names:
        as_was = turned.loc[names[(names.index(name) - turns) % 4]]
        for column in first.columns:
            if first[column].dtype == object or first[column].dtype == bool:
                assert as_was[column] == first.loc[name, column], (name, column)
            else:
                assert as_was[column] == pytest.approx(first.loc[name, column], rel=1e-6, abs=1e-4, nan_ok=True), column
    bearing = (first_result.inflow_points.from_bearing_deg - 90 * turns) % 360
    assert sorted(result.inflow_points.from_bearing_deg) == pytest.approx(sorted(bearing))


def swale():
    row, col = np.mgrid[:80, :41].astype(float)
    return 50 - 0.05 * row + 0.1 * np.abs(col - 20)


def test_a_flow_path_meets_the_wall_across_its_swale():
    result = screened(swale(), structures=[("H", "lot", "house", box(60, 16, 68, 25))])
    (path,) = result.inflow_points.itertuples()
    assert (path.structure_id, path.lot_id, path.side) == ("H", "lot", "north")
    # It comes down the bottom of the swale, column 20, into the water that stands deepest in the middle of the wall,
    # though that overflows at a corner.
    assert result.structures.pond_depth_full_m.iloc[0] > 0.3
    assert (path.geometry.x - WEST, NORTH - path.geometry.y) == (20.5, 59.5)
    assert path.from_bearing_deg == pytest.approx(0.0, abs=1e-9)
    assert path.contributing_area_m2 > 0.8 * 59 * 41
    assert path.runoff_m3 == pytest.approx(
        path.contributing_area_m2 * float(result.storm.runoff_mm[10, 10]) / 1000, rel=1e-6
    )
    assert result.structures.n_inflow_points.tolist() == [1]
    assert result.structure_sides.set_index("side").n_inflow_points.to_dict() == {
        "north": 1,
        "east": 0,
        "south": 0,
        "west": 0,
    }


def test_a_path_that_comes_round_again_is_no_second_arrival():
    """A channel brings the hill to the west wall's upper end, leads off and comes back at its lower end."""
    row, col = np.mgrid[:60, :40].astype(float)
    ground = 80 - 0.1 * row + 0.3 * np.abs(col - 14)
    house = ("H", "lot", "house", box(30, 15, 44, 24))
    result = screened(ground, structures=[house])
    first = result.inflow_points.contributing_area_m2.sum()
    assert first <= result.structures.contributing_area_m2.iloc[0]
    assert (result.inflow_points.contributing_area_m2 >= result.criteria.flow.flow_path_min_area_m2).all()


def test_reasons_in_both_unit_systems():
    result = screened(hollow(), structures=[("H", "lot", "house", box(16, 20, 24, 30))])
    row = result.structures.iloc[0].to_dict() | {
        "pond_depth_full_m": 0.12,
        "pond_depth_storm_m": 0.0,
        "pond_side": "south",
        "contributing_area_m2": 1200.0,
        "inflow_side": "west",
        "inflow_side_area_m2": 850.0,
        "fall_away_pct": -20.0,
        "fall_away_side": "north",
        "fall_error_pct": 11.0,
        "threshold_rainfall_mm": 115.0,
        "threshold_return_code": Returns.WITHIN_TABLE,
        "threshold_return_bound_yr": 12.0,
    }
    assert exposure_words(row, Criteria()) == (
        "Low spot LS-1 holds water 0.12 m deep against the south side when full; this storm leaves none there; "
        "it takes 115 mm of rain to wet it, which comes about every 12 years. "
        "1,200 m² of ground drains to its walls, 850 m² of it to the west side. "
        "The ground falls 20.0% toward the north side (indicative: error 11.0%)."
    )
    in_feet = exposure_words(row, Criteria(), "us")
    assert "it takes 4.53 in of rain" in in_feet
    assert "0.4 ft deep" in in_feet and "12,917 sq ft" in in_feet and "9,149 sq ft" in in_feet
    known = row | {"threshold_rainfall_mm": np.nan, "threshold_return_code": Returns.NOT_KNOWN}
    assert exposure_words(known | {"pond_depth_storm_m": 0.119}, Criteria()).startswith(
        "Low spot LS-1 holds water 0.12 m deep against the south side when full, as in this storm. "
    )
    dry = row | {"pond_depth_full_m": 0.0, "contributing_area_m2": 36.0, "fall_away_pct": 2.0}
    assert exposure_words(dry, Criteria()) == (
        "Little ground drains to its walls (36 m²), and no low spot stands against them."
    )
    one_wall = row | {"pond_depth_full_m": 0.0, "fall_away_pct": 2.0, "inflow_side_area_m2": 1200.0}
    assert exposure_words(one_wall, Criteria()) == "1,200 m² of ground drains to the west side."
    assert exposure_words(one_wall | {"inflow_side": "all sides"}, Criteria()).endswith("drains to its walls.")


def test_the_reason_follows_from_the_row_alone():
    result = screened(swale(), structures=[("H", "lot", "house", box(60, 16, 68, 25))])
    told = table_of(result, "structures").exposure_why.tolist()
    assert told == [exposure_words(row, result.criteria) for row in result.structures.to_dict("records")]


def test_structures_are_ranked_by_the_points_of_their_verdicts():
    result = screened(
        swale(),
        structures=[
            ("dry", "lot", "shed", box(5, 34, 9, 39)),
            ("wet", "lot", "house", box(60, 16, 68, 25)),
            ("below", "lot", "house", box(72, 14, 78, 27)),
        ],
    )
    table = result.structures.set_index("structure_id")
    assert sorted(table.exposure_rank) == [1, 2, 3]
    # The lowest takes all that the one above it takes, and more stands against it.
    assert table.exposure_rank.to_dict() == {"below": 1, "wet": 2, "dry": 3}
    assert table.sort_values("exposure_rank").exposure_score.is_monotonic_decreasing
    for structure_id, row in table.iterrows():
        own = [v for v in result.verdicts if v.subject_kind == "structure" and v.subject_id == structure_id]
        assert row.exposure_score == pytest.approx(sum(verdict.points for verdict in own))
    lot = result.summary.iloc[0]
    assert lot.visit_score == pytest.approx(sum(verdict.points for verdict in result.verdicts))
    assert lot.worst_structure_id == "below"


MADE = Verdict(
    check_id="standing_water",
    lot_id="lot",
    subject_kind=SubjectKind.STRUCTURE,
    subject_id="H",
    statistic="pond_depth_full_m",
    value=0.9,
    operator=Operator.BELOW,
    threshold=0.1,
    unit="m",
    outcome=Outcome.PASSED,
)


@pytest.mark.parametrize(
    ("value", "operator", "threshold", "points"),
    [(0.3, "<", 0.1, 3.0), (9.0, "<", 0.1, 5.0), (-5.0, ">=", 5.0, 3.0), (0.0, ">=", 5.0, 2.0), (1.0, "<", 0.0, 5.0)],
)
def test_points_grow_with_the_distance_from_the_threshold(value, operator, threshold, points):
    verdict = dataclasses.replace(
        MADE, value=value, operator=Operator(operator), threshold=threshold, outcome=Outcome.FAILED
    )
    assert verdict.points == pytest.approx(points)


def test_only_flags_have_points_and_indicative_ones_have_one():
    for outcome in (Outcome.PASSED, Outcome.NOT_ASSESSED):
        assert dataclasses.replace(MADE, outcome=outcome).points == 0
    failed = dataclasses.replace(MADE, outcome=Outcome.FAILED)
    assert dataclasses.replace(failed, aspect=Aspect.REMEDY).points == 0
    assert dataclasses.replace(failed, is_indicative=True).points == 1


def test_how_often_a_wall_is_wet_is_said():
    """A house in a pan: the rain that wets its wall, its return period by the table, and the reason in words."""
    elev = np.minimum(10 + 0.02 * np.hypot(*np.mgrid[-30:30, -34:34]), 10.4)
    block = make_block(elev, structures=[("H", "lot", "house", box(26, 30, 32, 38))], roads=[(box(0, 0, 60, 68),)])
    table = RainfallTable(
        durations_h=(24.0,), return_periods_yr=(1.0, 10.0, 100.0), depth_mm=((1.0, 30.0, 110.0),), source="test"
    )
    rain = Rain(depth_mm=30.0, label="10yr-24h", source="test", table=table, return_period_yr=10.0, duration_h=24.0)
    house = screen_block(block, criteria=Criteria.of(low_spot_min_area_m2=1.0), rain=rain).structures.iloc[0]
    assert house.threshold_return_yr == pytest.approx(
        return_period_yr(table, depth_mm=house.threshold_rainfall_mm, duration_h=24.0)
    )
    said = exposure_words(house, Criteria.of(low_spot_min_area_m2=1.0))
    assert f"it takes {house.threshold_rainfall_mm:.0f} mm of rain to wet it, which comes about every" in said
    assert house.peak_l_s > 0
    # Without a table the rain is known, but not how often it comes.
    bare = screen_block(
        block, criteria=Criteria.of(low_spot_min_area_m2=1.0), rain=Rain(depth_mm=30.0, label="x", source="test")
    )
    house = bare.structures.iloc[0]
    assert house.threshold_rainfall_mm > 0 and np.isnan(house.threshold_return_yr)
    assert house.threshold_return_code == Returns.NOT_KNOWN and return_words(house) == ""
    spot = bare.depressions.table.iloc[0]
    assert spot.threshold_rainfall_mm > 0 and np.isnan(spot.threshold_return_yr)
    assert spot.threshold_return_code == Returns.NOT_KNOWN and return_words(spot) == ""
