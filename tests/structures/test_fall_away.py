"""Fall of the ground away from walls: exact on planes, silent where the data cannot tell."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from screening.models import Rain
from screening.pipeline import screen_block
from screening.report.words.structures import exposure_words
from screening.report.words.verdicts import note_words, row_of
from screening.schema.codes.verdicts import VerdictReason
from screening.schema.criteria import Criteria
from screening.structures.fall_away import bare_earth_of, judge_fall, measure_fall_away, two_point_error_m
from screening.structures.walls import find_walls
from screening.terrain.surface import build_surface
from tests.blocks import NORTH, WEST, box, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
SHAPE = (40, 50)
HOUSE = ("H", "lot", "house", box(15, 18, 23, 30))


def plane(east_pct, south_pct, *, shape=SHAPE, cell_m=1.0):
    """Ground that falls so much to the east and to the south."""
    row, col = np.mgrid[: shape[0], : shape[1]] * cell_m
    return 100 - (east_pct * col + south_pct * row) / 100


def falls(block, *, criteria=None, lot=True):
    """Fall of each side of the first structure, by name."""
    criteria = criteria or Criteria()
    surface = build_surface(block, criteria=criteria)
    ground = bare_earth_of(block, surface)
    shape = block.lots.geometry.iloc[0] if lot else None
    sides = [side for side in find_walls(block, surface).sides if side.structure == 0]
    found = measure_fall_away(sides, [shape] * len(sides), ground, criteria=criteria)
    return {side.name: fall for side, fall in zip(sides, found, strict=True)}


def percents(found):
    return {name: fall.fall_away_pct for name, fall in found.items()}


def test_exact_on_a_plane():
    found = falls(make_block(plane(3.0, 7.0), structures=[HOUSE]))
    assert percents(found) == pytest.approx({"north": -7, "east": 3, "south": 7, "west": -3}, abs=0.002)
    assert {fall.required_pct for fall in found.values()} == {5.0}
    # From the first height free of the house to 10 ft.
    assert all(2.3 < fall.distance_m < 2.55 for fall in found.values())


@pytest.mark.parametrize("degrees", [20, 30, 45])
def test_exact_on_a_plane_for_a_house_at_an_angle(degrees):
    turned = affinity.rotate(HOUSE[-1], degrees)
    found = falls(make_block(plane(3.0, 7.0), structures=[(*HOUSE[:-1], turned)]))
    angle = np.deg2rad(degrees)
    # The wall that faced south faces more to the east: its way out is (sin, -cos).
    south = 3 * np.sin(angle) + 7 * np.cos(angle)
    east = 3 * np.cos(angle) - 7 * np.sin(angle)
    expected = sorted([south, -south, east, -east])
    assert sorted(percents(found).values()) == pytest.approx(expected, abs=0.003)


@pytest.mark.parametrize(("cell_m", "is_told"), [(0.5, True), (1.0, True), (2.0, True), (3.0, False)])
def test_what_a_grid_can_show(cell_m, is_told):
    """Three metres hold two heights of a 2 m grid, and one of a 3 m grid."""
    house = ("H", "lot", "house", box(15, 18, 23, 30, cell_m=cell_m))
    found = falls(make_block(plane(3.0, 7.0, cell_m=cell_m), cell_m=cell_m, structures=[house]))
    for name, expected in {"north": -7, "east": 3, "south": 7, "west": -3}.items():
        fall = found[name].fall_away_pct
        assert fall == pytest.approx(expected, abs=0.002) if is_told else np.isnan(fall)


def test_feet_are_metres():
    def criteria(factor):
        return Criteria.of(fall_away_distance_m=3.048 * factor, elevation_rmse_m=0.1 * factor)

    first = falls(make_block(plane(3.0, 7.0), structures=[HOUSE]), criteria=criteria(1.0))
    house = ("H", "lot", "house", box(15, 18, 23, 30, cell_m=0.3048))
    ground = (100 - (100 - plane(3.0, 7.0))) * 0.3048
    second = falls(make_block(ground, cell_m=0.3048, structures=[house]), criteria=criteria(0.3048))
    assert percents(second) == pytest.approx(percents(first), abs=0.003)
    assert second["north"].error_pct == pytest.approx(first["north"].error_pct, rel=1e-6)


def test_a_profile_ends_at_the_lot_line():
    """A bank beyond the line, 2 m from the wall, is the neighbour's."""
    ground = plane(0.0, 5.0)
    ground[25:] -= 3
    lots = [("lot", box(0, 0, 25, 50))]
    found = falls(make_block(ground, lots=lots, structures=[HOUSE]))
    # Read between cells near the line, so one sample may feel the bank: the line is half a cell from its last cell.
    assert found["south"].distance_m < 1.5
    without = falls(make_block(ground, lots=lots, structures=[HOUSE]), lot=False)
    assert without["south"].fall_away_pct > 50
    assert found["north"].distance_m == pytest.approx(without["north"].distance_m)


