"""Fall of the ground away from walls, and how far elevation data can tell it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import Grid, rasterize
from screening.models import F64, I64, Block, Bool, Surface
from screening.schema.codes.verdicts import Outcome
from screening.schema.criteria import Criteria
from screening.structures.walls import WallSide
from screening.terrain.elevation_error import vertical_rmse_m

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_SAMPLES_PER_CELL = 20
# Two cells side by side give a cell less two samples; less than that and both heights come from the same cells.
_BASELINE_MIN_CELLS = 0.9
# Ground that begins farther out than this does not belong to the wall: something else stands between.
_FIRST_MAX_CELLS = 2.0
# Of profiles read together, so that memory stays small.
_STATIONS_AT_ONCE = 20_000
# Share of a side's stations that must be measured.
_STATIONS_MIN_FRAC = 0.5


@dataclass(frozen=True, kw_only=True)
class FallAway:
    """Fall of one side; NaN where it is not assessed.

    Parameters
    ----------
    fall_away_pct
        Median over the stations along the wall; negative = the ground falls toward the wall.
    required_pct
        What the residential code asks for on such ground.
    error_pct
        Two-point error of the elevation at the 95 % level over the distance measured.
    distance_m
        Median distance between the two heights.
    paved_frac
        Share of the stations on pavement.
    """

    fall_away_pct: float
    required_pct: float
    error_pct: float
    distance_m: float
    paved_frac: float


def two_point_error_m(rmse_m: float) -> float:
    """Error of a height difference between two points at the 95 % level [m].

    References
    ----------
    1.9600 RMSE is the vertical accuracy at the 95 % level of FGDC-STD-007.3-1998 (from memory); two points of
    independent error have the square root of 2 times that of one.

    Examples
    --------
    >>> round(two_point_error_m(0.10), 3)
    0.277
    """
    return float(1.96 * np.sqrt(2.0) * rmse_m)


@dataclass(frozen=True, eq=False)
class BareEarth:
    """What profiles are read from.

    Parameters
    ----------
    elev_m
        Ground as it was measured, float32 [m]; NaN under structures and where it was interpolated or missing.
    is_paved
        Driveways and roads.
    """

    grid: Grid
    elev_m: Any
    is_paved: Bool


def bare_earth_of(block: Block, surface: Surface) -> BareEarth:
    """Take away from the ground what was not measured: under structures, and in gaps that were filled in."""
    unknown = (surface.structure_index > 0) | surface.is_interpolated
    paved = [*block.driveways.geometry, *block.roads.geometry]
    is_paved = rasterize(block.grid, paved, [1] * len(paved)) > 0
    return BareEarth(block.grid, np.where(unknown, np.nan, surface.elev_m), is_paved)


def measure_fall_away(
    sides: Sequence[WallSide], lots: Sequence[BaseGeometry | None], bare_earth: BareEarth, *, criteria: Criteria
) -> list[FallAway]:
    """Measure the fall of the ground away from the sides of structures.

    A station stands every cell along a wall. From it a profile runs straight out, to `fall_away_distance_m` or to the
    lot line, another structure or unknown ground if nearer; its fall is that between its first and its last height on
    open ground. A profile shorter than a cell shows nothing.

    Parameters
    ----------
    sides
        The walls.
    lots
        The lot of each, whose line ends its profiles; None = no lot line is known.
    bare_earth
        From `bare_earth_of`.
    criteria
        `fall_away_distance_m`, `fall_away_min_pct`, `fall_away_paved_min_pct`, and the
        elevation's RMSE.

    Returns
    -------
    One a side.
    """
    if not sides:
        return []
    at, way, owner = _stations(sides, bare_earth.grid.cell_m)
    reach = _reach(at, way, np.array(lots, dtype=object), owner, criteria.structures.fall_away_distance_m)
    parts = [
        profile_falls(bare_earth, at[part], way[part], reach[part], distance_m=criteria.structures.fall_away_distance_m)
        for part in (slice(first, first + _STATIONS_AT_ONCE) for first in range(0, len(at), _STATIONS_AT_ONCE))
    ]
    fall, distance, paved = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    bounds = np.searchsorted(owner, np.arange(len(sides) + 1))
    each = [slice(first, end) for first, end in itertools.pairwise(bounds.tolist())]
    return [_of_side(fall[own], distance[own], paved[own], criteria) for own in each]


def _of_side(fall: F64, distance: F64, paved: Bool, criteria: Criteria) -> FallAway:
    """A side from its stations, if enough of them could be measured."""
    is_measured = ~np.isnan(fall)
    if is_measured.mean() < _STATIONS_MIN_FRAC:
        return FallAway(
            fall_away_pct=np.nan,
            required_pct=criteria.structures.fall_away_min_pct,
            error_pct=np.nan,
            distance_m=np.nan,
            paved_frac=np.nan,
        )
    paved_frac = float(paved[is_measured].mean())
    baseline = float(np.median(distance[is_measured]))
    return FallAway(
        fall_away_pct=float(np.median(fall[is_measured])),
        required_pct=criteria.structures.fall_away_paved_min_pct
        if paved_frac > 0.5
        else criteria.structures.fall_away_min_pct,
        error_pct=two_point_error_m(vertical_rmse_m(criteria)) / baseline * 100.0,
        distance_m=baseline,
        paved_frac=paved_frac,
    )


def _stations(sides: Sequence[WallSide], cell_m: float) -> tuple[F64, F64, I64]:
    """Places along the walls, evenly in each piece, the way out from each, and whose it is."""
    import shapely

    lines, ways, shares, owner = [], [], [], []
    for number, side in enumerate(sides):
        counts = [round(edge.line.length / cell_m) for edge in side.edges]
        if not any(counts):
            counts = [1] * len(counts)
        for edge, n in zip(side.edges, counts, strict=True):
            lines += [edge.line] * n
            ways += [edge.normal] * n
            shares += [(k + 0.5) / n for k in range(n)]
            owner += [number] * n
    places = shapely.line_interpolate_point(np.array(lines, dtype=object), np.array(shares), normalized=True)
    return shapely.get_coordinates(places), np.array(ways, np.float64), np.array(owner, np.int64)


def _reach(at: F64, way: F64, lots: Any, owner: I64, distance_m: float) -> F64:
    """How far each profile may run: 0 from a wall that stands off its lot."""
    import shapely

    reach = np.full(len(at), distance_m)
    lot, line = lots[owner], shapely.boundary(lots)[owner]
    points = shapely.points(at)
    rays = shapely.linestrings(np.stack((at, at + way * distance_m), axis=1))
    to_line = shapely.distance(points, shapely.intersection(rays, line))
    reach = np.where(np.isnan(to_line), reach, np.minimum(to_line, reach))
    return np.where(~shapely.is_missing(lot) & ~shapely.covers(lot, points), 0.0, reach)


def profile_falls(bare_earth: BareEarth, at: F64, way: F64, reach: F64, *, distance_m: float) -> tuple[F64, F64, Bool]:
    """Measure the fall along straight profiles.

    Parameters
    ----------
    bare_earth
        From `bare_earth_of`.
    at, way
        Where each begins [m] and its unit vector, float64 (n, 2), (east, north).
    reach
        Where each must end at the latest, float64 (n,) [m].
    distance_m
        The longest [m].

    Returns
    -------
    Fall, positive downward along the way, float64 (n,) [%], NaN = too short; distance between its two heights, float64
    (n,) [m]; whether most of it is paved.
    """
    n_steps = int(np.ceil(distance_m / bare_earth.grid.cell_m * _SAMPLES_PER_CELL))
    t = np.linspace(0.0, distance_m, n_steps + 1)
    x, y = (at[:, axis, np.newaxis] + way[:, axis, np.newaxis] * t for axis in (0, 1))
    row, col = (
        (bare_earth.grid.north_m - y) / bare_earth.grid.cell_m - 0.5,
        (x - bare_earth.grid.west_m) / bare_earth.grid.cell_m - 0.5,
    )
    height = _between_cells(bare_earth.elev_m, row, col)
    is_open = ~np.isnan(height) & (t <= reach[:, np.newaxis] + 1e-9)
    first = is_open.argmax(axis=1)
    each = np.arange(len(at))
    goes_on = np.where(np.arange(t.size) < first[:, np.newaxis], True, is_open)
    end = np.where(goes_on.all(axis=1), t.size, goes_on.argmin(axis=1)) - 1
    baseline = t[end] - t[first]
    is_long = (
        is_open.any(axis=1)
        & (t[first] <= _FIRST_MAX_CELLS * bare_earth.grid.cell_m)
        & (baseline >= _BASELINE_MIN_CELLS * bare_earth.grid.cell_m)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        fall = (height[each, first] - height[each, end]) / baseline * 100.0
    on = (np.arange(t.size) >= first[:, np.newaxis]) & (np.arange(t.size) <= end[:, np.newaxis])
    nearest = (
        np.clip(np.rint(row).astype(int), 0, bare_earth.grid.n_rows - 1),
        np.clip(np.rint(col).astype(int), 0, bare_earth.grid.n_cols - 1),
    )
    paved = (bare_earth.is_paved[nearest] & on).sum(axis=1) * 2 > on.sum(axis=1)
    return np.where(is_long, fall, np.nan), np.where(is_long, baseline, np.nan), paved


def _between_cells(elev_m: Any, row: F64, col: F64) -> F64:
    """Heights at fractional rows and columns, by the four cells round each; NaN where one that counts is unknown."""
    n_rows, n_cols = elev_m.shape
    top, left = np.floor(row).astype(int), np.floor(col).astype(int)
    height = np.zeros(row.shape)
    for d_row in (0, 1):
        for d_col in (0, 1):
            share = np.abs(1 - d_row - (row - top)) * np.abs(1 - d_col - (col - left))
            r, c = top + d_row, left + d_col
            inside = (r >= 0) & (r < n_rows) & (c >= 0) & (c < n_cols)
            value = np.where(inside, elev_m[np.clip(r, 0, n_rows - 1), np.clip(c, 0, n_cols - 1)], np.nan)
            height += np.where(share > 1e-9, share * value, 0.0)
    return height


def judge_fall(fall_away_pct: float, required_pct: float, error_pct: float) -> Outcome:
    """Judge a fall: what lies within the error of the elevation is `not assessed`, either way.

    Examples
    --------
    >>> [judge_fall(fall_pct, 5.0, 9.1).value for fall_pct in (-7.0, 2.0, 15.0)]
    ['failed', 'not assessed', 'passed']
    """
    margin = fall_away_pct - required_pct
    if margin != margin or error_pct != error_pct or abs(margin) < error_pct:
        return Outcome.NOT_ASSESSED
    return Outcome.PASSED if margin >= 0 else Outcome.FAILED
