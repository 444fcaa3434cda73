"""Packed ground reads back as what was packed, and leads to the same cells as the projection does."""

from __future__ import annotations

import base64
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Transformer

from screening.grid import Grid
from screening.models import BlockResult
from screening.report.map.packed_terrain import (
    LEAVES,
    LED,
    MAX_PLACE_ERROR_CELLS,
    MAY_BE_MORE,
    NO_DATA,
    UNKNOWN,
    Cut,
    cut_around,
    pack_depth,
    pack_elevation,
    pack_steps,
    packed_terrain,
    place_cubics,
    ways_of,
)

GRID = Grid(crs="EPSG:26917", west_m=500_000.0, north_m=4_400_000.0, cell_m=1.0, n_rows=30, n_cols=50)


def unpack(text: str, shape: tuple[int, int]) -> np.ndarray:
    """Read packed steps as the page's script does, cell by cell."""
    content = zlib.decompress(base64.b64decode(text))
    size = shape[0] * shape[1]
    low, high = (np.frombuffer(content, np.uint8)[part].astype(int) for part in (slice(0, size), slice(size, None)))
    steps = np.zeros(size, int)
    for cell in range(size):
        before = steps[cell - 1] if cell % shape[1] else steps[cell - shape[1]] if cell else 0
        steps[cell] = (before + low[cell] + 256 * high[cell]) % 65536
    return steps.reshape(shape)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=25, deadline=None)
def test_any_steps_read_back(seed: int) -> None:
    steps = np.random.default_rng(seed).integers(0, 65536, (5, 7)).astype(np.uint16)
    assert (unpack(pack_steps(steps), (5, 7)) == steps).all()


def test_elevations_read_back_to_half_a_millimetre() -> None:
    elev = (np.random.default_rng(3).normal(120.0, 8.0, (12, 17))).astype(np.float32)
    elev[2, 5] = np.nan
    low, step, packed = pack_elevation(elev)
    steps = unpack(packed, (12, 17))
    assert step == 0.001
    assert steps[2, 5] == NO_DATA
    known = np.isfinite(elev)
    assert np.abs(low + step * steps[known] - elev[known].astype(float)).max() <= 0.0005 + 1e-9


@pytest.mark.parametrize(("span_m", "step_m"), [(60.0, 0.001), (100.0, 0.002), (900.0, 0.02), (4000.0, 0.1)])
def test_steps_grow_with_the_span_of_the_ground(span_m: float, step_m: float) -> None:
    elev = np.linspace(-5.0, span_m - 5.0, 35).reshape(5, 7).astype(np.float32)
    low, step, packed = pack_elevation(elev)
    assert step == step_m
    assert np.abs(low + step * unpack(packed, (5, 7)) - elev).max() <= step / 2 + 1e-4


def test_ground_without_any_elevation_is_all_unknown() -> None:
    _, _, packed = pack_elevation(np.full((2, 3), np.nan, np.float32))
    assert (unpack(packed, (2, 3)) == NO_DATA).all()


def test_depths_read_back_in_millimetres() -> None:
    depth = np.array([[0.0, 0.1234, np.nan], [2.5, 0.0004, 70.0]], np.float32)
    assert unpack(pack_depth(depth), (2, 3)).tolist() == [[0, 123, 0], [2500, 0, NO_DATA - 1]]


def test_ways_say_where_each_cell_drains() -> None:
    grid = Grid(crs="EPSG:26917", west_m=500_000.0, north_m=4_400_000.0, cell_m=1.0, n_rows=3, n_cols=4)
    # Cell 0 east, 1 south-east, 2 led to 9, 5 west, 7 ends, 11 unknown, the rest south or end.
    receiver = np.array([1, 6, 9, 7, 8, 4, 10, 7, 8, 9, 10, -1])
    sides = np.zeros((3, 4), np.uint8)
    sides[1, 1] = 4
    way, led = ways_of(receiver, sides, np.array([2]), grid, Cut(first_row=0, last_row=3, first_col=0, last_col=4))
    assert way.tolist() == [5, 8, LED, 7, 7, 3 + MAY_BE_MORE, 7, 4, 4, 4, 4, UNKNOWN]
    assert led == [[2, 9]]
    way, led = ways_of(receiver, sides, np.array([2]), grid, Cut(first_row=0, last_row=2, first_col=1, last_col=4))
    assert way.reshape(2, 3)[0].tolist() == [8, LEAVES, 7]
    assert way.reshape(2, 3)[1].tolist() == [LEAVES + MAY_BE_MORE, LEAVES, 4]
    assert led == []


def test_a_cut_keeps_the_widest_margin_that_fits() -> None:
    bounds = (500_010.0, 4_399_985.0, 500_020.0, 4_399_995.0)
    assert cut_around(GRID, bounds, 10_000) == Cut(first_row=0, last_row=30, first_col=0, last_col=50)
    cut = cut_around(GRID, bounds, 300)
    assert cut == Cut(first_row=2, last_row=18, first_col=7, last_col=23)
    assert cut.shape[0] * cut.shape[1] <= 300
    assert cut_around(GRID, bounds, 99) is None


