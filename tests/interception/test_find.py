"""Lines across a driveway: what they take, what bypasses it, how they are ranked, and how their drain is checked."""

import json

import numpy as np
import pytest
import shapely
from affine import Affine
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.flow.dispersive import fraction_reaching
from screening.interception.water import arrives_at_walls, at_walls, gather_water, intercept
from screening.models import Rain, RainfallTable, SiteRequest
from screening.pipeline import screen_block
from screening.report.words import with_sentences
from screening.schema.codes.outfall import Outfall
from screening.schema.criteria import DISPERSIVE_METHODS, Criteria
from screening.site.samples import samples_dir
from screening.site.screen import screen_site
from screening.storm.rainfall_tables import rain_of_depth
from screening.units import M3_PER_FT3, M_PER_FT
from tests.blocks import CRS, NORTH, WEST, box, make_block
from tests.inputs.files import write_layer, write_raster

TRUTH = json.loads((samples_dir() / "truth.json").read_text())["garages"]
RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
TABLE = RainfallTable(
    durations_h=(5 / 60, 1.0, 24.0),
    return_periods_yr=(1.0, 10.0, 100.0),
    depth_mm=((8.0, 15.0, 22.0), (25.0, 45.0, 70.0), (60.0, 120.0, 190.0)),
    source="invented",
)
# One direction a cell, so that water on a plane along an axis keeps to its column and shares are exact.
STRAIGHT = Criteria.of(dispersive_method="d-infinity")
GARAGE, DRIVEWAY = (30, 12, 36, 18), (10, 13, 30, 17)
SHAPE = (44, 31)


def screened(elev, *, criteria=STRAIGHT, rain=RAIN, garage=GARAGE, driveway=DRIVEWAY, cell_m=1.0, **layers):
    block = make_block(
        elev,
        cell_m=cell_m,
        structures=[("G", "lot", "garage", box(*garage, cell_m=cell_m))],
        driveways=[("D", "lot", "driveway", box(*driveway, cell_m=cell_m))],
        **layers,
    )
    return screen_block(block, criteria=criteria, rain=rain)


def ground(south_fall=0.05, across=0.0):
    """A plane to the south, with a height across by distance from the driveway's middle."""
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    return 50 - south_fall * row + across * np.minimum(np.abs(col - 14.5), 6.0)


def all_lines(elev, **more):
    """Every line across the driveway, not the best few, flagged or not."""
    criteria = STRAIGHT.replaced(
        interception_lines_kept=100, interception_end_m=0.9, driveway_to_structure_flag_frac=0.0
    )
    result = screened(elev, criteria=criteria, **more)
    lines = result.interception.lines
    lines = lines[lines.runs == "across the driveway"]
    return result, lines.assign(row=[int(NORTH - line.centroid.y) for line in lines.geometry])


def test_on_a_plane_each_line_takes_what_falls_above_it():
    result, lines = all_lines(ground())
    runoff_m3 = result.storm.runoff_mm.astype(float) / 1000.0
    assert sorted(lines.row) == list(range(10, 30))
    for line in lines.itertuples():
        # The line's own row among what it takes: four columns from the top of the window down to it.
        assert line.captured_m3 == pytest.approx(runoff_m3[: line.row + 1, 13:17].sum() + roof(result, line.row))
        assert line.captured_area_m2 >= 4 * (line.row + 1)
        assert line.length_m == pytest.approx(4.0) and line.from_wall_m == pytest.approx(29.5 - line.row)
        assert line.intercepted_m3 + line.bypass_m3 == pytest.approx(line.arriving_m3, rel=1e-12)
        assert line.intercepted_m3 == pytest.approx(line.captured_m3)
        assert line.bypass_frac == pytest.approx(line.bypass_m3 / line.arriving_m3)
    first = lines[lines.row == 29].iloc[0]
    assert first.place == "garage front" and first.bypass_m3 == 0.0
    assert first.captured_m3 == pytest.approx(first.arriving_m3, rel=1e-12)


def roof(result, row):
    """What of the garage's roof drains to the last row of the driveway."""
    if row < 29:
        return 0.0
    own = np.zeros(result.flow.grid.shape, bool)
    own[29, 13:17] = True
    above = [cell for cell in np.flatnonzero(result.surface.structure_index.ravel()) if meets(result, cell, own)]
    return result.storm.runoff_mm.ravel()[above].astype(float).sum() / 1000.0


def meets(result, cell, own):
    while not own.ravel()[cell]:
        after = int(result.flow.receiver[cell])
        if after == cell:
            return False
        cell = after
    return True