def test_a_wall_on_the_lot_line_is_not_assessed():
    found = falls(make_block(plane(0.0, 5.0), lots=[("lot", box(0, 0, 23, 50))], structures=[HOUSE]))
    assert np.isnan(found["south"].fall_away_pct)
    assert found["north"].fall_away_pct == pytest.approx(-5, abs=0.002)


def test_a_profile_ends_at_another_structure_and_at_a_gap():
    ground = plane(0.0, 5.0)
    ground[:14, :] = np.nan
    block = make_block(ground, structures=[HOUSE, ("S", "lot", "shed", box(25, 18, 28, 30))])
    found = falls(block, criteria=Criteria.of(void_fill_max_m2=0.0))
    assert np.isnan(found["north"].fall_away_pct)
    assert found["south"].fall_away_pct == pytest.approx(5, abs=0.002)
    assert found["south"].distance_m == pytest.approx(1.0, abs=0.3)


def test_ground_that_was_filled_in_is_no_measurement():
    ground = plane(0.0, 5.0)
    ground[23:27, 16:32] = np.nan
    found = falls(make_block(ground, structures=[HOUSE]))
    assert np.isnan(found["south"].fall_away_pct)
    assert not np.isnan(found["north"].fall_away_pct)


def test_ground_under_the_house_has_no_part():
    ground = plane(0.0, 5.0)
    ground[15:23, 18:30] = 250
    found = falls(make_block(ground, structures=[HOUSE]))
    assert percents(found) == pytest.approx({"north": -5, "east": 0, "south": 5, "west": 0}, abs=0.002)


def test_the_median_does_not_follow_a_single_hole():
    ground = plane(0.0, 5.0)
    ground[24:26, 20:22] -= 5
    assert falls(make_block(ground, structures=[HOUSE]))["south"].fall_away_pct == pytest.approx(5, abs=0.002)


def test_less_is_sought_over_pavement():
    """IRC R401.3, exception: 2 % over impervious surfaces (quoted by others)."""
    driveways = [("D", "lot", "driveway", box(23, 18, 40, 26))]
    found = falls(make_block(plane(0.0, 3.0), structures=[HOUSE], driveways=driveways))
    south = found["south"]
    assert south.paved_frac == pytest.approx(8 / 12)
    assert (south.required_pct, found["north"].required_pct) == (2.0, 5.0)


@pytest.mark.parametrize(("inches", "outcome"), [(6.0, "passed"), (5.9, "failed")])
def test_six_inches_in_ten_feet(inches, outcome):
    """IRC R401.3: 6 in within the first 10 ft passes and 5.9 in fails, if the elevation had no error."""
    assert Criteria().structures.fall_away_min_pct == pytest.approx(6.0 / 120 * 100)
    assert judge_fall(inches / 120 * 100, 5.0, 0.0) == outcome