@pytest.mark.parametrize("crs", ["EPSG:26917", "EPSG:32119", "EPSG:3035"])
def test_cubics_lead_where_the_projection_leads(crs: str) -> None:
    west, north = {
        "EPSG:26917": (712_400.0, 3_580_520.0),
        "EPSG:32119": (500_000.0, 200_000.0),
        "EPSG:3035": (4_321_000.0, 3_210_000.0),
    }[crs]
    grid = Grid(crs=crs, west_m=west, north_m=north, cell_m=1.0, n_rows=900, n_cols=1300)
    cubics = place_cubics(grid, Cut(first_row=0, last_row=900, first_col=0, last_col=1300))
    assert cubics is not None
    rng = np.random.default_rng(1)
    col, row = rng.uniform(0, 1300, 200), rng.uniform(0, 900, 200)
    to_degrees = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    lon, lat = to_degrees.transform(west + col, north - row)
    center, reach = np.array(cubics["center"]), np.array(cubics["reach"])

    def cubic(coefficients: list[float], u: np.ndarray, v: np.ndarray) -> np.ndarray:
        powers = [(i, j) for i in range(4) for j in range(4 - i)]
        return sum(c * u**i * v**j for c, (i, j) in zip(coefficients, powers, strict=True))  # type: ignore[return-value]

    u, v = (lon - center[0]) / reach[0], (lat - center[1]) / reach[1]
    found = [center[k + 2] + reach[k + 2] * cubic(cubics["to_cell"][k], u, v) for k in (0, 1)]
    assert np.abs(found[0] - col).max() < MAX_PLACE_ERROR_CELLS
    assert np.abs(found[1] - row).max() < MAX_PLACE_ERROR_CELLS
    u, v = (col - center[2]) / reach[2], (row - center[3]) / reach[3]
    back = [center[k] + reach[k] * cubic(cubics["to_degrees"][k], u, v) for k in (0, 1)]
    assert np.abs(back[0] - lon).max() < 1e-7
    assert np.abs(back[1] - lat).max() < 1e-7


def test_a_window_as_wide_as_a_country_carries_no_ground() -> None:
    grid = Grid(crs="EPSG:26917", west_m=200_000.0, north_m=4_400_000.0, cell_m=1000.0, n_rows=900, n_cols=900)
    assert place_cubics(grid, Cut(first_row=0, last_row=900, first_col=0, last_col=900)) is None


def test_what_drains_into_a_cut_counts(sample_result: BlockResult, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = packed_terrain(sample_result)
    assert whole is not None
    assert whole["came"] == []
    assert not whole["is_cut"]
    west, south, east, north = sample_result.block.lots.total_bounds
    monkeypatch.setattr(
        "screening.report.map.packed_terrain.MAX_PAGE_CELLS", int((east - west) * (north - south) * 1.3)
    )
    cut = packed_terrain(sample_result)
    assert cut is not None
    assert cut["is_cut"]
    assert cut["rows"] * cut["cols"] < whole["rows"] * whole["cols"]
    # All ground that drains through a kept outlet lies in the cut or is counted to a cell of it.
    content = np.frombuffer(zlib.decompress(base64.b64decode(cut["way"])), np.uint8).astype(int) & 15
    came = np.zeros(content.size)
    for cell, area in cut["came"]:
        came[cell] += area
    assert came.sum() > 0
    to = np.arange(content.size)
    moves = content < 9
    to[moves] += (content[moves] // 3 - 1) * cut["cols"] + content[moves] % 3 - 1
    total = came + np.where(content == UNKNOWN, 0.0, sample_result.block.grid.cell_area_m2)
    order = upstream_first(to)
    for cell in order:
        if to[cell] != cell:
            total[to[cell]] += total[cell]
    kept = kept_area(sample_result, cut)
    assert total[content != UNKNOWN] == pytest.approx(kept[content != UNKNOWN], abs=0.06 * len(cut["came"]) + 0.1)


def upstream_first(to: np.ndarray) -> list[int]:
    """Cells, each before the one it drains to."""
    left = np.bincount(to[to != np.arange(to.size)], minlength=to.size)
    ready = np.flatnonzero(left == 0).tolist()
    order = []
    while ready:
        cell = ready.pop()
        order.append(cell)
        if to[cell] != cell:
            left[to[cell]] -= 1
            if left[to[cell]] == 0:
                ready.append(int(to[cell]))
    return order


def kept_area(result: BlockResult, cut: dict[str, int]) -> np.ndarray:
    """Contributing area of the cells of the cut, as the flow field has it."""
    grid = result.block.grid
    bounds = tuple(float(value) for value in result.block.lots.total_bounds)
    place = cut_around(grid, bounds, int((bounds[2] - bounds[0]) * (bounds[3] - bounds[1]) * 1.3))
    assert place is not None
    assert place.shape == (cut["rows"], cut["cols"])
    return place.of(result.flow.contributing_area_m2).ravel()
