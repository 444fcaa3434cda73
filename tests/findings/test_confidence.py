"""In what share of the realisations of elevation error findings hold, and which are within it."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from screening.findings.confidence import assess_confidence, low_spot_cells
from screening.flow.catchments import measure_catchments, trace_catchments
from screening.flow.routing import route_flow
from screening.grid import Grid
from screening.models import NOT_TRIED, Exposure, Rain, Realisation, TerrainFindings, Trust
from screening.pipeline import screen_block
from screening.report import lots_told
from screening.report.words.notes import note_words
from screening.report.words.summary import main_finding_words
from screening.report.words.verdicts import confidence_words, row_of
from screening.schema.codes.verdicts import DOUBTS_JOIN, Confidence, Doubt, MainFinding
from screening.schema.criteria import Criteria
from screening.storm.concentration import concentrate
from screening.storm.peaks import peaks_at
from screening.terrain.surface import build_surface
from tests.blocks import NORTH, WEST, box, make_block

RAIN = Rain(depth_mm=80.0, label="stated depth", source="test")
SHAPE = (70, 90)
ROW, COL = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)


def bowl(depth_m, row, col, radius):
    """A paraboloid below the ground, 0 outside its rim."""
    return np.clip(depth_m * (1 - np.hypot(ROW - row, COL - col) ** 2 / radius**2), 0, None)


def ground():
    """Level ground with a deep and a shallow bowl and a house over part of the deep one's shore."""
    return make_block(
        50 - 0.002 * ROW - bowl(0.6, 30, 25, 9) - bowl(0.12, 50, 70, 6),
        structures=[("H", "lot", "house", box(34, 20, 44, 32)), ("S", "lot", "shed", box(5, 75, 9, 80))],
        driveways=[("D", "lot", "driveway", box(44, 24, 70, 28))],
    )


def screen(block, **criteria):
    return screen_block(block, criteria=Criteria.of(**criteria), rain=RAIN)


CODES = ("confidence_code", "n_counted", "n_realisations")


def words_of(table):
    """Confidence of each row, as a reader gets it."""
    return [confidence_words(row) for row in table.to_dict("records")]


def confidence_of(result):
    """All that is said of confidence."""
    tables = {
        "low spots": (result.depressions.table, ["confidence_frac", "chance_frac", *CODES]),
        "structures": (result.structures, ["confidence_frac", "ponding_frac", "run_on_frac", *CODES]),
        "driveways": (result.driveways, ["confidence_frac", *CODES]),
    }
    parts = {name: table[columns].to_dict("records") for name, (table, columns) in tables.items()}
    parts["verdicts"] = [(v.check_id, v.outcome, v.trust) for v in result.verdicts]
    return parts


def test_without_realisations_nothing_is_assessed():
    result = screen(ground())
    for table in (result.depressions.table, result.structures, result.driveways):
        assert len(table) and table.confidence_frac.isna().all()
        assert set(words_of(table)) == {"not assessed"}
    assert result.structures[["ponding_frac", "run_on_frac"]].isna().all(axis=None)
    assert {v.trust for v in result.verdicts} == {NOT_TRIED}
    assert not any(note.subject == "confidence" for note in result.notes)


def test_without_error_everything_holds():
    """An error of a hundredth of a millimetre changes no finding."""
    exact, result = screen(ground()), screen(ground(), n_realisations=3, elevation_rmse_m=1e-5)
    for table in (result.depressions.table, result.structures, result.driveways):
        assert (table.confidence_frac == 1).all() and set(words_of(table)) == {"holds in 3 of 3"}
    assert (result.depressions.table.chance_frac == 0).all()
    shares = result.structures.set_index("structure_id")[["ponding_frac", "run_on_frac"]]
    outcome = {(v.subject_id, v.statistic): v.outcome for v in result.verdicts}
    assert shares.loc["H"].tolist() == [1.0, 1.0]
    assert [outcome["H", name] for name in ("pond_depth_full_m", "contributing_area_m2")] == ["failed", "failed"]
    # Little ground is seen to drain to the shed, but water from beyond the window may: unknown is no share.
    assert shares.loc["S", "ponding_frac"] == 0.0 and np.isnan(shares.loc["S", "run_on_frac"])
    assert [outcome["S", name] for name in ("pond_depth_full_m", "contributing_area_m2")] == ["passed", "not assessed"]
    # The findings themselves stay those of the ground as it is.
    assert [v.value for v in result.verdicts] == [v.value for v in exact.verdicts]


