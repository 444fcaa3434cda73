"""Improvements tried out: litres by hand, who gets the water instead, and water that is neither made nor lost."""

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from screening.depressions.ponding import pond_storm
from screening.errors import InputError
from screening.findings.terrain import lay_site, route_water
from screening.flow.dispersive import dispersive_area_m2
from screening.improvements.apply import apply_improvements, outlet_of
from screening.improvements.trial import look_with_improvements, try_on_block
from screening.models import Improvement, Improvements, Rain
from screening.pipeline import screen_block
from screening.report.words.notes import note_words
from screening.schema.codes.notes import NoteCode
from screening.schema.criteria import Criteria
from screening.storm.design_storm import design_storm
from tests.blocks import CRS, NORTH, WEST, box, line, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
CRITERIA = Criteria()
ROWS, COLS = 20, 14


def plane(slope=0.05, rows=ROWS, cols=COLS):
    """Falls to the south."""
    return np.repeat((50.0 - slope * np.arange(rows))[:, None], cols, 1)


def point(row, col):
    return shapely.Point(WEST + col + 0.5, NORTH - row - 0.5)


def improvements(*items):
    return Improvements(crs=CRS, items=tuple(items))


def drain(cells, *, to="off", improvement_id="T", **numbers):
    return Improvement(
        improvement_id=improvement_id, kind="trench_drain", geometry=line(cells), numbers=numbers, words={"to": to}
    )


def tried(block, *items, criteria=CRITERIA, lots=None):
    return try_on_block(block, improvements(*items), criteria=criteria, rain=RAIN, lots=lots)


def garage_below(**layers):
    """A garage 6 cells wide at the foot of a plane, all lawn: each column runs straight down to it."""
    return make_block(plane(), structures=[("G", "lot", "garage", box(16, 4, 19, 10))], **layers)


def value(trial, subject, statistic, when="after"):
    table = trial.comparison.table
    rows = table[table["subject_id"].eq(subject) & table["statistic"].eq(statistic)]
    assert len(rows) == 1, rows
    return float(rows[when].iloc[0])


def red(trial):
    table = trial.comparison.table
    rows = table[table["is_red_flag"]].to_dict("records")
    return {(row["subject_kind"], row["subject_id"], row["statistic"]) for row in rows}


def cell_m3(result):
    runoff = np.unique(result.storm.runoff_mm[:15])
    assert runoff.size == 1  # all lawn
    return float(runoff[0]) / 1000.0


@pytest.mark.parametrize(
    ("cells", "n_columns"),
    [([(14, 4), (14, 9)], 6), ([(14, 4), (14, 6)], 3), ([(14, 0), (14, 1)], 0)],
    ids=["all of it", "half of it", "none of it"],
)
def test_a_drain_takes_what_crosses_it_to_the_litre(cells, n_columns):
    trial = tried(garage_below(), drain(cells))
    one = cell_m3(trial.before)
    n_cells = cells[1][1] - cells[0][1] + 1
    # Fifteen cells of each column lie at the drain or above it.
    assert value(trial, "trench drain T", "taken_m3") == pytest.approx(15 * n_cells * one, rel=1e-12)
    drop = value(trial, "G", "wall_inflow_m3", "before") - value(trial, "G", "wall_inflow_m3")
    assert drop == pytest.approx(15 * n_columns * one, rel=1e-12, abs=1e-12)
    taken = trial.comparison.improvements.iloc[0]
    assert taken["taken_spread_m3"] <= 15 * COLS * one


def test_water_led_to_an_outlet_comes_out_there_and_not_at_the_garage():
    block = garage_below()
    outlet = Improvement(improvement_id="O", kind="outlet", geometry=point(18, 1))
    trial = tried(block, drain([(14, 4), (14, 9)], to="O"), outlet)
    flow = trial.after.flow
    assert set(flow.link_target.tolist()) == {18 * COLS + 1}
    assert flow.link_cell.tolist() == [14 * COLS + col for col in range(4, 10)]
    before, after = (r.flow.contributing_area_m2[18, 1] for r in (trial.before, trial.after))
    assert after - before == 15 * 6
    # Water that spreads comes out there too, all that the drain takes of it.
    spread = float(dispersive_area_m2(trial.after.flow).ravel()[flow.link_cell].sum())
    gained = dispersive_area_m2(trial.after.flow)[18, 1] - dispersive_area_m2(trial.before.flow)[18, 1]
    assert gained == pytest.approx(spread, rel=0.2)
    assert ("window", "", "moved_m3") in red(trial)


