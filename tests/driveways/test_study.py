import numpy as np
import pytest

from screening.models import Rain
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria
from tests.blocks import box, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
GARAGE = ("G", "lot", "garage", box(30, 12, 36, 18))
DRIVEWAY = ("D", "lot", "driveway", box(10, 13, 30, 17))


def screened(elev, *, lots=None, driveway=DRIVEWAY):
    layers = {"lots": lots} if lots else {}
    block = make_block(elev, structures=[GARAGE], driveways=[driveway], **layers)
    return screen_block(block, criteria=Criteria(), rain=RAIN)


def tilted(south_fall, east_fall=0.0, shape=(44, 31)):
    row, col = np.mgrid[: shape[0], : shape[1]].astype(float)
    return 50 - south_fall * row - east_fall * col


def test_driveway_that_falls_to_the_garage_sheds_to_it():
    driveway = screened(tilted(0.05)).driveways.iloc[0]
    # A little spreads past the corners of a garage one metre wider than the driveway on each side.
    assert driveway.to_structure_frac > 0.85
    assert driveway.is_flagged
    assert driveway.slope_pct == pytest.approx(5.0, abs=0.01)


def test_driveway_that_falls_from_the_garage_sheds_away():
    driveway = screened(tilted(-0.05)).driveways.iloc[0]
    # Only the four cells of its row beside the wall have touched it.
    assert driveway.to_structure_frac == pytest.approx(1 / 20, abs=1e-6)
    assert not driveway.is_flagged


def test_cross_fall_sheds_to_the_side():
    driveway = screened(tilted(0.01, 0.08)).driveways.iloc[0]
    assert driveway.to_structure_frac < 0.2


def test_water_that_leaves_the_lot_first_does_not_count():
    # A lot line across the driveway's foot, before the garage.
    lots = [("lot", box(0, 0, 28, 31)), ("other", box(28, 0, 44, 31))]
    driveway = ("D", "lot", "driveway", box(10, 13, 26, 17))
    assert screened(tilted(0.05), lots=lots, driveway=driveway).driveways.iloc[0].to_structure_frac == 0


def test_an_apron_beyond_the_lot_line_counts_as_its_lot():
    lots = [("lot", box(16, 0, 44, 31))]
    driveway = screened(tilted(0.05), lots=lots).driveways.iloc[0]
    assert driveway.to_structure_frac > 0.85


def test_run_on_is_the_ground_above():
    driveway = screened(tilted(0.05)).driveways.iloc[0]
    assert driveway.area_m2 == 80
    # Thirty rows of ground four metres wide, and the part of the garage's roof that drains to its front.
    assert 30 * 4 < driveway.contributing_area_m2 < 30 * 4 + 6 * 6 / 2
    assert driveway.run_on_area_m2 == driveway.contributing_area_m2 - 80
    away = screened(tilted(-0.05)).driveways.iloc[0]
    assert 20 * 4 < away.contributing_area_m2 < 20 * 4 + 6 * 6 / 2


def test_driveway_without_elevation_is_not_assessed():
    elev = tilted(0.05)
    elev[5:32, 8:22] = np.nan
    block = make_block(elev, structures=[GARAGE], driveways=[DRIVEWAY])
    result = screen_block(block, criteria=Criteria.of(void_fill_max_m2=0.0), rain=RAIN)
    assert np.isnan(result.driveways.to_structure_frac.iloc[0])
    outcomes = [verdict.outcome for verdict in result.verdicts if verdict.subject_kind == "driveway"]
    assert outcomes == ["not assessed"]


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_the_share_turns_with_the_ground(turns):
    """Turn terrain, garage and driveway together: the share is the same."""
    size = 43
    row, _ = np.mgrid[:size, :size].astype(float)
    elev = 50 - 0.05 * row + 0.002 * np.cos(row * 3.7)
    garage, driveway = np.zeros((size, size), int), np.zeros((size, size), int)
    garage[30:36, 18:25], driveway[10:30, 19:24] = 1, 1

    def share(turn):
        def shape(mask):
            rows, cols = np.nonzero(np.rot90(mask, turn))
            return box(rows.min(), cols.min(), rows.max() + 1, cols.max() + 1)

        block = make_block(
            np.rot90(elev, turn),
            structures=[("G", "lot", "garage", shape(garage))],
            driveways=[("D", "lot", "driveway", shape(driveway))],
        )
        return screen_block(block, criteria=Criteria(), rain=RAIN).driveways.to_structure_frac.iloc[0]

    assert share(turns) == pytest.approx(share(0), abs=1e-9)
