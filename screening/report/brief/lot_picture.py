"""The picture of one lot in its brief: ground, water, flow, walls, candidate ground, made without a browser."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.grid import Bounds
from screening.models import BlockResult
from screening.plain_text import clean
from screening.projections import degrees_of
from screening.report.brief.picture import Canvas, rgb
from screening.report.map.images import exaggeration_of, shade_relief
from screening.schema import styles
from screening.schema.codes.capture import RouteKind
from screening.schema.codes.outfall import Reach
from screening.schema.styles import LegendKey, Style
from screening.units import M_PER_FT, UnitSystem

WIDTH_PX = 1400
_MARGIN_FRAC, _MARGIN_MIN_M = 0.12, 8.0
_RATIO_MIN, _RATIO_MAX = 0.45, 0.62
"""Least and largest height of the picture as a share of its width, so that it leaves room on a page."""
_MAX_NAME_CHARS = 14
"""Of a name in the picture."""
_LOT = Style(color=styles.INK, weight=4.0)
_DRAIN = Style(color="#245c2a", weight=7.0, shape="line")
_OTHER_LOT = Style(color="#5f6a70", weight=1.6, dash="8 5")
_WATER_OPACITY = 0.82


@dataclass(frozen=True, kw_only=True)
class LotPicture:
    """A picture as JPEG, what it shows in words, and its legend."""

    jpeg: bytes
    width_px: int
    height_px: int
    alt: str
    legend: tuple[LegendKey, ...]


def draw_lot(result: BlockResult, lot_id: str, units: UnitSystem = "metric", *, caption: str = "") -> LotPicture:
    """Draw a lot with what matters around it.

    Parameters
    ----------
    result
        What was found.
    lot_id
        The lot in the middle.
    units
        Of the scale bar and of the classes.
    caption
        What was found, for whoever cannot see the picture.
    """
    lots = result.summary
    own = lots.loc[lots["lot_id"] == lot_id, "geometry"].iloc[0]
    canvas = Canvas(_view(own.bounds), WIDTH_PX)
    _draw_relief(canvas, result, units)
    for row in _seen(lots, canvas):
        if row.lot_id != lot_id:
            canvas.area(row.geometry, _OTHER_LOT)
    for row in _seen(result.capture.zones, canvas):
        canvas.area(row.geometry, styles.ZONE_STYLES.get(row.status, styles.ZONE_STYLES["soil not assessed"]))
    _draw_driveways(canvas, result)
    _draw_water_paths(canvas, result, lot_id, units)
    _draw_structures(canvas, result)
    canvas.line(own.boundary, _LOT, has_casing=True)
    _draw_drains(canvas, result, lot_id)
    _draw_names(canvas, result, lot_id)
    length_m, words = _scale(canvas, units)
    canvas.scale_bar(length_m, words)
    canvas.north_arrow(_north_deg(result, own))
    return LotPicture(
        jpeg=canvas.jpeg(),
        width_px=canvas.width_px,
        height_px=canvas.height_px,
        alt=_alt(lot_id, caption),
        legend=_legend(result, canvas),
    )


def _view(bounds: Bounds) -> Bounds:
    west, south, east, north = bounds
    margin = max(_MARGIN_MIN_M, _MARGIN_FRAC * max(east - west, north - south))
    wide, high = east - west + 2 * margin, north - south + 2 * margin
    wide, high = max(wide, high / _RATIO_MAX), max(high, wide * _RATIO_MIN)
    x, y = (west + east) / 2, (south + north) / 2
    return x - wide / 2, y - high / 2, x + wide / 2, y + high / 2


def _seen(table: Any, canvas: Canvas) -> Any:
    """Rows whose shapes reach into the picture, in their order."""
    from shapely import box

    return table.iloc[sorted(table.sindex.query(box(*canvas.bounds)))].itertuples()


def _draw_relief(canvas: Canvas, result: BlockResult, units: UnitSystem) -> None:
    """Lay shaded ground and this storm's standing water under all else, cut to what is seen."""
    grid, elev_m = result.block.grid, result.surface.elev_m
    west, south, east, north = canvas.bounds
    first_col = max(0, int((west - grid.west_m) // grid.cell_m) - 1)
    first_row = max(0, int((grid.north_m - north) // grid.cell_m) - 1)
    last_col = min(grid.n_cols, int((east - grid.west_m) // grid.cell_m) + 2)
    last_row = min(grid.n_rows, int((grid.north_m - south) // grid.cell_m) + 2)
    if last_col <= first_col or last_row <= first_row:
        return
    seen = np.s_[first_row:last_row, first_col:last_col]
    place = (
        grid.west_m + first_col * grid.cell_m,
        grid.north_m - last_row * grid.cell_m,
        grid.west_m + last_col * grid.cell_m,
        grid.north_m - first_row * grid.cell_m,
    )
    light = shade_relief(elev_m[seen], grid.cell_m, exaggeration=exaggeration_of(elev_m[seen], grid.cell_m))
    known = np.isfinite(light)
    # Paler than on the page: words and lines lie on it.
    grey = np.where(known, np.clip(light * 0.75 + 64.0, 0, 255), 255).astype(np.uint8)
    canvas.ground(grey, place)
    depth = result.ponding.water_depth_m[seen]
    wet = np.isfinite(depth) & (depth > 0)
    classes = np.digitize(np.where(wet, depth, 0.0), styles.DEPTH_BREAKS_M[units])
    colors = np.array([rgb(color) for color in styles.DEPTH_COLORS], dtype=np.uint8)[classes]
    opacity = np.where(wet, round(255 * _WATER_OPACITY), 0).astype(np.uint8)
    canvas.raster(np.dstack([colors, opacity]), place)


def _draw_water_paths(canvas: Canvas, result: BlockResult, lot_id: str, units: UnitSystem) -> None:
    limits = styles.FLOW_BREAKS_M2[units]
    for row in _seen(result.flow_paths, canvas):
        name = styles.FLOW_CLASSES[sum(row.contributing_area_m2 >= limit for limit in limits)]
        canvas.line(row.geometry, styles.FLOW_STYLES[name], has_casing=True)
        canvas.arrows(row.geometry, styles.FLOW_STYLES[name])
    for row in _used_routes(result, lot_id).itertuples():
        canvas.line(row.geometry, styles.ROUTE_STYLES["reachable"], has_casing=True)


def _draw_drains(canvas: Canvas, result: BlockResult, lot_id: str) -> None:
    """Draw the best line across each driveway of the lot, on all else."""
    lines = result.interception.lines
    for row in lines[(lines["lot_id"] == lot_id) & (lines["line_rank"] == 1)].itertuples():
        canvas.line(row.geometry, _DRAIN, has_casing=True)


def _used_routes(result: BlockResult, lot_id: str) -> Any:
    """Pipes by gravity to the zones whose storage was worked out."""
    options = result.capture.options
    zones = set(options.loc[options["lot_id"] == lot_id, "zone_id"])
    routes = result.capture.routes
    is_reached = (routes["kind"] == RouteKind.COLLECTION) & (routes["reach"] == Reach.REACHABLE)
    return routes[is_reached & (routes["lot_id"] == lot_id) & routes["zone_id"].isin(zones)]


def _draw_driveways(canvas: Canvas, result: BlockResult) -> None:
    flag = result.criteria.driveways.driveway_to_structure_flag_frac
    for row in _seen(result.driveways, canvas):
        share = row.to_structure_frac
        name = "not assessed" if share != share else "most" if share >= flag else "little"
        canvas.area(row.geometry, styles.DRIVEWAY_STYLES[name])


def _draw_structures(canvas: Canvas, result: BlockResult) -> None:
    for row in _seen(result.block.structures, canvas):
        canvas.area(row.geometry, styles.OTHER_STYLES["other"])
    for row in _seen(result.structures, canvas):
        canvas.area(row.geometry, styles.EXPOSURE_STYLES.get(row.exposure, styles.OTHER_STYLES["other"]))


def _draw_names(canvas: Canvas, result: BlockResult, lot_id: str) -> None:
    named = [
        (result.structures, "structure_id", 24, True),
        (result.capture.zones, "zone_id", 20, False),
        (result.depressions.table[result.depressions.table["part_of"] == ""], "low_spot_id", 20, False),
    ]
    for table, field, size, is_bold in named:
        lots_of = table["lot_id"].map(lambda text: lot_id == text or lot_id in str(text).split(", "))
        for row in table[lots_of.astype(bool)].to_dict("records"):
            if row["geometry"] is not None and not row["geometry"].is_empty:
                place = row["geometry"].representative_point()
                name = clean(row[field], _MAX_NAME_CHARS)
                canvas.words(name, place, size_px=size, is_bold=is_bold)


def _scale(canvas: Canvas, units: UnitSystem) -> tuple[float, str]:
    """A round length of about a quarter of the width."""
    unit_m = M_PER_FT if units == "us" else 1.0
    quarter = (canvas.bounds[2] - canvas.bounds[0]) / 4 / unit_m
    step = 10.0 ** np.floor(np.log10(quarter))
    length = float(max(factor * step for factor in (1, 2, 5) if factor * step <= quarter))
    return length * unit_m, f"{length:g} {'ft' if units == 'us' else 'm'}"


def _north_deg(result: BlockResult, shape: Any) -> float:
    """Where true north lies on the grid: the projection turns it, by a degree or so at most mid-latitude places."""
    at = shape.centroid
    to_degrees = degrees_of(result.block.grid.crs)
    lon, lat = to_degrees.transform(at.x, at.y)
    x, y = to_degrees.transform(lon, lat + 0.001, direction="INVERSE")
    return float(np.degrees(np.arctan2(x - at.x, y - at.y)))


def _legend(result: BlockResult, canvas: Canvas) -> tuple[LegendKey, ...]:
    keys = [
        LegendKey(_LOT, "this lot"),
        *(LegendKey(styles.EXPOSURE_STYLES[name], styles.EXPOSURE_WORDS[name]) for name in ("ponding", "run-on")),
        LegendKey(styles.DRIVEWAY_STYLES["most"], "driveway that sheds to a wall"),
        LegendKey(
            Style(color="#333333", weight=1.0, fill=styles.DEPTH_COLORS[2], fill_opacity=1.0),
            "water left standing by this storm",
        ),
        LegendKey(styles.FLOW_STYLES["large"], "flow path"),
    ]
    words = {"candidate": "candidate ground for infiltration", "soil not assessed": "such ground, soil not assessed"}
    known = {row.status for row in _seen(result.capture.zones, canvas)}
    keys += [LegendKey(styles.ZONE_STYLES[status], text) for status, text in words.items() if status in known]
    if len(result.capture.routes):
        keys.append(LegendKey(styles.ROUTE_STYLES["reachable"], "candidate pipe route"))
    if len(result.interception.lines):
        keys.append(LegendKey(_DRAIN, "candidate drain across a driveway"))
    return tuple(keys)


def _alt(lot_id: str, caption: str) -> str:
    said = f" {clean(caption, 400)}" if caption else ""
    shown = "shaded ground, standing water, flow paths, structures and candidate ground"
    return f"Map of lot {clean(lot_id, 40)}: {shown}.{said}"