def test_half_way_keeps_off_half_of_the_driveways_own_water():
    # A wall at its head: no water comes on from above, and the roof drains to the back.
    elev = ground()
    elev[:9] -= 3.0
    elev[9] += 1.0
    back = ("S", "G", shapely.Point(WEST + 15, NORTH - 36))
    result, lines = all_lines(elev, downspouts=[back])
    by_row = lines.set_index("row")
    assert by_row.arriving_m3.iloc[0] == pytest.approx(80 * result.storm.runoff_mm[20, 15] / 1000.0)
    for row in range(10, 30):
        assert by_row.bypass_frac[row] == pytest.approx((29 - row) / 20, abs=1e-12)


def test_the_three_places_are_compared_and_the_garage_front_comes_first():
    lines = screened(ground()).interception.lines
    assert lines.line_rank.tolist() == list(range(1, len(lines) + 1))
    assert len(lines) <= STRAIGHT.interception.interception_lines_kept
    assert lines.place.iloc[0] == "garage front" and set(lines.place) == {"garage front", "mid-slope", "street side"}
    assert lines.bypass_frac.is_monotonic_increasing
    assert lines.structure_id.eq("G").all() and lines.n_lines_tried.eq(20).all()


def test_on_a_crown_the_garage_front_takes_less_and_a_v_gathers_all():
    plane, crown, valley = (all_lines(ground(across=across))[1].set_index("row") for across in (0.0, -0.04, 0.04))
    assert crown.arriving_m3[29] < plane.arriving_m3[29] < valley.arriving_m3[29]
    assert plane.bypass_m3[29] == pytest.approx(0.0, abs=1e-12) == valley.bypass_m3[29]
    # Off the crown some runs down beside the driveway to the corners of the garage, which is wider by a metre.
    assert 0.0 < crown.bypass_frac[29] < 0.5
    for lines in (plane, crown, valley):
        assert (lines.intercepted_m3 <= lines.captured_m3 + 1e-9).all()
        # By a millionth more past the last lines but one on the crown: what they take would have come to the next.
        assert (np.diff(lines.sort_index().bypass_m3) < 1e-5).all()
    # What a crown sheds sideways halfway down never comes to the garage: the line there takes more than it intercepts.
    assert crown.captured_m3[15] > 2 * crown.intercepted_m3[15]
    assert valley.captured_m3[15] == pytest.approx(valley.intercepted_m3[15])


def test_on_warped_ground_lines_follow_the_contour_too():
    row, col = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    any_share = STRAIGHT.replaced(driveway_to_structure_flag_frac=0.0)
    warped = 50 - 0.04 * row - 0.02 * col - 0.001 * (row - 20) * (col - 15)
    lines = screened(warped, criteria=any_share).interception.lines
    assert {"across the driveway", "along the contour"} <= set(lines.runs)
    assert (lines.intercepted_m3 + lines.bypass_m3).to_numpy() == pytest.approx(lines.arriving_m3.to_numpy())


def test_a_driveway_that_falls_to_the_street_has_no_lines():
    result = screened(ground(-0.05))
    assert result.interception.lines.empty and result.interception.outlets.empty and not result.interception.verdicts


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), method=st.sampled_from(DISPERSIVE_METHODS), row=st.integers(11, 29))
def test_what_arrives_is_what_is_kept_off_and_what_slips_past(seed, method, row):
    """Kept off: what comes to each cell of the line, times the share of it that would have come to walls, which is
    found upward from the walls and not downward from the line.
    """
    rng = np.random.default_rng(seed)
    elev = ground(0.03) + rng.normal(0, rng.choice([0.0, 0.02, 0.2]), SHAPE)
    result = screened(elev, criteria=Criteria.of(dispersive_method=method))
    flow, grid = result.flow, result.flow.grid
    label = np.zeros(grid.shape, bool)
    label[10:30, 13:17] = True
    wall = np.zeros(grid.shape, bool)
    wall[29:37, 11:19] = True
    wall[30:36, 12:18] = False
    amounts = np.stack([result.storm.runoff_mm.ravel().astype(float), rng.random(elev.size)])
    pen = np.arange(elev.size)
    water = gather_water(flow, amounts, driveway=np.flatnonzero(label), pen=pen, wall=np.flatnonzero(wall))
    # The window is the lot: all that drains to the driveway, each cell's water once, is what enters it.
    assert (water.entering[:, ~label[: water.entering.shape[1], : water.entering.shape[2]]] == 0.0).all()
    line = np.flatnonzero(label & (np.mgrid[: SHAPE[0], : SHAPE[1]][0] == row))
    taken, past = intercept(water, line)
    share = fraction_reaching(flow, wall, pen=np.ones(grid.shape, np.int32)).ravel()
    without = arrives_at_walls(water)
    assert (taken * share[line]).sum(axis=1) + past == pytest.approx(without, rel=1e-9, abs=1e-12)
    cells, amount = at_walls(water)
    assert amount.sum() == pytest.approx(without[0], rel=1e-12)
    assert wall.ravel()[cells].all()