def test_what_is_not_made_anew_or_not_assessed_stays_so():
    result = screen(ground(), n_realisations=3, elevation_rmse_m=1e-5)
    for verdict in result.verdicts:
        is_known = verdict.statistic != "infiltration_area_m2" and verdict.outcome != "not assessed"
        held = Trust(code=Confidence.HOLDS, frac=1.0, n_counted=3, n_realisations=3)
        assert verdict.trust == (held if is_known else NOT_TRIED)
    unseen = make_block(np.full((12, 15), np.nan), structures=[("H", "lot", "house", box(4, 4, 8, 8))])
    result = screen(unseen, n_realisations=2)
    assert words_of(result.structures) == ["not assessed"]
    assert {v.trust for v in result.verdicts} == {NOT_TRIED}


def test_the_deep_bowl_holds_and_the_shallow_one_is_within_the_error():
    result = screen(ground(), n_realisations=20)
    spots = result.depressions.table.sort_values("depth_max_m")
    shallow, deep = spots.iloc[0], spots.iloc[-1]
    assert deep.depth_max_m > 0.5 and confidence_words(deep) == "holds in 20 of 20" and deep.chance_frac == 0
    assert shallow.depth_max_m < 0.13 and Confidence(shallow.confidence_code).is_within_error
    house = result.structures.set_index("structure_id").loc["H"]
    assert house.exposure == "ponding" and confidence_words(house) == "holds in 20 of 20"
    texts = [note_words(note) for note in result.notes if note.subject == "confidence"]
    assert len(texts) == 1
    for part in ("20 realisations", "RMSE 0.1 m", "QL2", "length 10 m", "10% of the variance", "seed 0"):
        assert part in texts[0]


@pytest.mark.parametrize("correlation_m", [10.0, 0.0])
def test_a_planted_bowl_holds_in_all(correlation_m):
    """Check 9.26: 0.5 m is five times the error."""
    block = make_block(50 - 0.01 * ROW - bowl(0.65, 35, 45, 8))
    result = screen(block, n_realisations=25, error_correlation_m=correlation_m)
    spot = result.depressions.table.sort_values("depth_max_m").iloc[-1]
    assert spot.depth_max_m >= 0.5
    assert confidence_words(spot) == "holds in 25 of 25"


def test_ponding_at_a_wall_is_as_sure_as_its_low_spot():
    """A shallow pond at a wall lasts, but error alone makes as deep a one there: so the wall's verdict is in doubt."""
    block = make_block(
        50 - 0.001 * ROW - bowl(0.13, 30, 45, 12), structures=[("H", "lot", "house", box(28, 40, 36, 50))]
    )
    result = screen(block, n_realisations=20, holds_min_frac=0.3, weight_standing_water=10.0)
    house, spots = result.structures.iloc[0], result.depressions.table.set_index("low_spot_id")
    assert house.exposure == "ponding"
    words = confidence_words(spots.loc[house.low_spot_id])
    assert words.startswith("within elevation error (error alone makes one as deep in ")
    assert confidence_words(house) == words
    verdict = next(v for v in result.verdicts if v.statistic == "pond_depth_full_m")
    assert verdict.outcome == "failed" and confidence_words(row_of(verdict)) == words and verdict.is_within_error
    assert lots_told(result).main_finding.tolist() == [
        "Water stands against H when a low spot fills, within elevation error"
    ]


def realisations_by_hand(result, found, chance_m):
    """Realisations in which low spots were found at chosen cells, all else as it was."""
    exposure = dict(zip(result.structures.structure_id, result.structures.exposure, strict=True))
    outcome = {(v.check_id, v.subject_id): v.outcome for v in result.verdicts}
    return [
        Realisation(
            in_low_spot=at, chance_depth_m=np.full(at.size, depth, np.float32), exposure=exposure, outcome=outcome
        )
        for at, depth in zip(found, chance_m, strict=True)
    ]


def test_shares_by_hand():
    """A bowl is found again by half of its water, not of its area; what error makes counts from its depth on."""
    block = make_block(50 - 0.001 * ROW - bowl(0.5, 35, 45, 8))
    result = screen(block)
    assert len(result.depressions.table) == 1
    depth_max = float(result.depressions.table.depth_max_m.iloc[0])
    cells = low_spot_cells(result.depressions)
    water = result.depressions.depth_m.ravel()[cells]
    deepest_first = np.argsort(-water, kind="stable")
    n_half = int(np.searchsorted(np.cumsum(water[deepest_first]), 0.5 * water.sum())) + 1
    assert n_half < 0.4 * cells.size
    most, less = np.zeros(cells.size, bool), np.zeros(cells.size, bool)
    most[deepest_first[:n_half]] = True
    less[deepest_first[: n_half - 2]] = True
    shore = ~most
    found = [most, less, shore, np.ones(cells.size, bool), most]
    chance = [0.0, depth_max - 0.01, 0.0, 0.0, depth_max + 0.01]
    ground = _soil_of(result)
    for criteria, words in (
        (Criteria(), "within elevation error (holds in 3 of 5)"),
        (Criteria.of(holds_min_frac=0.6), "within elevation error (error alone makes one as deep in 1 of 5)"),
        (Criteria.of(holds_min_frac=0.6, chance_max_frac=0.2), "holds in 3 of 5"),
    ):
        realised = realisations_by_hand(result, found, chance)
        doubted, _, _ = assess_confidence(ground, result.verdicts, realised, criteria=criteria)
        spot = doubted.depressions.table.iloc[0]
        assert (spot.confidence_frac, spot.chance_frac, confidence_words(spot)) == (0.6, 0.2, words)


