"""Nothing is made or lost, nothing depends on how the ground is turned, and a failed run is said."""

import numpy as np
import pytest

from screening.errors import CriteriaError, InputError, ScreeningError
from screening.motion.settings import SETTINGS, MotionSettings, roughness_of, sources
from screening.schema.covers import COVERS
from tests.made_ground import bumps
from tests.motion.runs import FREE, mm_h, move

USUAL = MotionSettings(output_s=30.0)


def _rough_hill(n_rows=48, n_cols=60):
    from scipy.ndimage import gaussian_filter

    elev = gaussian_filter(bumps(n_rows, n_cols, 3).astype(float), 2.0) * 2.0
    elev += 20.0 - 0.04 * np.arange(n_rows)[:, np.newaxis]
    is_wall = np.zeros(elev.shape, bool)
    is_wall[15:22, 25:37] = True
    return elev, is_wall


@pytest.fixture(scope="module")
def hill():
    elev, is_wall = _rough_hill()
    return move(elev, end_s=1200.0, rain_m_s=mm_h(60.0), rain_s=900.0, is_wall=is_wall, settings=USUAL)


def test_water_is_neither_made_nor_lost_at_any_output(hill):
    """To 1e-4 of the rain; `error_worst_frac` is the largest of all outputs."""
    assert hill.balance.error_worst_frac < 1e-4
    assert abs(hill.balance.error_m3) <= hill.balance.error_worst_frac * hill.balance.runoff_m3 * (1 + 1e-9)
    assert hill.balance.runoff_m3 == pytest.approx(mm_h(60.0) * 900.0 * (48 * 60 - 7 * 12), rel=1e-5)
    assert hill.balance.edge_m3 > 1.0 and hill.balance.standing_m3 > 1.0


def test_gaps_swallow_what_reaches_them_and_closed_ones_do_not():
    elev, _ = _rough_hill()
    elev[30:34, 20:40] = np.nan
    open_, closed = (
        move(elev, end_s=900.0, rain_m_s=mm_h(60.0), settings=USUAL, gaps_drain=drains) for drains in (True, False)
    )
    assert open_.balance.gap_m3 > 1.0 and open_.balance.error_worst_frac < 1e-4
    assert closed.balance.gap_m3 == 0.0 and closed.balance.error_worst_frac < 1e-4


def test_a_ground_closed_all_round_keeps_all_of_its_water():
    """With a weight below 1 the ring once let water in: 0.7 % of a bowl."""
    elev, is_wall = _rough_hill()
    found = move(elev, end_s=900.0, rain_m_s=mm_h(60.0), is_wall=is_wall, settings=USUAL, is_edge_closed=True)
    assert found.balance.edge_m3 == 0.0
    assert found.balance.standing_m3 == pytest.approx(found.balance.runoff_m3, rel=1e-4)


@pytest.mark.parametrize(
    ("there", "back"),
    [
        (np.fliplr, np.fliplr),
        (np.flipud, np.flipud),
        (np.rot90, lambda grid: np.rot90(grid, -1)),
        (np.transpose, np.transpose),
    ],
)
def test_mirrored_and_turned_ground_gives_mirrored_and_turned_results(hill, there, back):
    elev, is_wall = _rough_hill()
    found = move(
        np.ascontiguousarray(there(elev)),
        end_s=1200.0,
        rain_m_s=mm_h(60.0),
        rain_s=900.0,
        is_wall=np.ascontiguousarray(there(is_wall)),
        settings=USUAL,
    )
    assert np.abs(back(found.depth_max_m) - hill.depth_max_m).max() < 1e-4
    assert np.abs(back(found.unit_flow_max_m2_s) - hill.unit_flow_max_m2_s).max() < 2e-3 * hill.unit_flow_max_m2_s.max()


def test_a_constant_added_to_the_ground_changes_nothing_to_rounding(hill):
    elev, is_wall = _rough_hill()
    found = move(elev + 2000.0, end_s=1200.0, rain_m_s=mm_h(60.0), rain_s=900.0, is_wall=is_wall, settings=USUAL)
    assert np.abs(found.depth_max_m - hill.depth_max_m).max() < 1e-4


def test_threads_change_nothing(hill):
    elev, is_wall = _rough_hill()
    found = move(elev, end_s=1200.0, rain_m_s=mm_h(60.0), rain_s=900.0, is_wall=is_wall, settings=USUAL, n_threads=3)
    assert np.array_equal(found.depth_max_m, hill.depth_max_m)
    assert np.array_equal(found.arrival_s, hill.arrival_s)
    assert found.balance.edge_m3 == pytest.approx(hill.balance.edge_m3, rel=1e-9)


