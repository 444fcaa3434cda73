"""The whole method: its invariants, its tables, its verdicts."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from screening.models import Rain
from screening.pipeline import screen_block
from screening.report import lots_told
from screening.report.words.verdicts import row_of, source_words
from screening.schema import columns
from screening.schema.codes.verdicts import MainFinding
from screening.schema.criteria import Criteria, thresholds
from screening.units import M_PER_FT
from tests.blocks import box, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
ROWS, COLS = 60, 83


def terrain(seed=3):
    """A rough hillside without ties, so that every turn and mirror of it routes alike."""
    rng = np.random.default_rng(seed)
    row, col = np.mgrid[:ROWS, :COLS].astype(float)
    return 80 - 0.04 * row + 0.6 * np.sin(col / 9.0) * np.cos(row / 7.0) + rng.normal(0, 0.05, (ROWS, COLS))


PLACES = {
    "lots": [("a", (4, 5, 30, 40)), ("b", (30, 5, 56, 40)), ("c", (10, 40, 50, 78))],
    "structures": [
        ("Ha", "a", "house", (12, 15, 20, 25)),
        ("Hb", "b", "house", (40, 12, 48, 24)),
        ("Hc", "c", "house", (28, 55, 36, 66)),
    ],
    "driveways": [("Da", "a", "driveway", (5, 16, 12, 20)), ("Dc", "c", "driveway", (12, 58, 28, 62))],
    "soils": [("1", "B", (0, 0, 60, 50)), ("2", "D", (0, 50, 60, 83))],
}


def screened(elev=None, turn=lambda mask: mask, *, cell_m=1.0, criteria=None, without=()):
    """Screen the terrain with its layers carried along by a turn or a mirror."""

    def place(rectangle):
        row0, col0, row1, col1 = rectangle
        mask = np.zeros((ROWS, COLS), bool)
        mask[row0:row1, col0:col1] = True
        rows, cols = np.nonzero(turn(mask))
        return box(rows.min(), cols.min(), rows.max() + 1, cols.max() + 1, cell_m=cell_m)

    layers = {
        name: [(*row[:-1], place(row[-1])) for row in rows] for name, rows in PLACES.items() if name not in without
    }
    block = make_block(turn(terrain() if elev is None else elev), cell_m=cell_m, **layers)
    return screen_block(block, criteria=criteria or Criteria(), rain=RAIN)


BASE = screened()
NUMBERS = [
    "area_m2",
    "slope_pct",
    "contributing_area_m2",
    "off_lot_area_m2",
    "runoff_m3",
    "run_on_m3",
    "curve_number",
    "tc_min",
    "peak_onto_l_s",
    "n_flags",
    "n_low_spots",
    "low_spot_volume_m3",
    "infiltration_area_m2",
    "visit_rank",
]


TURNS = pytest.mark.parametrize(
    "turn",
    [np.rot90, lambda z: np.rot90(z, 2), lambda z: np.rot90(z, 3), np.fliplr, np.flipud, np.transpose],
    ids=["90", "180", "270", "left-right", "up-down", "transposed"],
)


def said(result):
    """Main findings of the lots."""
    return lots_told(result).main_finding.tolist()


@TURNS
def test_the_ground_may_be_turned_and_mirrored(turn):
    """Exactly, where no ground is level: a slope steeper than its roughness, without roofs or ponds."""
    rng = np.random.default_rng(5)
    steep = 80 - 0.4 * np.mgrid[:ROWS, :COLS][0] + rng.uniform(0, 0.15, (ROWS, COLS))
    base, turned = (screened(steep, t, without=("structures",)) for t in (lambda z: z, turn))
    assert base.depressions.table.empty
    for name in NUMBERS:
        assert turned.summary[name].to_numpy(float) == pytest.approx(base.summary[name].to_numpy(float), rel=1e-9), name
    for name in ("contributing_area_m2", "run_on_area_m2", "slope_pct"):
        assert turned.driveways[name].to_numpy() == pytest.approx(base.driveways[name].to_numpy(), rel=1e-9), name


@TURNS
def test_turned_ponds_and_roofs_find_the_same(turn):
    """Level water and level roofs drain by a fixed order of neighbours, which does not turn with the ground: what
    is measured keeps, what is split between two ways round may shift by a few cells."""
    turned = screened(turn=turn)
    assert said(turned) == said(BASE)
    assert turned.summary.exposure.tolist() == BASE.summary.exposure.tolist()
    for name in (
        "area_m2",
        "slope_pct",
        "runoff_m3",
        "low_spot_volume_m3",
        "infiltration_area_m2",
        "n_flags",
    ):
        assert turned.summary[name].to_numpy(float) == pytest.approx(BASE.summary[name].to_numpy(float), rel=1e-6), name
    for name in ("pond_depth_full_m", "lowest_adjacent_grade_m"):
        assert turned.structures[name].to_numpy() == pytest.approx(BASE.structures[name].to_numpy(), rel=1e-6), name
    for name in ("contributing_area_m2", "off_lot_area_m2", "run_on_m3"):
        assert turned.summary[name].to_numpy(float) == pytest.approx(BASE.summary[name].to_numpy(float), rel=0.01), name
    assert turned.driveways.to_structure_frac.to_numpy() == pytest.approx(
        BASE.driveways.to_structure_frac.to_numpy(), abs=0.01
    )


def test_the_ground_may_be_raised():
    # By a power of two, so that elevations keep all their bits.
    elev = terrain().astype(np.float32)
    elev = np.round(elev * 256) / 256
    low, high = screened(elev), screened(elev + 64)
    for name in NUMBERS:
        assert high.summary[name].to_numpy(float) == pytest.approx(low.summary[name].to_numpy(float), rel=1e-5), name


def test_feet_and_metres_find_the_same():
    """The same ground measured with a foot for the unit of cell and height: areas scale, findings stay."""
    in_feet = screened(terrain() * M_PER_FT, cell_m=M_PER_FT, criteria=_scaled(Criteria(), M_PER_FT))
    assert said(in_feet) == said(BASE)
    for name in ("contributing_area_m2", "off_lot_area_m2", "infiltration_area_m2"):
        expected = BASE.summary[name].to_numpy(float) * M_PER_FT**2
        assert in_feet.summary[name].to_numpy(float) == pytest.approx(expected, rel=1e-9), name
    assert in_feet.summary.slope_pct.to_numpy() == pytest.approx(BASE.summary.slope_pct.to_numpy(), rel=1e-4)


def _scaled(criteria, factor):
    changes = {
        name: criteria.value(name) * (factor**2 if name.endswith("_m2") else factor)
        for name in thresholds()
        if name.endswith(("_m", "_m2"))
    }
    with_range = {name: value for name, value in changes.items() if name not in ("window_margin_m", "window_limit_m")}
    return criteria.replaced(**with_range)


def test_every_table_has_its_declared_columns():
    tables = {
        "summary": BASE.summary,
        "structures": BASE.structures,
        "structure_sides": BASE.structure_sides,
        "inflow_points": BASE.inflow_points,
        "driveways": BASE.driveways,
        "low_spots": BASE.depressions.table,
        "infiltration_zones": BASE.capture.zones,
        "flow_paths": BASE.flow_paths,
        "contributing_areas": BASE.catchments,
    }
    for name, table in tables.items():
        stage = columns.names(columns.untold(columns.DECLARED[name]))
        assert sorted(table.columns) == sorted([*stage, "geometry"]), name
        assert len(table) > 0 or name == "inflow_points", name
        assert table.geometry.is_valid.all(), name
        assert table.crs == "EPSG:26917", name


def test_units_end_the_names():
    for name, declared in columns.TABLES.items():
        seen = [column.name for column in declared]
        assert len(seen) == len(set(seen)), name
        for column in declared:
            assert column.label and column.meaning, column
            if column.unit:
                assert column.name.endswith("_" + column.unit), column
            if column.kind == "count":
                assert column.name.startswith("n_") or column.name.endswith("_rank"), column


def test_visit_order_follows_the_score():
    ordered = BASE.summary.sort_values("visit_rank")
    assert ordered.visit_rank.tolist() == [1, 2, 3]
    assert ordered.visit_score.is_monotonic_decreasing and ordered.visit_score.iloc[0] > 0


def test_flags_and_score_can_be_traced_to_verdicts():
    for row in BASE.summary.itertuples():
        own = [verdict for verdict in BASE.verdicts if verdict.lot_id == row.lot_id]
        flags = [verdict for verdict in own if verdict.outcome == "failed" and verdict.aspect == "problem"]
        assert row.n_flags == len(flags)
        points = [1 if flag.is_indicative else min(flag.value / flag.threshold, 5) for flag in flags]
        assert row.visit_score == pytest.approx(sum(points)) == pytest.approx(sum(verdict.points for verdict in own))
        assert row.n_not_assessed == sum(verdict.outcome == "not assessed" for verdict in own)


def test_verdicts_follow_from_their_own_numbers():
    compare = {"<": np.less, "<=": np.less_equal, ">=": np.greater_equal}
    for verdict in BASE.verdicts:
        if verdict.outcome != "not assessed":
            assert source_words(row_of(verdict), BASE.criteria) and verdict.unit, verdict
            assert compare[verdict.operator](verdict.value, verdict.threshold) == (verdict.outcome == "passed"), verdict


def test_a_lower_bound_is_no_pass():
    cut = BASE.summary[BASE.summary.edge_contaminated].lot_id.tolist()
    assert cut
    for verdict in BASE.verdicts:
        if verdict.lot_id in cut and verdict.statistic == "off_lot_area_m2":
            assert verdict.outcome != "passed"


def test_without_layers_nothing_is_passed_for_them():
    block = make_block(terrain())
    result = screen_block(block, criteria=Criteria(), rain=RAIN)
    kinds = {v.subject_kind: v.outcome for v in result.verdicts if v.subject_kind in ("structure", "driveway")}
    assert kinds == {"structure": "not assessed", "driveway": "not assessed"}
    assert result.summary.infiltration_status.tolist() == ["not assessed"]
    assert result.summary.hsg.tolist() == ["unknown"]


def test_water_balance():
    ponding = BASE.ponding
    assert ponding.ponded_m3 + ponding.left_window_m3 == pytest.approx(ponding.runoff_m3, rel=1e-9)


def test_values_cannot_be_changed_by_their_readers():
    with pytest.raises(ValueError, match="read-only"):
        BASE.flow.filled_elev_m[0, 0] = 0
    with pytest.raises(dataclasses.FrozenInstanceError):
        BASE.criteria = Criteria()


def test_a_lot_without_elevation_is_not_assessed():
    elev = terrain()
    elev[30:56, 5:40] = np.nan
    result = screened(elev, criteria=Criteria.of(void_fill_max_m2=0.0))
    row = result.summary[result.summary.lot_id == "b"].iloc[0]
    assert row.assessed_frac == 0
    assert row.main_code == MainFinding.NO_ELEVATION
    outcomes = [v.outcome for v in result.verdicts if v.lot_id == "b"]
    assert "passed" not in outcomes


def test_an_all_empty_window_gives_no_findings_and_no_crash():
    result = screen_block(make_block(np.full((12, 15), np.nan)), criteria=Criteria(), rain=RAIN)
    assert result.summary.main_code.tolist() == [MainFinding.NO_ELEVATION]
    assert lots_told(result).main_finding.tolist() == ["Not assessed: no elevation on the lot"]
    assert result.depressions.table.empty and result.flow_paths.empty
    assert {verdict.outcome for verdict in result.verdicts} == {"not assessed"}


def test_tables_keep_their_types_however_empty():
    """A lot with nothing on it and a full one write the same columns of the same types."""
    empty = screen_block(make_block(80 - 0.1 * np.mgrid[:20, :25][0]), criteria=Criteria(), rain=RAIN)
    pairs = (
        (empty.summary, BASE.summary),
        (empty.structures, BASE.structures),
        (empty.structure_sides, BASE.structure_sides),
        (empty.inflow_points, BASE.inflow_points),
        (empty.driveways, BASE.driveways),
        (empty.depressions.table, BASE.depressions.table),
        (empty.capture.zones, BASE.capture.zones),
        (empty.flow_paths, BASE.flow_paths),
        (empty.catchments, BASE.catchments),
    )
    for none, full in pairs:
        assert none.dtypes.astype(str).to_dict() == full.dtypes.astype(str).to_dict()


def test_in_brief_the_tables_of_lots_structures_and_checks_stay_the_same():
    layers = {name: [(*row[:-1], box(*row[-1])) for row in rows] for name, rows in PLACES.items()}
    brief = screen_block(make_block(terrain(), **layers), criteria=Criteria(), rain=RAIN, in_brief=True)
    for short, whole in ((brief.summary, BASE.summary), (brief.structures, BASE.structures)):
        pd.testing.assert_frame_equal(pd.DataFrame(short), pd.DataFrame(whole))
    said = [[(v.check_id, v.subject_id, v.outcome) for v in result.verdicts] for result in (brief, BASE)]
    assert said[0] == said[1]
    assert brief.catchments.geometry.isna().all() and not BASE.catchments.geometry.isna().any()
    pd.testing.assert_frame_equal(
        pd.DataFrame(brief.catchments.drop(columns="geometry")),
        pd.DataFrame(BASE.catchments.drop(columns="geometry")),
    )
    assert brief.interception.lines.empty and brief.depressions.table.geometry.isna().all()