def _soil_of(result):
    none = np.empty(0, np.int64)
    gathered = concentrate(result.surface, result.flow, result.storm, criteria=result.criteria)
    peaks = peaks_at(none, flow=result.flow, storm=result.storm, concentration=gathered, criteria=result.criteria)
    exposure = Exposure(
        structures=result.structures,
        sides=result.structure_sides,
        inflow_points=result.inflow_points,
        side_start=none,
        side_cells=none,
    )
    return TerrainFindings(
        flow=result.flow,
        depressions=result.depressions,
        ponding=result.ponding,
        runoff_through_m3=np.zeros(1),
        concentration=gathered,
        peaks_onto_lots=peaks,
        exposure=exposure,
        driveways=result.driveways,
        driveway_study=result.driveway_study,
    )


def test_seeds_tell_results_apart_and_repeat_them():
    block = ground()
    first, again = (screen(block, n_realisations=6, error_seed=5) for _ in range(2))
    assert confidence_of(first) == confidence_of(again)
    assert confidence_of(first) != confidence_of(screen(block, n_realisations=6, error_seed=6))


def test_a_lot_alone_and_in_a_larger_block():
    """On a dome, where nothing comes from beyond either window."""
    top, left, bottom, right = 12, 16, 58, 74
    elev = 60 - 0.08 * np.hypot(ROW - 35, COL - 45) - bowl(0.8, 35, 45, 10) - bowl(0.3, 35, 62, 4)
    layers = {
        "lots": [("lot", box(25, 32, 46, 60))],
        "structures": [("H", "lot", "house", box(36, 40, 42, 48))],
        "driveways": [("D", "lot", "driveway", box(25, 50, 36, 53))],
    }
    whole = make_block(elev, **layers)
    grid = Grid(
        crs=whole.grid.crs,
        west_m=WEST + left,
        north_m=NORTH - top,
        cell_m=1.0,
        n_rows=bottom - top,
        n_cols=right - left,
    )
    part = dataclasses.replace(whole, grid=grid, elev_m=whole.elev_m[top:bottom, left:right].copy())
    found = [confidence_of(screen(block, n_realisations=8)) for block in (whole, part)]
    assert found[0] == found[1]
    assert any(trust.frac not in (None, 1.0) for _, _, trust in found[0]["verdicts"])  # the error was felt


def test_catchments_are_measured_as_they_are_drawn():
    block = make_block(
        50 - 0.02 * ROW + 0.3 * np.sin(COL / 5), lots=[("a", box(20, 20, 40, 50)), ("b", box(40, 20, 70, 50))]
    )
    flow = route_flow(build_surface(block, criteria=Criteria()), criteria=Criteria())
    drawn = trace_catchments(flow, block)
    assert drawn.geometry.area.tolist() == pytest.approx(drawn.contributing_area_m2.tolist())
    table = pd.DataFrame(drawn.drop(columns="geometry"))
    pd.testing.assert_frame_equal(table, measure_catchments(flow, block), check_dtype=False)


def test_nothing_flagged_is_no_more_than_the_error_allows():
    house = ("H", "lot", "house", box(30, 40, 40, 50))
    dome = 50 - 0.06 * np.hypot(ROW - 35, COL - 45)  # the ground falls away on all sides
    block = make_block(dome, lots=[("lot", box(20, 30, 50, 60))], structures=[house])
    criteria = {"off_lot_area_flag_m2": 1e5, "structure_area_flag_m2": 1e5}
    found = {
        rmse_m: screen(block, n_realisations=10, elevation_rmse_m=rmse_m, **criteria).summary.iloc[0]
        for rmse_m in (0.001, 0.5)
    }
    assert {row.main_code for row in found.values()} == {MainFinding.NOTHING}
    assert Doubt.WITHIN_ERROR not in found[0.001].main_doubts.split(DOUBTS_JOIN)
    assert Doubt.WITHIN_ERROR in found[0.5].main_doubts.split(DOUBTS_JOIN)
    assert main_finding_words(found[0.5]).endswith("within elevation error")