def test_turned_ground_gives_the_same_litres():
    north_south = tried(garage_below(), drain([(14, 4), (14, 9)]))
    elev = np.rot90(plane())
    # Counter-clockwise: row r, col c goes to row COLS - 1 - c, col r.
    block = make_block(elev, structures=[("G", "lot", "garage", box(COLS - 10, 16, COLS - 4, 19))])
    turned = tried(block, drain([(COLS - 5, 14), (COLS - 10, 14)]))
    for subject, statistic in (("trench drain T", "taken_m3"), ("G", "wall_inflow_m3")):
        assert value(turned, subject, statistic) == pytest.approx(value(north_south, subject, statistic), rel=1e-9)


def test_a_drain_in_a_low_spot_empties_it_to_its_own_level():
    row, col = np.mgrid[:ROWS, :COLS]
    bowl = np.minimum(50 + 0.01 * ((row - 10) ** 2 + (col - 6) ** 2), 50.3)
    lowest, higher = (tried(make_block(bowl), drain(cells)) for cells in ([(10, 5), (10, 7)], [(12, 5), (12, 7)]))
    assert value(lowest, "LS-1", "ponded_m3", "before") > 4.0
    assert lowest.after.ponding.ponded_m3 == 0.0
    # Two cells up the bowl the drain lies 0.04 m above its lowest point: water stands to there and no higher.
    assert higher.after.ponding.water_depth_m.max() == pytest.approx(0.04, abs=1e-5)


def neighbours(slope=0.05):
    """Two lots side by side on a plane; the west one is screened."""
    west, east = box(0, 0, 24, 10), box(0, 10, 24, 22)
    block = make_block(plane(slope, 24, 22), lots=[("west", west)])
    lots = make_block(plane(slope, 24, 22), lots=[("west", west), ("east", east)]).lots
    return block, lots


def test_a_berm_that_sends_water_to_the_neighbour_is_a_red_flag():
    block, lots = neighbours()
    # From the west edge down to the lot line: water runs along it to the east.
    berm = Improvement(improvement_id="B", kind="berm", geometry=line([(8, 0), (12, 11)]), numbers={"height_m": 0.5})
    trial = tried(block, berm, lots=lots)
    assert ("neighbour", "east", "run_on_m3") in red(trial)
    gained = trial.comparison.lots.set_index("lot_id").loc["east"]
    assert gained["result"] == "more water" and gained["run_on_difference_m3"] > 50 * cell_m3(trial.before)
    assert not gained["is_chosen"]
    check = trial.comparison.checks.iloc[0]
    assert check["statistic"] == "n_lots" and check["outcome"] == "failed"


def test_a_berm_along_the_fall_changes_nothing_for_the_neighbour():
    block, lots = neighbours()
    berm = Improvement(improvement_id="B", kind="berm", geometry=line([(8, 4), (16, 4)]), numbers={"height_m": 0.5})
    trial = tried(block, berm, lots=lots)
    assert not trial.comparison.lots["is_red_flag"].any()
    assert trial.comparison.lots.set_index("lot_id").loc["east", "run_on_difference_m3"] == pytest.approx(0, abs=1e-12)


