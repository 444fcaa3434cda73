"""What is the same for all stages of a screening is made once: calls are counted as they come."""

from collections import Counter

import numpy as np
import pytest

from screening.flow.dispersive import dispersive_area_m2
from screening.models import Rain
from screening.pipeline import look_around, screen_block
from screening.schema.criteria import Criteria
from tests.blocks import box, make_block

RAIN = Rain(depth_mm=100.0, label="100 mm", source="test")
OTHER = Rain(depth_mm=150.0, label="150 mm", source="test")


def places():
    """Two lots on a slope with a pan, a house and a driveway toward it."""
    row, col = np.mgrid[:60, :74]
    elev = 50 - 0.04 * row - 0.25 * np.clip(1 - np.hypot(row - 40, col - 30) / 8, 0, None)
    return make_block(
        elev,
        lots=[("A", box(5, 5, 55, 36)), ("B", box(5, 36, 55, 70))],
        structures=[("H", "A", "house", box(20, 12, 30, 22))],
        driveways=[("D", "A", "driveway", box(6, 15, 20, 19)), ("E", "B", "driveway", box(6, 40, 20, 44))],
    )


@pytest.fixture
def calls(monkeypatch):
    """Count what is burned on a grid, slopes of a whole window, and accumulations over one, by what they are of."""
    import rasterio.features

    import screening.kernels.accumulate as accumulating
    import screening.kernels.multiflow as spreading
    import screening.kernels.slope as sloping

    block, counted = places(), Counter()
    shapes = {"lots": list(block.lots.geometry), "driveways": list(block.own_driveways.geometry)}
    burn, slope = rasterio.features.rasterize, sloping.horn_slope_pct
    spread, add_up = spreading.accumulate_multiflow, accumulating.accumulate

    def burned(pairs, **options):
        # With a value of its own for each: as an index, and not as a mask of what is paved.
        is_index = [value for _, value in pairs] == list(range(1, len(pairs) + 1))
        for name, known in shapes.items():
            counted[name] += is_index and [shape.wkb for shape, _ in pairs] == [shape.wkb for shape in known]
        return burn(pairs, **options)

    def sloped(elev, cell_m):
        counted["slope"] += elev.shape == block.grid.shape
        return slope(elev, cell_m)

    def spread_out(filled, *arguments):
        counted["dispersive"] += filled.shape == block.grid.shape
        return spread(filled, *arguments)

    def added(*arguments):
        counted["accumulated"] += 1
        return add_up(*arguments)

    monkeypatch.setattr(rasterio.features, "rasterize", burned)
    monkeypatch.setattr(sloping, "horn_slope_pct", sloped)
    monkeypatch.setattr(spreading, "accumulate_multiflow", spread_out)
    monkeypatch.setattr(accumulating, "accumulate", added)
    return block, counted


def test_lots_driveways_and_slope_are_made_once(calls):
    block, counted = calls
    screen_block(block, criteria=Criteria(), rain=RAIN, further_rains=(OTHER,))
    assert counted["lots"] == counted["driveways"] == counted["slope"] == 1
    assert counted["dispersive"] == 0


def test_realisations_make_none_of_it_again(calls):
    block, counted = calls
    screen_block(block, criteria=Criteria.of(n_realisations=3), rain=RAIN, in_brief=True)
    assert counted["lots"] == counted["driveways"] == counted["slope"] == 1 and counted["dispersive"] == 0


def test_what_is_added_up_along_the_flow(calls):
    """Contributing areas, runoff, coefficients, curve numbers and runoff of graphical peaks; three of the capture."""
    block, counted = calls
    screen_block(block, criteria=Criteria(), rain=RAIN, in_brief=True)
    assert counted["accumulated"] == 8


def test_a_look_routes_and_no_more(calls):
    block, counted = calls
    look_around(block, criteria=Criteria())
    assert counted["accumulated"] == 1 and counted["slope"] == counted["dispersive"] == counted["lots"] == 0


def test_the_dispersive_area_is_made_where_it_is_asked_for(calls):
    block, counted = calls
    result = screen_block(block, criteria=Criteria(), rain=RAIN, in_brief=True)
    area = dispersive_area_m2(result.flow)
    assert counted["dispersive"] == 1 and area.shape == block.grid.shape
