"""Further storms poured on routed ground give what a screening of each alone gives."""

import numpy as np
import pandas as pd
import pytest

from screening.models import Rain
from screening.pipeline import screen_block
from screening.schema.criteria import Criteria
from tests.blocks import box, make_block

RAINS = tuple(Rain(depth_mm=depth_mm, label=f"{depth_mm:g} mm", source="typed") for depth_mm in (60.0, 20.0, 150.0))


@pytest.fixture(scope="module")
def ground():
    """A slope of 24 x 31 cells with two bowls, one above the other."""
    row, col = np.mgrid[0:24, 0:31].astype(np.float64)
    elev = 50.0 - 0.05 * row + 0.01 * np.abs(col - 15.0)
    for at, depth in ((7, 0.5), (16, 0.8)):
        elev -= np.clip(depth - 0.04 * ((row - at) ** 2 + (col - 15) ** 2), 0.0, None)
    return make_block(elev.astype(np.float32), structures=[("S-1", "lot", "house", box(14, 17, 19, 22))])


def test_each_storm_is_as_if_screened_alone(ground):
    together = screen_block(ground, criteria=Criteria(), rain=RAINS[0], further_rains=RAINS[1:])
    assert [further.storm.rain for further in together.further_storms] == list(RAINS[1:])
    for further in together.further_storms:
        alone = screen_block(ground, criteria=Criteria(), rain=further.storm.rain)
        assert np.array_equal(further.ponding.water_depth_m, alone.ponding.water_depth_m)
        assert further.ponding.left_window_m3 == alone.ponding.left_window_m3
        of_table = alone.depressions.table[list(further.low_spots.columns)]
        pd.testing.assert_frame_equal(further.low_spots, pd.DataFrame(of_table))
        assert further.structures["pond_depth_storm_m"].notna().all()
        own = alone.structures["pond_depth_storm_m"].tolist()
        assert further.structures["pond_depth_storm_m"].tolist() == pytest.approx(own, nan_ok=True)


def test_the_first_storm_is_left_alone_and_more_rain_leaves_more_water(ground):
    alone = screen_block(ground, criteria=Criteria(), rain=RAINS[0])
    together = screen_block(ground, criteria=Criteria(), rain=RAINS[0], further_rains=RAINS[1:])
    assert alone.verdicts == together.verdicts
    assert np.array_equal(alone.ponding.water_depth_m, together.ponding.water_depth_m)
    less, more = (further.ponding for further in together.further_storms)
    assert less.ponded_m3 < together.ponding.ponded_m3 < more.ponded_m3
    assert (less.water_depth_m <= more.water_depth_m).all()