def test_a_regrade_makes_the_ground_fall_away_from_the_wall():
    block = garage_below()
    # North of the garage: the wall is its upper edge, 0.30 m above what it was.
    improvement = Improvement(
        improvement_id="R",
        kind="regrade",
        geometry=box(12, 2, 16, 12),
        numbers={"slope_pct": 5.0, "falls_toward_deg": 0.0, "elev_m": 49.6},
    )
    trial = tried(block, improvement)
    ground = trial.after.block.elev_m
    assert ground[12:16, 5].tolist() == pytest.approx([49.45, 49.5, 49.55, 49.6], abs=1e-5)
    assert np.array_equal(ground[:12], block.elev_m[:12]) and np.array_equal(ground[16:], block.elev_m[16:])
    sides = [r.structure_sides.set_index("side") for r in (trial.before, trial.after)]
    before, after = (side.loc["north", "fall_away_pct"] for side in sides)
    assert before == pytest.approx(-5.0, abs=0.01) and after == pytest.approx(5.0, abs=0.01)
    moved = trial.comparison.improvements.iloc[0]
    # Rows 12 to 15 rise by 0.05, 0.15, 0.25 and 0.35 m, ten cells wide.
    assert moved["fill_m3"] == pytest.approx(8.0, abs=1e-4) and moved["cut_m3"] == 0.0
    assert moved["fill_max_m"] == pytest.approx(0.35, abs=1e-5)


def test_a_regrade_without_a_level_keeps_its_upper_edge():
    trial = apply_improvements(
        make_block(plane()),
        improvements(
            Improvement(
                improvement_id="R",
                kind="regrade",
                geometry=box(4, 2, 8, 8),
                numbers={"slope_pct": 10.0, "falls_toward_deg": 180.0},
            )
        ),
        criteria=CRITERIA,
    )
    assert trial.elev_m[4:8, 3].tolist() == pytest.approx([49.8, 49.7, 49.6, 49.5], abs=1e-5)


def test_a_culvert_drains_a_low_spot():
    elev = plane(0.05, 24, 11)
    elev[14, :] += 0.6  # a lane across the slope, between high banks
    elev[:, [0, -1]] += 3.0
    trial = tried(make_block(elev), Improvement(improvement_id="C", kind="culvert", geometry=line([(13, 5), (15, 5)])))
    assert trial.before.ponding.ponded_m3 > 1.0
    assert trial.after.ponding.ponded_m3 < 0.05 * trial.before.ponding.ponded_m3
    assert value(trial, "culvert C", "taken_m3") == pytest.approx(14 * 11 * cell_m3(trial.before), rel=1e-6)
    table = trial.comparison.table
    assert set(table[table["subject_kind"].eq("low spot")]["result"]) <= {"gone", "better"}


def test_a_downspout_moved_takes_the_roof_along():
    block = garage_below(downspouts=[("D", "G", point(15, 6))])
    moved = tried(
        block,
        Improvement(
            improvement_id="N", kind="downspout", geometry=point(12, 1), numbers={}, words={"structure_id": "G"}
        ),
    )
    roof = float(moved.before.storm.runoff_mm[17, 5]) / 1000.0 * 18
    assert value(moved, "downspout N", "taken_m3") == pytest.approx(roof, rel=1e-6)
    assert moved.after.block.downspouts["downspout_id"].tolist() == ["N"]
    assert set(moved.after.surface.conduits.roof_target.tolist()) == {12 * COLS + 1}
    off = tried(
        block,
        Improvement(
            improvement_id="N",
            kind="downspout",
            geometry=point(15, 6),
            numbers={},
            words={"structure_id": "G", "to": "off"},
        ),
    )
    assert value(off, "downspout N", "taken_m3") == pytest.approx(roof, rel=1e-6)
    assert value(off, "", "taken_off_m3") == pytest.approx(roof, rel=1e-6)
    assert off.before.block.downspouts["downspout_id"].tolist() == ["D"]


