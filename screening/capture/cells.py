"""Cells of shapes: of driveways, lots and zones."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import Any

from screening.grid import Grid, rasterize
from screening.models import I32, I64


def cells_by_shape(grid: Grid, shapes: Iterable[Any]) -> list[I64]:
    """Give the cells of each shape, as flat indices; where two overlap, the later one has them."""
    each = list(shapes)
    return cells_by_label(rasterize(grid, each, range(1, len(each) + 1)), len(each))


def cells_by_label(label: I32, n_labels: int) -> list[I64]:
    """Give the cells of each label 1 to n of a raster, as flat indices."""
    from screening.kernels.zones import ragged_from_labels

    start, cells = ragged_from_labels(label, n_labels)
    return [cells[one:after] for one, after in itertools.pairwise(start.tolist())]