def test_peaks_follow_the_ground_that_drains_to_the_line():
    """Rational method: twice the ground of one cover over one time gives twice the peak."""
    _, lines = all_lines(ground(), rain=rain_of_depth(80.0, TABLE))
    by_row = lines.set_index("row")
    assert (by_row.captured_l_s > 0).all()
    assert by_row.sort_index().captured_l_s.is_monotonic_increasing
    front = by_row.loc[29]
    assert front.captured_l_s == pytest.approx(front.arriving_l_s) and front.bypass_l_s == 0.0
    graphical = all_lines(ground())[1].set_index("row")
    assert (graphical.captured_l_s > 0).all()


def turned(turns):
    size = 45
    row, col = np.mgrid[:size, :size].astype(float)
    elev = 50 - 0.05 * row + 0.02 * np.cos(row * 0.7) + 0.01 * np.sin(col * 1.3)
    shapes = {}
    for name, (top, left, bottom, right) in {"garage": (30, 18, 36, 26), "driveway": (10, 20, 30, 24)}.items():
        mask = np.zeros((size, size), bool)
        mask[top:bottom, left:right] = True
        rows, cols = np.nonzero(np.rot90(mask, turns))
        shapes[name] = (rows.min(), cols.min(), rows.max() + 1, cols.max() + 1)
    # A level roof drains by the fixed order of neighbours, which does not turn: here it drains at its far side.
    far = np.zeros((size, size), bool)
    far[36, 21] = True
    far_row, far_col = np.argwhere(np.rot90(far, turns))[0]
    downspout = ("S", "G", shapely.Point(WEST + far_col + 0.5, NORTH - far_row - 0.5))
    return screened(np.rot90(elev, turns), criteria=Criteria(), downspouts=[downspout], **shapes).interception


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_lines_turn_with_the_ground(turns):
    names = [
        "place",
        "runs",
        "length_m",
        "from_wall_m",
        "captured_m3",
        "bypass_m3",
        "captured_l_s",
        "outlet",
        "outlet_depth_m",
        "outlet_length_m",
        "drain_capacity_l_s",
        "n_lines_tried",
    ]
    was, now = turned(0).lines[names], turned(turns).lines[names]
    assert len(was) > 2
    for name in names:
        if was[name].dtype == object:
            assert was[name].tolist() == now[name].tolist(), name
        else:
            # Elevations are float32.
            assert now[name].to_numpy() == pytest.approx(was[name].to_numpy(), rel=1e-4, abs=1e-4, nan_ok=True), name


def test_shifted_in_height_the_lines_are_the_same():
    low, high = screened(ground()).interception.lines, screened(ground() + 100.0).interception.lines
    for name in ("captured_m3", "bypass_m3", "outlet_depth_m", "cut_depth_m"):
        assert high[name].to_numpy() == pytest.approx(low[name].to_numpy(), abs=1e-4), name


def test_the_drain_in_the_best_line_is_checked():
    result = screened(ground(), rain=rain_of_depth(80.0, TABLE))
    lines, verdicts = result.interception.lines, result.interception.verdicts
    best = lines.iloc[0]
    assert best.drain_capacity_l_s > best.captured_l_s and best.drain_bypass_l_s == 0.0
    assert lines.drain_capacity_l_s.iloc[1:].isna().all()
    # Common practice, no published source: a unit of 6 ft holds about 4.7 cubic feet.
    assert best.n_units == 3
    # Level, it would hold as much on each foot; it falls by half a per cent, so a little less.
    assert best.drain_storage_m3 / best.length_m * 1.8288 / M3_PER_FT3 == pytest.approx(4.7, rel=0.05)
    own = [verdict for verdict in verdicts if verdict.subject_id == best.line_id]
    assert {v.statistic for v in own} >= {
        "bypass_frac",
        "fall_available_m",
        "grate_m3_s",
        "channel_m3_s",
        "pipe_m3_s",
        "velocity_m_s",
        "cut_depth_m",
    }
    for verdict in verdicts:
        assert verdict.statistic.endswith(verdict.unit) and dict(verdict.facts)["source"] and verdict.aspect == "remedy"
        assert verdict.points == 0.0
    by_statistic = {v.statistic: v for v in own}
    assert by_statistic["bypass_frac"].outcome == "passed"
    assert by_statistic["grate_m3_s"].threshold == pytest.approx(best.captured_l_s / 1000.0)
    assert by_statistic["has_discharge_permission"].outcome == "not assessed"