def test_storage_that_is_too_small_and_a_drain_that_takes_nothing_are_red_flags():
    block = garage_below()
    storage = Improvement(improvement_id="S", kind="storage", geometry=point(18, 1), numbers={"volume_m3": 0.5})
    trial = tried(block, drain([(14, 4), (14, 9)], to="S"), storage)
    assert ("improvements", "storage S", "taken_m3") in red(trial)
    held = trial.comparison.checks[trial.comparison.checks["improvement_id"] == "S"].iloc[0]
    assert held["outcome"] == "failed" and held["value"] == pytest.approx(90 * cell_m3(trial.before))
    uphill = tried(
        block, drain([(14, 4), (14, 9)], to="O"), Improvement(improvement_id="O", kind="outlet", geometry=point(3, 1))
    )
    assert ("improvements", "trench drain T", "taken_m3") in red(uphill)
    assert NoteCode.INTAKE_CELLS_LOW in [note.code for note in uphill.after.notes]


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ((17, 6), "lies inside a structure"),
        ((18, 1), "lies where no elevation is known"),
    ],
)
def test_an_outlet_where_no_water_can_come_out_is_said_and_its_drain_not_laid(place, words):
    elev = plane()
    elev[17:20, 0:3] = np.nan
    block = make_block(elev, structures=[("G", "lot", "garage", box(16, 4, 19, 10))])
    criteria = Criteria.of(void_fill_max_m2=0.0)
    trial = tried(
        block,
        drain([(14, 4), (14, 9)], to="O"),
        Improvement(improvement_id="O", kind="outlet", geometry=point(*place)),
        criteria=criteria,
    )
    notes = [note_words(note) for note in trial.after.notes if note.subject == "improvements"]
    assert any(words in text and "is not laid" in text and "move it" in text for text in notes), notes
    assert not trial.after.flow.link_cell.size


def test_a_drain_smaller_than_its_peak_is_a_red_flag_and_its_dig_is_judged():
    wide = drain([(14, 4), (14, 9)], width_m=0.3, depth_m=1.3, grate_open_frac=0.5, cut_depth_m=1.6)
    block = garage_below()
    assert ("improvements", "trench drain T", "taken_m3") not in red(tried(block, wide))
    thin = drain([(14, 4), (14, 9)], width_m=0.02, depth_m=0.02, grate_open_frac=0.01, cut_depth_m=1.6)
    trial = tried(block, thin)
    assert ("improvements", "trench drain T", "taken_m3") in red(trial)
    checks = trial.comparison.checks.set_index("check")["outcome"]
    assert checks["The cut is too shallow to call for protection against cave-in"] == "failed"
    assert checks["The discharge is permitted"] == "not assessed"
    assert checks["The grate bears the owner's use"] == "not assessed"


def test_the_block_and_its_result_stay_as_they_were():
    block = garage_below()
    alone = screen_block(block, criteria=CRITERIA, rain=RAIN)
    elev = block.elev_m.copy()
    improvement = Improvement(improvement_id="R", kind="regrade", geometry=box(12, 2, 16, 12), numbers={"elev_m": 49.0})
    trial = tried(
        block,
        improvement,
        drain([(10, 4), (10, 9)]),
        Improvement(improvement_id="B", kind="berm", geometry=line([(8, 1), (8, 3)]), numbers={"height_m": 0.3}),
    )
    assert trial.before.block is block and np.array_equal(block.elev_m, elev)
    assert block.barriers.empty and block.intakes == ()
    for name in ("structures", "structure_sides", "summary", "driveways", "flow_paths", "catchments"):
        assert getattr(alone, name).equals(getattr(trial.before, name)), name
    for name in ("filled_elev_m", "receiver", "contributing_area_m2"):
        assert np.array_equal(getattr(alone.flow, name), getattr(trial.before.flow, name), equal_nan=True)
    assert np.array_equal(alone.ponding.water_depth_m, trial.before.ponding.water_depth_m)
    assert repr(alone.verdicts) == repr(trial.before.verdicts)


def test_an_empty_intake_list_routes_as_before_and_works_without_effect_change_nothing():
    block = garage_below()
    trial = tried(
        block, Improvement(improvement_id="S", kind="storage", geometry=point(3, 3), numbers={"volume_m3": 5.0})
    )
    assert np.array_equal(trial.before.flow.receiver, trial.after.flow.receiver)
    changed = trial.comparison.table[~trial.comparison.table["result"].isin(["same", "takes water"])]
    assert changed.empty


