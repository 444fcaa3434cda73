"""The outline of a driveway, in metres along its rings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from screening.models import F64, I64, freeze

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, eq=False)
class Outline:
    """The outline of a driveway, its courtyards after its outer ring, as straight edges.

    Parameters
    ----------
    edges
        Ends of each edge (x, y, x, y) [m], the driveway on its left, and how far along the outline it begins [m],
        float64 (n, 5).
    ring
        Number of the ring that each belongs to, int64.
    length_m
        Of all rings.
    """

    edges: F64
    ring: I64
    length_m: float

    def __post_init__(self) -> None:
        freeze(self.edges, self.ring)

    def points_at(self, along_m: F64) -> tuple[F64, F64]:
        """Places at distances along the outline, and the unit vectors that point out of it there, (n, 2) each."""
        start = self.edges[:, 4]
        edge = np.clip(np.searchsorted(start, along_m, side="right") - 1, 0, len(start) - 1)
        ends = self.edges[edge]
        way = ends[:, 2:4] - ends[:, :2]
        length = np.hypot(way[:, 0], way[:, 1])[:, np.newaxis]
        way = way / length
        place = ends[:, :2] + way * np.minimum(along_m - start[edge], length[:, 0])[:, np.newaxis]
        return place, np.column_stack((way[:, 1], -way[:, 0]))

    def nearest_to(self, xy: F64) -> F64:
        """Distances along the outline of the points on it that lie nearest to places (n, 2)."""
        start, way = self.edges[:, :2], self.edges[:, 2:4] - self.edges[:, :2]
        length = np.hypot(way[:, 0], way[:, 1])
        way = way / length[:, np.newaxis]
        off = xy[:, np.newaxis] - start
        along = np.clip((off * way).sum(axis=2), 0.0, length)
        away = np.hypot(*np.moveaxis(off - along[..., np.newaxis] * way, 2, 0))
        edge = away.argmin(axis=1)
        return np.asarray(self.edges[edge, 4] + along[np.arange(len(xy)), edge], np.float64)


def trace_outline(shape: BaseGeometry) -> Outline:
    """List the edges of a polygon's rings, the polygon on their left, each ring from its most northern corner."""
    import shapely
    from shapely.geometry.polygon import orient

    parts, ring_of, at = [], [], 0.0
    number = 0
    for polygon in shapely.get_parts(shape).tolist():
        turned = orient(polygon)
        for ring in (turned.exterior, *turned.interiors):
            xy = shapely.get_coordinates(ring)[:-1]
            # The same corner first wherever a file begins the ring: the most northern, of those the most western.
            first = int(np.lexsort((xy[:, 0], -xy[:, 1]))[0])
            xy = np.roll(xy, -first, axis=0)
            to = np.roll(xy, -1, axis=0)
            length = np.hypot(*(to - xy).T)
            starts = at + np.concatenate(([0.0], np.cumsum(length)[:-1]))
            keep = length > 0
            parts.append(np.column_stack((xy, to, starts))[keep])
            ring_of += [number] * int(keep.sum())
            at += float(length.sum())
            number += 1
    return Outline(np.concatenate(parts), np.array(ring_of, np.int64), at)
