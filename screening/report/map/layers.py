"""Vector layers of the map as plain data: place in degrees, class, shown values, what belongs together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from screening.models import BlockResult
from screening.projections import degrees_of
from screening.report.findings import clip_text, format_cell, is_missing
from screening.report.words import with_sentences
from screening.schema.columns import Column
from screening.schema.columns.shared import BEYOND
from screening.schema.layers import Reader, ResultLayer, all_layers
from screening.schema.styles import LegendKey
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

COORDINATE_DECIMALS = 7
"""Of a degree: about 1 cm."""
MAX_NAME_CHARS = 60
Row = Mapping[str, Any]
Outlines = dict[str, list[Any]]
"""Shapes as GeoJSON, of layers by their keys: the same in all units."""


@dataclass(frozen=True, kw_only=True)
class PageLayer:
    """A layer with its features, as one reader sees it.

    Each feature has `id` (clipped) and `own` (whole) id, class `c`, geometry `g`, shown values `v`, places of
    what it belongs to or holds `to`, and numbers of its verdicts `d`.
    """

    kind: ResultLayer
    columns: tuple[Column, ...]
    legend: tuple[LegendKey, ...]
    features: list[dict[str, Any]] = field(default_factory=list)

    def payload(self) -> dict[str, Any]:
        """The layer as the page's script reads it."""
        kind = self.kind
        return {
            "key": kind.key,
            "noun": kind.noun,
            "styles": {name: style.path_options() for name, style in kind.styles.items()},
            "columns": [
                {"name": column.name, "label": column.label, "meaning": column.meaning} for column in self.columns
            ],
            "id_column": kind.id_column,
            "lead_column": kind.lead_column,
            "features": [
                {name: part for name, part in feature.items() if name not in ("own", "lot_ids", "structure_ids")}
                for feature in self.features
            ],
        }


def build_layers(
    result: BlockResult, units: UnitSystem, *, classes_in: UnitSystem | None = None, outlines: Outlines | None = None
) -> list[PageLayer]:
    """Make the map's layers of a result; those without features are left out, but for the lots.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see.
    classes_in
        Units in which the limits of classes are round; `units` by default.
    outlines
        Shapes made before, of the same result; taken from here, or put here for the next.
    """
    reader = Reader(criteria=result.criteria, units=units, classes_in=classes_in or units)
    kept = {} if outlines is None else outlines
    made = [make_layer(kind, result, reader, outlines=kept) for kind in all_layers() if kind.is_drawn]
    _relate(made, "lots", "lot_ids", [layer for layer in made if layer.kind.lies_on_lot])
    _relate(made, "structures", "structure_ids", [layer for layer in made if layer.kind.stands_at_structure])
    return [layer for layer in made if layer.features or layer.kind.key == "lots"]


def make_layer(kind: ResultLayer, result: BlockResult, reader: Reader, *, outlines: Outlines) -> PageLayer:
    """Make one layer of a result, with the sentences of its table in the units of the reader.

    Parameters
    ----------
    kind
        What the layer is.
    result
        What was found.
    reader
        Who it is drawn for.
    outlines
        Shapes by layer; taken from here, or put here for the next.
    """
    table = kind.rows(result)
    if kind.key not in outlines:
        outlines[kind.key] = _outlines(kind, table, result)
    # What comes from beyond the window is told where something does.
    columns = tuple(
        column for column in kind.columns if column is not BEYOND or result.flow.context_area_m2 is not None
    )
    told = with_sentences(kind.table, table, reader.criteria, reader.units) if kind.table else table
    rows = told.drop(columns="geometry").to_dict("records")
    features = [
        _feature(kind, columns, row, shape, reader) for row, shape in zip(rows, outlines[kind.key], strict=True)
    ]
    return PageLayer(kind=kind, columns=columns, legend=kind.legend_for(reader), features=features)


def _outlines(kind: ResultLayer, table: gpd.GeoDataFrame, result: BlockResult) -> list[Any]:
    """Shapes as GeoJSON; what follows cells may be moved by half a cell."""
    from shapely.geometry import mapping

    drawn = table if kind.arrow_length_m is None else _arrows(table, kind.arrow_length_m(result.criteria))
    shapes = to_degrees(drawn, result.block.grid.cell_m / 2 if kind.is_from_raster else 0.0)
    return [None if shape is None or shape.is_empty else mapping(shape) for shape in shapes]


def to_degrees(table: gpd.GeoDataFrame, tolerance_m: float = 0.0) -> list[Any]:
    """Shapes of a table in longitude and latitude, simplified by at most a tolerance [m]."""
    import numpy as np
    import shapely

    shapes = np.asarray(table.geometry.values, dtype=object)
    if not shapes.size:
        return []
    if tolerance_m:
        shapes = shapely.simplify(shapes, tolerance_m, preserve_topology=True)
    transformer = degrees_of(table.crs)

    def move(points: NDArray[np.float64]) -> NDArray[np.float64]:
        lon, lat = transformer.transform(points[:, 0], points[:, 1])
        return np.round(np.column_stack((lon, lat)), COORDINATE_DECIMALS)

    return list(shapely.transform(shapes, move))


def _arrows(points: gpd.GeoDataFrame, length_m: float) -> gpd.GeoDataFrame:
    """Arrows as lines, for a page that knows no arrows: a shaft about each point, and two strokes for its head."""
    import numpy as np
    import shapely

    bearing = np.deg2rad(points["direction_deg"].to_numpy(float))
    way = np.column_stack((np.sin(bearing), np.cos(bearing)))
    across = np.column_stack((way[:, 1], -way[:, 0]))
    at = shapely.get_coordinates(points.geometry.to_numpy())
    tail, tip = at - way * length_m / 2, at + way * length_m / 2
    wings = [tip - 0.35 * length_m * way + side * 0.22 * length_m * across for side in (-1, 1)]
    head = np.stack((wings[0], tip, wings[1]), axis=1)
    lines = [
        shapely.MultiLineString([np.stack(shaft), point])
        for shaft, point in zip(zip(tail, tip, strict=True), head, strict=True)
    ]
    return points.set_geometry(lines, crs=points.crs) if len(points) else points


def _feature(kind: ResultLayer, columns: tuple[Column, ...], row: Row, shape: Any, reader: Reader) -> dict[str, Any]:
    own_id = "" if not kind.id_column or is_missing(row[kind.id_column]) else str(row[kind.id_column])
    lot_id = "" if is_missing(row.get("lot_id")) else str(row["lot_id"])
    return {
        "id": clip_text(own_id, MAX_NAME_CHARS),
        "own": own_id,
        "lot_ids": [lot_id, *lot_id.split(", ")],
        "structure_ids": ["" if is_missing(row.get("structure_id")) else str(row["structure_id"])],
        "c": kind.class_of_row(row, reader),
        "g": shape,
        "v": [format_cell(row[column.name], column, reader.units) for column in columns],
        "to": [],
        "d": [],
    }


def _relate(made: list[PageLayer], key: str, ids: str, related: list[PageLayer]) -> None:
    """Link what a layer holds and what belongs to it both ways, so that all can be reached without a pointer."""
    holders = next(layer for layer in made if layer.kind.key == key).features
    place = {holder["own"]: index for index, holder in enumerate(holders)}
    for layer in related:
        for index, feature in enumerate(layer.features):
            for own in dict.fromkeys(feature[ids]):
                if own in place:
                    holders[place[own]]["to"].append([layer.kind.key, index])
                    feature["to"].append([key, place[own]])