@st.composite
def random_improvements(draw):
    cell = st.tuples(st.integers(1, ROWS - 2), st.integers(1, COLS - 2))
    items = []
    for number in range(draw(st.integers(1, 4))):
        kind = draw(st.sampled_from(["off", "outlet", "berm", "swale", "culvert", "regrade"]))
        first, second = draw(cell), draw(cell)
        if first == second:
            second = (first[0], first[1] + 1 if first[1] < COLS - 2 else first[1] - 1)
        way, name = line([first, second]), f"W{number}"
        if kind == "off":
            items.append(drain([first, second], improvement_id=name))
        elif kind == "outlet":
            items.append(drain([first, second], to=f"O{number}", improvement_id=name))
            items.append(Improvement(improvement_id=f"O{number}", kind="outlet", geometry=point(*draw(cell))))
        elif kind == "berm":
            items.append(Improvement(improvement_id=name, kind="berm", geometry=way, numbers={"height_m": 0.4}))
        elif kind == "swale":
            items.append(Improvement(improvement_id=name, kind="swale", geometry=way, numbers={"depth_m": 0.3}))
        elif kind == "culvert":
            items.append(Improvement(improvement_id=name, kind="culvert", geometry=way))
        else:
            row, col = min(first[0], 11), first[1]
            level = {"elev_m": draw(st.floats(48.0, 51.0))}
            items.append(
                Improvement(
                    improvement_id=name, kind="regrade", geometry=box(row, col, row + 2, col + 2), numbers=level
                )
            )
    return items


def routed(block):
    """Where water goes on a block, and what a storm leaves standing."""
    site = lay_site(block, criteria=CRITERIA)
    storm = design_storm(block, site.surface, rain=RAIN, criteria=CRITERIA)
    water = route_water(block, site.surface, site.crossings, rain=RAIN, criteria=CRITERIA)
    ponding = pond_storm(water.flow, water.hierarchy, water.basins, water.low_spots, storm, inflow=water.flow.inflow)
    return water.flow, ponding


@settings(max_examples=60, deadline=None, phases=(Phase.explicit, Phase.reuse, Phase.generate))
@given(items=random_improvements(), seed=st.integers(0, 2**31))
def test_water_is_neither_made_nor_lost_whatever_is_built(items, seed):
    rng = np.random.default_rng(seed)
    elev = plane() + rng.normal(0, 0.15, (ROWS, COLS))
    block = make_block(elev, structures=[("G", "lot", "garage", box(15, 4, 18, 9))])
    before, after = routed(block), routed(apply_improvements(block, improvements(*items), criteria=CRITERIA))
    for flow, pond in (before, after):
        assert pond.rain_m3 == pytest.approx(pond.abstracted_m3 + pond.ponded_m3 + pond.left_window_m3, rel=1e-9)
        assert float(pond.water_depth_m.sum()) == pytest.approx(pond.ponded_m3, rel=1e-4, abs=1e-4)
        ends = flow.receiver == np.arange(flow.receiver.size)
        # All ground drains out, once: no cycle takes any away.
        assert float(flow.contributing_area_m2.ravel()[ends].sum()) == pytest.approx(ROWS * COLS, rel=1e-9)
        lost = (flow.flow_dir_d8.ravel() == 9) & ~np.isin(np.arange(ends.size), flow.link_cell)
        assert float(dispersive_area_m2(flow).ravel()[lost].sum()) == pytest.approx(ROWS * COLS, rel=1e-9)
    assert before[1].rain_m3 == after[1].rain_m3


def test_works_that_do_not_fit_are_refused_by_name():
    block = garage_below(barriers=[("B", "wall", 0.5, line([(3, 3), (3, 6)]))])
    for improvement, words in (
        (
            Improvement(improvement_id="B", kind="wall", geometry=line([(5, 3), (5, 6)]), numbers={"height_m": 1.0}),
            "barrier_id of something that is there",
        ),
        (
            Improvement(improvement_id="X", kind="berm", geometry=line([(5, 3), (5, 60)]), numbers={"height_m": 1.0}),
            "outside the elevation",
        ),
        (
            Improvement(
                improvement_id="D", kind="downspout", geometry=point(5, 5), numbers={}, words={"structure_id": "H"}
            ),
            "structure that is not there",
        ),
        (Improvement(improvement_id="D", kind="downspout", geometry=point(2, 2)), "no structure is near"),
        (
            Improvement(improvement_id="R", kind="regrade", geometry=box(17, 5, 18, 6), numbers={"elev_m": 50.0}),
            "changes no ground",
        ),
    ):
        with pytest.raises(InputError, match=words):
            apply_improvements(block, improvements(improvement), criteria=CRITERIA)
    with pytest.raises(InputError, match="another CRS"):
        apply_improvements(block, Improvements(crs="EPSG:26918", items=()), criteria=CRITERIA)