def test_lidar_cannot_prove_it():
    """Quality level 2, RMSE 10 cm: two points differ by up to 27.7 cm at 95 %, more than the 15.24 cm sought."""
    assert two_point_error_m(0.10) == pytest.approx(0.277, abs=0.0005)
    assert two_point_error_m(0.10) > 6 * 0.0254
    error = two_point_error_m(0.10) / 3.048 * 100
    # 1.96 standard deviations of the slope over 10 ft, each 4.64 %.
    assert error / 1.96 == pytest.approx(4.64, abs=0.005)
    assert judge_fall(5.0, 5.0, error) == judge_fall(13.0, 5.0, error) == judge_fall(-3.0, 5.0, error) == "not assessed"
    assert judge_fall(-5.0, 5.0, error) == "failed" and judge_fall(15.0, 5.0, error) == "passed"
    assert judge_fall(np.nan, 5.0, error) == judge_fall(9.0, 5.0, np.nan) == "not assessed"


@pytest.mark.parametrize(("rmse_m", "outcome"), [(0.10, "not assessed"), (0.01, "failed")])
def test_the_verdict_needs_elevation_that_can_tell(rmse_m, outcome):
    block = make_block(plane(0.0, 2.0), structures=[HOUSE])
    result = screen_block(block, criteria=Criteria.of(elevation_rmse_m=rmse_m), rain=RAIN)
    (verdict,) = [v for v in result.verdicts if v.statistic == "fall_away_pct"]
    assert verdict.outcome == outcome and verdict.is_indicative
    assert verdict.value == pytest.approx(-2, abs=0.002) and verdict.threshold == 5.0
    assert verdict.reasons == (VerdictReason.BEYOND_ERROR if outcome == "failed" else VerdictReason.INSIDE_ERROR,)
    note = note_words(row_of(verdict), result.criteria)
    assert note.startswith("indicative, least at the north side: ") and "two-point error" in note
    assert verdict.points == (1.0 if outcome == "failed" else 0.0)
    said = "falls 2.0% toward the north side (indicative" in exposure_words(result.structures.iloc[0], result.criteria)
    assert said == (outcome == "failed")


def test_one_unknown_side_is_no_pass():
    dome = 100 - 0.2 * np.maximum(np.abs(np.mgrid[:40, :50][0] - 18.5) - 4, np.abs(np.mgrid[:40, :50][1] - 23.5) - 6)
    criteria = Criteria.of(elevation_rmse_m=0.01, void_fill_max_m2=0.0)

    def outcome(ground):
        result = screen_block(make_block(ground, structures=[HOUSE]), criteria=criteria, rain=RAIN)
        (verdict,) = [v for v in result.verdicts if v.statistic == "fall_away_pct"]
        return verdict.outcome

    assert outcome(dome) == "passed"
    dome[24:30] = np.nan
    assert outcome(dome) == "not assessed"


def test_lowest_adjacent_grade_on_a_plane():
    """10 x 8 m footprint on z = 100 + 0.03 x + 0.01 y: 100.00 m at its corner, from the cells beside it.

    Their centres lie half a cell off, so the error halves with the cell.
    """
    for cell_m in (1.0, 0.5, 0.25):
        shape = (int(16 / cell_m), int(20 / cell_m))
        # Row 0 in the north: the corner at x = y = 0 stands 4 m from the west and the south edge.
        x = (np.arange(shape[1]) + 0.5) * cell_m - 4
        y = 12 - (np.arange(shape[0]) + 0.5) * cell_m
        ground = 100 + 0.03 * x[np.newaxis] + 0.01 * y[:, np.newaxis]
        footprint = shapely.box(WEST + 4, NORTH - 12, WEST + 14, NORTH - 4)
        block = make_block(ground, cell_m=cell_m, structures=[("H", "lot", "house", footprint)])
        result = screen_block(block, criteria=Criteria(), rain=RAIN)
        (grade,) = result.structures.lowest_adjacent_grade_m
        assert grade == pytest.approx(100.0 - 0.02 * cell_m, abs=2e-5)
        assert result.structure_sides.lowest_grade_m.min() == grade