def test_the_maxima_are_those_of_a_plane_in_steady_flow():
    elev = np.tile((40 - np.arange(40)) * 0.02, (5, 1))
    is_wall = np.zeros(elev.shape, bool)
    is_wall[0] = is_wall[-1] = True
    supply = np.zeros(elev.shape)
    supply[:, 2] = 0.02
    found = move(elev, end_s=600.0, rain_m_s=supply, roughness_n=0.03, is_wall=is_wall, settings=FREE)
    depth = (0.02 * 0.03 / np.sqrt(0.02)) ** 0.6
    middle = np.s_[2, 15:35]
    assert found.unit_flow_max_m2_s[middle] == pytest.approx(0.02, rel=0.03)
    assert found.speed_max_m_s[middle] == pytest.approx(0.02 / depth, rel=0.06)
    assert found.depth_max_m[middle] == pytest.approx(depth, rel=0.06)
    # The front of a kinematic wave is as fast as the water behind it, and the ground stays wet from then on.
    arrival = found.arrival_s[2, 34] - found.arrival_s[2, 14]
    assert arrival == pytest.approx(20.0 * depth / 0.02, rel=0.2)
    assert found.wet_s[middle] + found.arrival_s[middle] == pytest.approx(600.0, abs=1.1)


def test_a_run_that_is_too_fast_is_tried_with_smaller_steps_and_then_refused():
    """A chute of 200 %: its water truly is faster than the limit set here, so that no step helps."""
    elev = np.tile((40 - np.arange(40)) * 2.0, (5, 1))
    supply = np.zeros(elev.shape)
    supply[:, 2] = 0.05
    settings = MotionSettings(froude_max=10.0, speed_limit_m_s=2.0, n_attempts=2)
    with pytest.raises(ScreeningError, match=r"unstable here.*in 2 runs, each with half the step.*at most 2 m/s"):
        move(elev, end_s=300.0, rain_m_s=supply, roughness_n=0.01, settings=settings)


def test_a_failed_run_is_kept_in_the_record(monkeypatch):
    """Only the first attempt meets the speed: the second counts, from dry ground."""
    from screening.motion import solve as module

    told = []
    fastest = module._Run.fastest_m_s

    def first_fails(run):
        told.append(run.courant)
        return 9.0 if run.courant == 0.6 else fastest(run)

    monkeypatch.setattr(module._Run, "fastest_m_s", first_fails)
    elev, is_wall = _rough_hill()
    found = move(elev, end_s=60.0, rain_m_s=mm_h(60.0), is_wall=is_wall, settings=USUAL)
    assert [attempt.is_failed for attempt in found.attempts] == [True, False]
    assert [attempt.courant for attempt in found.attempts] == [0.6, 0.3]
    assert found.balance.runoff_m3 == pytest.approx(mm_h(60.0) * 60.0 * (48 * 60 - 7 * 12), rel=1e-5)


def test_settings_that_would_be_unstable_are_refused():
    with pytest.raises(CriteriaError, match=r"courant.*0\.85.*0\.7"):
        MotionSettings(courant=0.85)
    with pytest.raises(CriteriaError, match="own_weight"):
        MotionSettings(own_weight=0.5)


def test_every_setting_is_told_of_and_every_cover_has_a_roughness():
    assert set(SETTINGS) == set(MotionSettings.__dataclass_fields__)
    assert all(each.meaning and each.source for each in SETTINGS.values())
    assert {"hazard", "roughness"} <= set(sources())
    assert all(0.01 <= roughness_of(cover.name) <= 0.2 for cover in COVERS)
    with pytest.raises(CriteriaError, match="no roughness"):
        roughness_of("lava")


def test_ground_without_any_open_cell_or_with_no_roughness_is_refused():
    with pytest.raises(InputError, match="no open ground"):
        move(np.full((3, 4), np.nan), end_s=1.0)
    with pytest.raises(InputError, match="roughness"):
        move(np.zeros((3, 4)), end_s=1.0, roughness_n=0.0)


def test_progress_is_told_to_the_end():
    from screening.grid import Grid
    from screening.motion.ground import lay_ground
    from screening.motion.solve import Interval, solve
    from tests.blocks import CRS, NORTH, WEST
    from tests.motion.runs import EvenSupply

    ground = lay_ground(Grid(crs=CRS, west_m=WEST, north_m=NORTH, cell_m=1.0, n_rows=4, n_cols=6), np.zeros((4, 6)))
    told = []
    supply = EvenSupply(np.full((4, 6), 1e-5), 100.0)
    solve(
        ground,
        supply,
        [Interval(end_s=100.0, is_tracked=True, from_s=0.0, to_s=100.0)],
        settings=USUAL,
        progress=told.append,
    )
    assert [round(each.done_frac, 6) for each in told] == [0.3, 0.6, 0.9, 1.0]
    assert told[-1].left_s == 0.0 and told[-1].storm_h == pytest.approx(100 / 3600)