def test_the_window_has_to_close_before_and_after():
    block = garage_below()
    own = look_with_improvements(block, improvements(drain([(14, 4), (14, 9)])), criteria=CRITERIA)
    plain = look_with_improvements(block, improvements(), criteria=CRITERIA)
    assert own.level_m.size == plain.level_m.size and own.open_sides == plain.open_sides
    berm = improvements(
        Improvement(improvement_id="B", kind="berm", geometry=line([(19, 0), (19, 13)]), numbers={"height_m": 1.0})
    )
    # A berm along the lower edge holds water up to the sides: what it may spill to is not seen there.
    assert look_with_improvements(block, berm, criteria=CRITERIA).open_sides >= plain.open_sides


def test_structures_of_neighbours_are_compared_too():
    block, lots = neighbours()
    block = dataclasses.replace(
        block, structures=make_block(plane(), structures=[("H", "", "house", box(16, 14, 20, 19))]).structures
    )
    berm = Improvement(improvement_id="B", kind="berm", geometry=line([(8, 0), (12, 16)]), numbers={"height_m": 0.5})
    trial = tried(block, berm, lots=lots)
    assert value(trial, "H", "wall_inflow_m3") > value(trial, "H", "wall_inflow_m3", "before")
    assert ("structure", "H", "wall_inflow_m3") in red(trial)


def test_a_swale_is_dug_and_led_somewhere_by_leave():
    trial = tried(
        garage_below(),
        Improvement(improvement_id="S", kind="swale", geometry=line([(12, 2), (12, 11)]), numbers={"depth_m": 0.4}),
    )
    checks = trial.comparison.checks[trial.comparison.checks["improvement_id"] == "S"]
    assert checks["check"].tolist()[-1] == "The discharge is permitted" and len(checks) == 3
    change = trial.after.surface.changes.iloc[0]
    assert change["source_id"] == "S" and change["cut_max_m"] >= 0.4 and change["raised_max_m"] == 0.0
    assert trial.comparison.improvements["cut_max_m"].iloc[0] == change["cut_max_m"]


def test_a_culvert_that_says_how_deep_it_is_dug():
    elev = plane(0.05, 24, 11)
    elev[14, :] += 0.6
    pipe = line([(13, 5), (15, 5)])
    said = tried(
        make_block(elev), Improvement(improvement_id="C", kind="culvert", geometry=pipe, numbers={"cut_depth_m": 1.7})
    )
    assert said.comparison.improvements["cut_max_m"].iloc[0] == 1.7
    inverts = tried(
        make_block(elev),
        Improvement(
            improvement_id="C", kind="culvert", geometry=pipe, numbers={"invert_up_m": 49.0, "invert_down_m": 48.9}
        ),
    )
    # Over the line between its inverts the lane is the highest: 50 - 14 x 0.05 + 0.6 - 48.95.
    assert inverts.comparison.improvements["cut_max_m"].iloc[0] == pytest.approx(0.95, abs=1e-4)
    neither = tried(make_block(elev), Improvement(improvement_id="C", kind="culvert", geometry=pipe))
    assert np.isnan(neither.comparison.improvements["cut_max_m"].iloc[0])


def test_a_drain_with_a_pipe_knows_its_fall_only_where_it_has_an_outlet():
    size = {"width_m": 0.3, "depth_m": 0.2, "grate_open_frac": 0.5, "pipe_diameter_m": 0.15}
    outlet = Improvement(improvement_id="O", kind="outlet", geometry=point(19, 1))
    led = tried(garage_below(), drain([(14, 4), (14, 9)], to="O", **size), outlet)
    off = tried(garage_below(), drain([(14, 4), (14, 9)], **size))
    assert led.comparison.improvements["capacity_l_s"].iloc[0] > 0
    assert off.comparison.improvements["capacity_l_s"].iloc[0] > 0
    ditch = Improvement(improvement_id="O", kind="outlet", geometry=shapely.LineString([point(18, 2), point(19, 1)]))
    assert outlet_of(drain([(14, 4), (14, 9)], to="O"), improvements(ditch)) == point(19, 1)
