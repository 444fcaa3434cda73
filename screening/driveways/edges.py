"""The edge of a driveway in pieces, each with what takes the water that leaves over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.driveways.outline import Outline
from screening.models import F64, I32, Block, Bool
from screening.schema.codes.driveways import ShedsTo
from screening.schema.codes.structures import StructureKind
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_SAMPLES_PER_CELL = 4
_TURN_DEG = 30.0
_WALL_REACH_CELLS = 1.0
_STREET_REACH_CELLS = 1.5


@dataclass(frozen=True, kw_only=True)
class EdgePiece:
    """A piece of the edge between two distances along the outline [m]."""

    from_m: float
    to_m: float
    sheds_to: ShedsTo
    sheds_to_id: str


@dataclass(frozen=True, kw_only=True, eq=False)
class Neighbours:
    """What lies around driveways: shapes to look up, made once for a block."""

    structures: Any
    structure_kind: list[str]
    structure_id: list[str]
    roads: Any
    driveways: Any
    driveway_id: list[str]
    lots: Any
    lot_id: list[str]
    has_roads: bool
    has_lots: bool


def neighbours_of(block: Block) -> Neighbours:
    """Gather what lies around driveways."""
    import shapely

    def tree(frame: Any) -> Any:
        return shapely.STRtree(np.asarray(frame.geometry.values, dtype=object))

    return Neighbours(
        structures=tree(block.structures),
        structure_kind=block.structures["kind"].tolist(),
        structure_id=block.structures["structure_id"].tolist(),
        roads=tree(block.roads),
        driveways=tree(block.driveways),
        driveway_id=block.driveways["driveway_id"].tolist(),
        lots=tree(block.lots),
        lot_id=block.lots["lot_id"].tolist(),
        has_roads="roads" in block.given,
        has_lots="lots" in block.given,
    )


def cut_edge(
    outline: Outline,
    around: Neighbours,
    *,
    driveway_id: str,
    lot_id: str,
    low_spot: Bool,
    block: Block,
    criteria: Criteria,
) -> list[EdgePiece]:
    """Cut the outline of a driveway where it turns, where what lies beyond it changes, and into pieces no too long.

    Parameters
    ----------
    outline
        Of the driveway without what structures cover.
    around
        From `neighbours_of`.
    driveway_id, lot_id
        Its own.
    low_spot
        bool (n_rows, n_cols) of the window: where low spots are reported.
    block
        Of the same window.
    criteria
        `driveway_edge_piece_m`, `driveway_street_reach_m`.

    Returns
    -------
    Pieces in the order of the outline, without gaps; what lies beyond is looked at every quarter of a cell.
    """
    step = block.grid.cell_m / _SAMPLES_PER_CELL
    bounds = _breaks(outline)
    n_steps = np.maximum(np.round(np.diff(bounds) / step).astype(int), 1)
    middles = [a + (np.arange(n) + 0.5) * (b - a) / n for a, b, n in zip(bounds[:-1], bounds[1:], n_steps, strict=True)]
    sheds_to, ids = _what_lies_beyond(
        outline=outline,
        along=np.concatenate(middles),
        around=around,
        driveway_id=driveway_id,
        lot_id=lot_id,
        low_spot=low_spot,
        block=block,
        criteria=criteria,
    )
    pieces: list[EdgePiece] = []
    first = 0
    for a, b, n in zip(bounds[:-1].tolist(), bounds[1:].tolist(), n_steps.tolist(), strict=True):
        kinds = list(zip(sheds_to[first : first + n], ids[first : first + n], strict=True))
        pieces += _runs(kinds, a, b, criteria.driveways.driveway_edge_piece_m)
        first += n
    return pieces


def _breaks(outline: Outline) -> F64:
    """Distances along the outline at which it turns, or a ring ends."""
    edges = outline.edges
    way = np.arctan2(edges[:, 3] - edges[:, 1], edges[:, 2] - edges[:, 0])
    turn = np.abs((np.diff(way) + np.pi) % (2 * np.pi) - np.pi)
    is_break = (turn > np.deg2rad(_TURN_DEG)) | (np.diff(outline.ring) > 0)
    return np.concatenate(([0.0], edges[1:, 4][is_break], [outline.length_m]))


def _runs(kinds: list[tuple[ShedsTo, str]], start: float, end: float, longest: float) -> list[EdgePiece]:
    """Pieces that shed to one thing each, no longer than the longest."""
    step = (end - start) / len(kinds)
    pieces, first = [], 0
    for number in range(1, len(kinds) + 1):
        if number < len(kinds) and kinds[number] == kinds[first]:
            continue
        a, b = start + first * step, start + number * step
        n = max(int(np.ceil((b - a) / longest - 1e-9)), 1)
        cuts = np.linspace(a, b, n + 1)
        cuts[-1] = end if number == len(kinds) else b
        pieces += [
            EdgePiece(
                from_m=float(cuts[i]), to_m=float(cuts[i + 1]), sheds_to=kinds[first][0], sheds_to_id=kinds[first][1]
            )
            for i in range(n)
        ]
        first = number
    return pieces


def _what_lies_beyond(
    outline: Outline,
    along: F64,
    around: Neighbours,
    driveway_id: str,
    lot_id: str,
    low_spot: Bool,
    block: Block,
    criteria: Criteria,
) -> tuple[list[ShedsTo], list[str]]:
    """What lies beyond the outline at each distance along it, and its id."""
    import shapely

    cell = block.grid.cell_m
    at, out = outline.points_at(along)
    beyond = shapely.points(at + out * 0.5 * cell)
    near_wall = shapely.linestrings(np.stack((at, at + out * _WALL_REACH_CELLS * cell), axis=1))
    near_road = shapely.linestrings(np.stack((at, at + out * _STREET_REACH_CELLS * cell), axis=1))
    wall = _first_hit(around.structures, near_wall)
    street = _first_hit(around.roads, near_road) >= 0
    other = _first_hit(around.driveways, beyond, skip=[n == driveway_id for n in around.driveway_id])
    own = [shape for shape, name in zip(around.lots.geometries, around.lot_id, strict=True) if name == lot_id]
    on_lot = (
        shapely.contains_xy(own[0], shapely.get_x(beyond), shapely.get_y(beyond)) if own else np.ones(len(at), bool)
    )
    verge = np.zeros(len(at), bool)
    if around.has_roads and len(around.roads):
        verge[np.unique(around.roads.query(beyond, "dwithin", criteria.driveways.driveway_street_reach_m)[0])] = True
    in_spot = _at_points(low_spot, at + out * cell, block)
    kinds, ids = [], []
    for i in range(len(at)):
        to, of = ShedsTo.LAWN, ""
        if wall[i] >= 0:
            is_garage = around.structure_kind[wall[i]] == StructureKind.GARAGE
            to, of = ShedsTo.GARAGE if is_garage else ShedsTo.STRUCTURE, around.structure_id[wall[i]]
        elif street[i]:
            to = ShedsTo.STREET
        elif other[i] >= 0:
            to, of = ShedsTo.DRIVEWAY, around.driveway_id[other[i]]
        elif around.has_lots and not on_lot[i]:
            known = ShedsTo.STREET if verge[i] else ShedsTo.NEIGHBOUR
            to = known if around.has_roads else ShedsTo.STREET_OR_NEIGHBOUR
        elif in_spot[i]:
            to = ShedsTo.LOW_SPOT
        kinds.append(to)
        ids.append(of)
    return kinds, ids


def _first_hit(tree: Any, shapes: Any, *, skip: list[bool] | None = None) -> I32:
    """Number of the first shape of a tree that each shape meets, -1 = none."""
    hit = np.full(len(shapes), -1, np.int32)
    if len(tree):
        which, found = tree.query(shapes, predicate="intersects")
        if skip is not None:
            kept = ~np.asarray(skip, bool)[found]
            which, found = which[kept], found[kept]
        for i, j in sorted(zip(which.tolist(), found.tolist(), strict=True), reverse=True):
            hit[i] = j
    return hit


def _at_points(mask: Bool, xy: F64, block: Block) -> Bool:
    grid = block.grid
    row = np.clip(np.floor((grid.north_m - xy[:, 1]) / grid.cell_m).astype(int), 0, grid.n_rows - 1)
    col = np.clip(np.floor((xy[:, 0] - grid.west_m) / grid.cell_m).astype(int), 0, grid.n_cols - 1)
    return np.asarray(mask[row, col], np.bool_)


def line_of(outline: Outline, piece: EdgePiece) -> BaseGeometry:
    """Draw a piece of the edge."""
    import shapely

    inner = outline.edges[(outline.edges[:, 4] > piece.from_m) & (outline.edges[:, 4] < piece.to_m)]
    # The end of the last edge of a ring is the start of none: a hair before it is on that ring still.
    ends, _ = outline.points_at(np.array([piece.from_m, piece.to_m - 1e-9 * max(piece.to_m, 1.0)]))
    return shapely.LineString(np.concatenate((ends[:1], inner[:, :2], ends[1:])))
