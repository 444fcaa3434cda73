"""Vector layers of the map as plain data: place in degrees, class, shown values, what belongs together."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from screening.projections import degrees_of
from screening.report.findings import clip_text, format_cell, is_missing
from screening.report.styles import LegendKey, Style
from screening.schema.columns import Column
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

COORDINATE_DECIMALS = 7
"""Of a degree: about 1 cm."""
MAX_NAME_CHARS = 60
Row = Mapping[str, Any]
Outlines = dict[str, tuple[Any, list[Any], list[Any]]]
"""Table, its rows, and shapes as GeoJSON, of layers by their keys."""

_ON_A_LOT = ("structures", "driveways", "low_spots", "infiltration_zones", "contributing_areas", "interception_lines")
_AT_A_STRUCTURE = ("structure_sides", "inflow_points", "doors")


@dataclass(frozen=True, kw_only=True)
class LayerKind:
    """What a layer is, before it has features.

    Parameters
    ----------
    key, label, noun
        Its name in the page's data, on its switch, and before the id of one feature.
    styles, legend
        By class of feature, and as readers see them.
    class_of
        Gives the class of a row.
    id_field, columns
        Column of the ids ("" = none), and what the details show.
    lead_field
        Column of the sentence that the details begin with ("" = none).
    is_on
        At first.
    is_from_raster
        Outlines follow cells and may be smoothed by half a cell.
    """

    key: str
    label: str
    noun: str
    styles: Mapping[str, Style]
    legend: tuple[LegendKey, ...]
    class_of: Callable[[Row], str]
    id_field: str = ""
    columns: tuple[Column, ...] = ()
    is_on: bool = True
    is_from_raster: bool = False
    lead_field: str = ""


@dataclass(frozen=True)
class PageLayer:
    """A layer with its features.

    Each feature has `id` (clipped) and `own` (whole) id, class `c`, geometry `g`, shown values `v`, places of
    what it belongs to or holds `to`, and numbers of its verdicts `d`.
    """

    kind: LayerKind
    features: list[dict[str, Any]] = field(default_factory=list)

    def payload(self) -> dict[str, Any]:
        """The layer as the page's script reads it."""
        kind = self.kind
        return {
            "key": kind.key,
            "noun": kind.noun,
            "styles": {name: style.path_options() for name, style in kind.styles.items()},
            "columns": [
                {"name": column.name, "label": column.label, "meaning": column.meaning} for column in kind.columns
            ],
            "id_column": kind.id_field,
            "lead_column": kind.lead_field,
            "features": [
                {name: part for name, part in feature.items() if name not in ("own", "lot_ids", "structure_id")}
                for feature in self.features
            ],
        }


def make_layer(
    kind: LayerKind, table: gpd.GeoDataFrame, *, half_cell_m: float, units: UnitSystem, outlines: Outlines | None = None
) -> PageLayer:
    """Turn a table into a layer.

    Parameters
    ----------
    kind
        What the layer is.
    table
        Rows in a projected CRS.
    half_cell_m
        Largest shift of an outline that follows cells [m].
    units
        What readers see.
    outlines
        Rows and shapes made before, of the same tables; taken from here, or put here for the next.
    """
    from shapely.geometry import mapping

    kept = {} if outlines is None else outlines
    if kind.key not in kept:
        shapes = to_degrees(table, half_cell_m if kind.is_from_raster else 0.0)
        drawn = [None if shape is None or shape.is_empty else mapping(shape) for shape in shapes]
        kept[kind.key] = (table, table.to_dict("records"), drawn)
    known, rows, drawn = kept[kind.key]
    if known is not table:  # the same shapes, told in other units
        rows = table.to_dict("records")
    return PageLayer(kind, [_feature(kind, row, shape, units) for row, shape in zip(rows, drawn, strict=True)])


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


def _feature(kind: LayerKind, row: Row, shape: Any, units: UnitSystem) -> dict[str, Any]:
    own_id = "" if not kind.id_field or is_missing(row[kind.id_field]) else str(row[kind.id_field])
    lot_id = "" if is_missing(row.get("lot_id")) else str(row["lot_id"])
    return {
        "id": clip_text(own_id, MAX_NAME_CHARS),
        "own": own_id,
        "lot_ids": [lot_id, *lot_id.split(", ")],
        "structure_id": "" if is_missing(row.get("structure_id")) else str(row["structure_id"]),
        "c": kind.class_of(row),
        "g": shape,
        "v": [format_cell(row[column.name], column, units) for column in kind.columns],
        "to": [],
        "d": [],
    }


def relate_to_lots(layers: list[PageLayer]) -> None:
    """Link each lot and what lies on it both ways, so that all can be reached without a pointer."""
    lots = next(layer for layer in layers if layer.kind.key == "lots").features
    place = {lot["own"]: index for index, lot in enumerate(lots)}
    for layer in layers:
        if layer.kind.key not in _ON_A_LOT:
            continue
        for index, feature in enumerate(layer.features):
            for lot_id in dict.fromkeys(feature["lot_ids"]):
                if lot_id in place:
                    lots[place[lot_id]]["to"].append([layer.kind.key, index])
                    feature["to"].append(["lots", place[lot_id]])


def relate_to_structures(layers: list[PageLayer]) -> None:
    """Link each structure and its walls, doors and the flow paths that meet it, both ways."""
    structures = next(layer for layer in layers if layer.kind.key == "structures").features
    place = {structure["own"]: index for index, structure in enumerate(structures)}
    for layer in layers:
        if layer.kind.key not in _AT_A_STRUCTURE:
            continue
        for index, feature in enumerate(layer.features):
            if feature["structure_id"] in place:
                structures[place[feature["structure_id"]]]["to"].append([layer.kind.key, index])
                feature["to"].append(["structures", place[feature["structure_id"]]])
