"""The walls of structures: their sides by compass, and the ground cells beside each."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.grid import Grid
from screening.models import F64, I64, Block, Surface, freeze
from screening.schema.codes.flow import compass_of
from screening.schema.codes.structures import Side

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

SMALL_CELLS = 4
"""Cells below which a footprint counts as small."""
# Steps up to this share of a cell are drawn from cells, not built: a diagonal wall traced along cells has 0.71.
_STEP_CELLS = 0.75
# Walls nearer than this to another structure have no ground cell between them.
_GAP_CELLS = 0.5
# Below this length of the mean direction (1 = all walls at right angles, 0 = none preferred) a plan is round.
_SQUARENESS_MIN = 0.5


@dataclass(frozen=True, eq=False)
class WallEdge:
    """A piece of a wall that is straight but for steps smaller than the cells can show.

    Parameters
    ----------
    line
        LineString [m].
    normal
        Unit vector away from the structure, (east, north).
    """

    line: BaseGeometry
    normal: tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class WallSide:
    """The wall of a structure toward one of its four main directions, or toward all.

    Parameters
    ----------
    structure
        Row of `Block.structures`.
    name
        After the main direction it faces; `Side.ALL` of a small one.
    edges
        Its pieces.
    quarter
        0 to 3 clockwise.
    """

    structure: int
    name: Side
    edges: tuple[WallEdge, ...]
    quarter: int = 0

    @cached_property
    def line(self) -> BaseGeometry:
        """All pieces, joined where they meet."""
        import shapely

        pieces: Any = [edge.line for edge in self.edges]
        merged: Any = shapely.line_merge(shapely.MultiLineString(pieces))
        line: BaseGeometry = merged
        return line


@dataclass(frozen=True, kw_only=True, eq=False)
class Walls:
    """Sides and cells of the structures on chosen lots.

    Parameters
    ----------
    structure
        Their rows in `Block.structures`, int64 (n_structures,).
    sides
        By structure, clockwise from north.
    zone_start, zone_cells
        Flat indices of the ground cells beside the walls and of the footprint of structure `i`:
        `zone_cells[zone_start[i]:zone_start[i + 1]]`, int64.
    side
        Place in `sides` of each of these cells, -1 in the footprint, int64.
    """

    structure: I64
    sides: tuple[WallSide, ...]
    zone_start: I64
    zone_cells: I64
    side: I64

    def __post_init__(self) -> None:
        freeze(self.structure, self.zone_start, self.zone_cells, self.side)

    @property
    def zone(self) -> I64:
        """Place in `structure` of each cell of `zone_cells`."""
        return np.repeat(np.arange(self.structure.size), np.diff(self.zone_start))

    @property
    def structure_of_side(self) -> I64:
        """Place in `structure` of the structure of each of `sides`."""
        return np.searchsorted(self.structure, np.array([side.structure for side in self.sides], np.int64))

    def ring_of(self, number: int) -> I64:
        """Ground cells beside the walls of structure `number`."""
        part = slice(self.zone_start[number], self.zone_start[number + 1])
        return self.zone_cells[part][self.side[part] >= 0]

    def n_footprint_cells(self) -> I64:
        """Cells of each footprint."""
        return np.bincount(self.zone[self.side < 0], minlength=self.structure.size).astype(np.int64)

    def cells_by_side(self) -> tuple[I64, I64]:
        """Ground cells beside each side: those of side `i` are `cells[start[i]:start[i + 1]]`."""
        beside = np.flatnonzero(self.side >= 0)
        order = beside[np.argsort(self.side[beside], kind="stable")]
        count = np.bincount(self.side[beside], minlength=len(self.sides))
        return np.concatenate(([0], np.cumsum(count))).astype(np.int64), self.zone_cells[order]


def find_walls(block: Block, surface: Surface) -> Walls:
    """Find the sides of the structures on chosen lots and the ground beside them.

    Ground beside a wall is every cell with elevation that touches the footprint's cells by side or corner; it belongs
    to the side whose wall is nearest, at a corner to the one that ends there clockwise. A wall shared with another
    structure is no side.

    Parameters
    ----------
    block, surface
        Of the same window.
    """
    import shapely

    from screening.kernels.zones import ragged_from_labels, ring_of_labels

    n_all = len(block.structures)
    rows = np.flatnonzero((block.structures["lot_id"] != "").to_numpy(bool)).astype(np.int64)
    ring_start, ring = ring_of_labels(surface.structure_index, n_all)
    own_start, own = ragged_from_labels(surface.structure_index, n_all)
    shapes = np.asarray(block.structures.geometry.values, dtype=object)
    tree = shapely.STRtree(shapes)
    is_known = ~np.isnan(surface.routed_elev_m.ravel())
    sides: list[WallSide] = []
    cells: list[I64] = [np.empty(0, np.int64)]
    side: list[I64] = [np.empty(0, np.int64)]
    start = [0]
    for row in rows.tolist():
        beside = ring[ring_start[row] : ring_start[row + 1]]
        beside = beside[is_known[beside]]
        under = own[own_start[row] : own_start[row + 1]]
        near = shapes[[other for other in tree.query(shapes[row].buffer(surface.grid.cell_m)).tolist() if other != row]]
        found = sides_of(shapes[row], near, cell_m=surface.grid.cell_m, is_small=under.size < SMALL_CELLS)
        found = [WallSide(structure=row, name=part.name, edges=part.edges, quarter=part.quarter) for part in found]
        side.extend((len(sides) + nearest_side(surface.grid, beside, found), np.full(under.size, -1, np.int64)))
        sides.extend(found)
        cells.extend((beside, under))
        start.append(start[-1] + beside.size + under.size)
    return Walls(
        structure=rows,
        sides=tuple(sides),
        zone_start=np.asarray(start, np.int64),
        zone_cells=np.concatenate(cells),
        side=np.concatenate(side),
    )


def sides_of(footprint: BaseGeometry, near: Any = (), *, cell_m: float, is_small: bool = False) -> list[WallSide]:
    """Split the wall line of a footprint into the sides toward its main directions.

    The main directions are the four at right angles that its walls follow best by their length; a plan without any,
    such as a round one, takes those of the compass. Each piece of wall belongs to the direction it faces most
    nearly, so that a side may have pieces set back from each other, as in an L.

    Parameters
    ----------
    footprint
        Polygon [m]; steps smaller than three quarters of a cell do not make a wall of their own.
    near
        Other structures; walls within half a cell of them are left out, unless nothing would be left.
    cell_m
        Cell size [m].
    is_small
        Take the whole wall line as one side.
    """
    import shapely

    edges = _edges(footprint, cell_m)
    if len(near):
        others = shapely.union_all([shape.buffer(_GAP_CELLS * cell_m, join_style="mitre") for shape in near])
        edges = [piece for edge in edges for piece in _outside(edge, others, cell_m)] or edges
    if is_small:
        return [WallSide(structure=-1, name=Side.ALL, edges=tuple(edges))]
    main_deg = _main_direction_deg(edges)
    quarter = [_quarter(edge, main_deg) for edge in edges]
    sides = []
    for number in sorted(set(quarter)):
        own = tuple(edge for edge, toward in zip(edges, quarter, strict=True) if toward == number)
        sides.append(WallSide(structure=-1, name=_name(main_deg + 90.0 * number), edges=own, quarter=number))
    return sides


def nearest_side(grid: Grid, cells: I64, sides: list[WallSide]) -> I64:
    """Place in `sides` of the wall nearest to the centre of each cell, int64."""
    import shapely

    row, col = np.divmod(cells, grid.n_cols)
    centres = shapely.points(grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m)
    distance = np.full((cells.size, 4), np.inf)
    place = np.zeros(4, np.int64)
    for number, side in enumerate(sides):
        distance[:, side.quarter] = shapely.distance(centres, side.line)
        place[side.quarter] = number
    is_near = distance <= distance.min(axis=1, initial=np.inf, keepdims=True) + 1e-6 * grid.cell_m
    # Two walls that meet at a corner are equally near to it: the one whose forerunner is not near comes first.
    is_first = is_near & ~np.roll(is_near, 1, axis=1)
    chosen = np.where(is_first.any(axis=1), is_first.argmax(axis=1), is_near.argmax(axis=1))
    return np.asarray(place[chosen], np.int64)


def _edges(footprint: Any, cell_m: float) -> list[WallEdge]:
    """Straight pieces of the outline and of the courtyards in it, each with its way out.

    The way out is that of the piece without its steps; the line keeps them.
    """
    import shapely
    from shapely.geometry.polygon import orient

    polygon = orient(footprint)
    edges = []
    for ring in (polygon.exterior, *polygon.interiors):
        corners, kept = _corners(shapely.get_coordinates(ring), cell_m)
        for first, end in itertools.pairwise(kept.tolist()):
            along = corners[end] - corners[first]
            length = float(np.hypot(*along))
            if length > 0:
                line = shapely.LineString(corners[first : end + 1])
                edges.append(WallEdge(line, (along[1] / length, -along[0] / length)))
    return edges


def _corners(ring: F64, cell_m: float) -> tuple[F64, I64]:
    """Corners of a ring, and which of them stay when steps that follow cells are dropped.

    The ring begins at the corner farthest from the middle, which is sure to stay.
    """
    import shapely

    corners = ring[:-1]
    first = int(np.argmax(np.round(np.hypot(*(corners - corners.mean(axis=0)).T), 6)))
    turned = np.concatenate((corners[first:], corners[: first + 1]))
    smooth = shapely.get_coordinates(shapely.LineString(turned).simplify(_STEP_CELLS * cell_m))
    if len(smooth) < 4:
        return turned, np.arange(len(turned))
    kept = [0]
    for corner in smooth[1:-1]:
        # Smoothing keeps corners as they are and in their order.
        kept.append(kept[-1] + 1 + int(np.flatnonzero((turned[kept[-1] + 1 :] == corner).all(axis=1))[0]))
    return turned, np.array([*kept, len(turned) - 1], np.int64)


def _outside(edge: WallEdge, others: BaseGeometry, cell_m: float) -> list[WallEdge]:
    """Parts of a wall that no other structure stands against."""
    import shapely

    parts = shapely.get_parts(edge.line.difference(others))
    return [WallEdge(part, edge.normal) for part in parts.tolist() if part.length >= _GAP_CELLS * cell_m]


def _main_direction_deg(edges: list[WallEdge]) -> float:
    """Bearing of the main direction nearest to north, -45 to 45 [deg]."""
    length = np.array([edge.line.length for edge in edges])
    bearing = np.deg2rad([_bearing_deg(edge.normal) for edge in edges])
    mean = complex((length * np.exp(4j * bearing)).sum() / length.sum())
    return float(np.rad2deg(np.angle(mean))) / 4.0 if abs(mean) >= _SQUARENESS_MIN else 0.0


def _bearing_deg(way: tuple[float, float]) -> float:
    return float(np.rad2deg(np.arctan2(way[0], way[1]))) % 360.0


def _quarter(edge: WallEdge, main_deg: float) -> int:
    # Rounded first, so that a wall halfway between two directions falls to the same one however it is turned.
    return int(np.floor(round((_bearing_deg(edge.normal) - main_deg) / 90.0, 6) + 0.5)) % 4


def _name(bearing_deg: float) -> Side:
    return Side(compass_of(bearing_deg))