def test_more_lines_are_tried_with_a_drain_if_asked_for():
    result = screened(ground(), criteria=STRAIGHT.replaced(interception_drains_tried=2))
    assert result.interception.lines.drain_capacity_l_s.notna().tolist()[:3] == [True, True, False]


def test_planted_garages_of_the_sample(sample_result):
    """What takes water has lines and nothing else has; only where the street's gutter runs in does a line on the
    street side keep most of it off.
    """
    lines = sample_result.interception.lines
    planted = [drive for drive in TRUTH["driveways"] if drive["garage_id"] in TRUTH["take_water"]]
    assert set(lines.driveway_id) == {drive["driveway_id"] for drive in planted}
    for drive in planted:
        own = lines[lines.driveway_id == drive["driveway_id"]]
        assert {"garage front", "street side"} <= set(own.place)
        assert (own.intercepted_m3 + own.bypass_m3).to_numpy() == pytest.approx(own.arriving_m3.to_numpy())
        on_street_side = own[own.place == "street side"].bypass_frac.min()
        if drive["takes_street_water"]:
            assert on_street_side < 0.2 and own.captured_area_m2.max() > 500.0
        elif drive["driveway_id"] != "D-18":  # along the wall of its house the whole way, so its far side is no end
            assert on_street_side > 0.9


def test_without_a_way_out_the_pipe_is_not_assessed():
    # Ground falls by 2 %, a pipe by 1: over the 15 m below the garage front it gains less than the channel is deep.
    result = screened(ground(0.02))
    best = result.interception.lines.iloc[0]
    assert best.outlet == Outfall.NONE and result.interception.outlets.empty
    outcomes = {v.statistic: v.outcome for v in result.interception.verdicts if v.subject_id == best.line_id}
    assert outcomes["pipe_m3_s"] == "not assessed" and outcomes["pipe_slope_pct"] == "not assessed"
    # What comes nearest is told with what it lacks.
    assert outcomes["fall_available_m"] == "failed"
    assert best.fall_available_m < best.fall_needed_m
    told = with_sentences("interception_lines", result.interception.lines, result.criteria)
    assert "no outfall by gravity was found" in told.why.iloc[0]


def test_ground_that_may_take_water_is_a_way_out():
    soils = [("1", "B", box(0, 0, *SHAPE))]
    result = screened(ground(0.02), soils=soils)
    outlets = result.interception.outlets
    assert outlets.kind.iloc[0] == Outfall.ZONE
    assert outlets.zone_id.iloc[0] in result.zones.table.zone_id.tolist()
    assert (outlets.fall_available_m >= outlets.fall_needed_m - 1e-6).all()
    zone = result.zones.table.set_index("zone_id").geometry
    for outlet in outlets.itertuples():
        end = shapely.Point(outlet.geometry.coords[-1])
        assert zone[outlet.zone_id].covers(end)
    # Soil that is not known takes nothing for granted.
    unknown = screened(ground(0.02), soils=[("1", "unknown", box(0, 0, *SHAPE))]).interception
    assert unknown.outlets.empty


def test_elevation_in_feet_gives_the_same_lines(tmp_path):
    elev = ground().astype(np.float64)
    layers = {
        "lots": write_layer(tmp_path / "lots.gpkg", [box(2, 2, 42, 29)], crs=CRS, lot_id=["a"]),
        "structures": write_layer(tmp_path / "structures.gpkg", [box(*GARAGE)], crs=CRS, structure_id=["G"]),
        "driveways": write_layer(tmp_path / "driveways.gpkg", [box(*DRIVEWAY)], crs=CRS, driveway_id=["D"]),
    }
    found = {}
    for unit, factor in (("m", 1.0), ("ft", M_PER_FT)):
        path = write_raster(
            tmp_path / f"{unit}.tif",
            (elev / factor).astype(np.float32),
            crs=CRS,
            unit=None,
            transform=Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH),
        )
        request = SiteRequest(elevation=path, vertical_unit=unit, **layers)
        found[unit] = screen_site(request, rain=RAIN, criteria=STRAIGHT).result.interception.lines
    metres, feet = found["m"], found["ft"]
    assert len(metres) > 2 and feet.place.tolist() == metres.place.tolist()
    for name in ("length_m", "captured_m3", "bypass_m3", "captured_l_s", "outlet_depth_m", "invert_elev_m"):
        assert feet[name].to_numpy() == pytest.approx(metres[name].to_numpy(), rel=1e-5), name
