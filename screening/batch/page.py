"""One page for all lots of a batch: packed shapes, tiles drawn when looked at, a linked table. It needs no network."""

from __future__ import annotations

import base64
import gzip
import json
from html import escape
from importlib import resources
from typing import TYPE_CHECKING, Any

import numpy as np

from screening.models import I32
from screening.report.cautions import TAGLINE
from screening.report.templates import bundle_text

if TYPE_CHECKING:
    import geopandas as gpd

STEPS_PER_M = 10
"""Shapes are kept to the decimetre: finer than a lot line is surveyed, and 100,000 lots fit a page."""
_WORDS = ("lot_id", "status", "main_finding", "reason", "worst_structure_id", "exposure")
_NUMBERS = ("visit_rank", "visit_score", "n_flags", "area_m2", "off_lot_area_m2", "low_spot_depth_max_m")


def lots_page(summary: gpd.GeoDataFrame, *, title: str) -> str:
    """Build the page.

    Parameters
    ----------
    summary
        From `gather.rank_lots`: `columns.batch_columns` and polygons [m].
    title
        Its heading.
    """
    from screening.schema.columns import batch_columns

    shapes, origin = pack_shapes(summary.geometry.to_numpy())
    labels = {column.name: column.label + (f" ({column.unit})" if column.unit else "") for column in batch_columns()}
    table = {
        "n": len(summary),
        "origin": origin,
        "steps_per_m": STEPS_PER_M,
        "labels": {name: labels[name] for name in (*_WORDS, *_NUMBERS)},
        "words": {name: _coded(summary[name]) for name in _WORDS},
        "numbers": {name: _rounded(summary[name]) for name in _NUMBERS},
    }
    parts = {
        "TITLE": escape(title),
        "TAGLINE": escape(TAGLINE),
        "STYLE": _asset("lots.css"),
        "SHAPES": _packed(shapes.tobytes()),
        "TABLE": _packed(json.dumps(table, ensure_ascii=True, allow_nan=False).encode("ascii")),
        "SCRIPT": bundle_text("lots"),
    }
    page = _asset("lots.html")
    for name, text in parts.items():
        page = page.replace(f"{{{{{name}}}}}", text)
    return page


def pack_shapes(shapes: Any) -> tuple[I32, list[float]]:
    """Pack polygons as whole decimetres from their south-west corner.

    Returns
    -------
    For each shape the number of rings, for each ring the number of points, then x and y as differences from the point
    before, wherever that was, int32; x and y of the corner [m]. Rings of the parts of a shape follow one another.
    """
    import shapely

    bounds = shapely.total_bounds(shapes)
    west, south = (float(value) if np.isfinite(value) else 0.0 for value in bounds[:2])
    packed: list[I32] = []
    last = np.zeros(2, np.int64)
    for shape in shapes:
        rings = [] if shape is None else [ring for part in shapely.get_parts(shape) for ring in shapely.get_rings(part)]
        packed.append(np.array([len(rings)], np.int32))
        for ring in rings:
            points = np.round((shapely.get_coordinates(ring)[:-1] - (west, south)) * STEPS_PER_M).astype(np.int64)
            steps = np.diff(points, axis=0, prepend=last[np.newaxis])
            packed += [np.array([len(points)], np.int32), steps.astype(np.int32).ravel()]
            last = points[-1]
    return np.concatenate([np.empty(0, np.int32), *packed]).astype("<i4"), [west, south]


def _coded(words: Any) -> dict[str, Any]:
    """Give each different text once, and its number in each row."""
    import pandas as pd

    codes, texts = pd.factorize(words.fillna("").astype(str))
    return {"texts": [str(text) for text in texts], "codes": codes.tolist()}


def _rounded(numbers: Any) -> list[float | None]:
    values = numbers.to_numpy(float, na_value=np.nan)
    return [None if value != value else round(value, 2) for value in values.tolist()]


def _packed(data: bytes) -> str:
    return base64.b64encode(gzip.compress(data, 9, mtime=0)).decode("ascii")


def _asset(name: str) -> str:
    return (resources.files("screening.batch") / "assets" / name).read_text(encoding="utf-8")
