"""Which layers the map has, in the order of their switches."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from screening.models import BlockResult
from screening.report import styles
from screening.report.findings import is_missing
from screening.report.map.layers import (
    LayerKind,
    Outlines,
    PageLayer,
    Row,
    make_layer,
    relate_to_lots,
    relate_to_structures,
)
from screening.report.styles import LegendKey, Style
from screening.report.words import with_sentences
from screening.schema.columns import TABLES, Column
from screening.schema.columns.shared import BEYOND
from screening.units import UnitSystem

if TYPE_CHECKING:
    import geopandas as gpd


LAYER_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Buildings and driveways",
        (
            "structures",
            "structure_sides",
            "inflow_points",
            "doors",
            "driveways",
            "driveway_edges",
            "driveway_arrows",
            "driveway_low_points",
            "others",
        ),
    ),
    ("Water", ("flow_paths", "overflow_paths", "low_spots", "storm_water")),
    (
        "Where water could be caught, and go",
        ("interception_lines", "drain_outlets", "collection_points", "collection_routes", "infiltration_zones"),
    ),
    (
        "Lots and ground",
        (
            "lots",
            "contributing_areas",
            "roads",
            "soils",
            "drains",
            "barriers",
            "wells",
            "septic",
            "wetlands",
            "utilities",
            "trees",
            "relief",
            "basemap",
        ),
    ),
)
"""Headings of the switches, and what stands under each; a layer that is under none stands under the last."""


def build_layers(
    result: BlockResult, units: UnitSystem, *, classes_in: UnitSystem | None = None, outlines: Outlines | None = None
) -> list[PageLayer]:
    """Make the layers of a result; those without features are left out, but for the lots.

    Parameters
    ----------
    result
        What was found.
    units
        What readers see.
    classes_in
        Units in which the limits of classes are round; `units` by default.
    outlines
        As for `layers.make_layer`.
    """
    block, classes_in = result.block, classes_in or units
    beyond = block.structures[block.structures["lot_id"] == ""]

    def told(name: str, frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
        table: gpd.GeoDataFrame = with_sentences(name, frame, result.criteria, units)
        return table

    pairs = [
        (_structures(), told("structures", result.structures)),
        (_SIDES, result.structure_sides),
        (_INFLOW_POINTS, result.inflow_points),
        (_DOORS, result.doors),
        (_driveways(result.criteria.driveways.driveway_to_structure_flag_frac), told("driveways", result.driveways)),
        (_EDGES, result.driveway_study.edges),
        (
            _DRIVEWAY_ARROWS,
            _drawn(result.driveway_study.arrows, 0.7 * result.criteria.driveways.driveway_arrow_spacing_m),
        ),
        (_LOW_POINTS, result.driveway_study.low_points),
        (_flow_paths(units, classes_in), result.flow_paths),
        (_OVERFLOWS, result.depressions.overflow_paths),
        (_low_spots(units, classes_in), told("low_spots", result.depressions.table)),
        (_CATCHMENTS, result.catchments),
        (_ZONES, result.capture.zones),
        (_ROUTES, result.capture.routes),
        (_POINTS, result.capture.points),
        (_LINES, result.interception.lines),
        (_OUTLETS, result.interception.outlets),
        (_LOTS, result.summary),
        (
            _context(
                "others",
                "Structures beyond the chosen lots",
                "Structure",
                styles.OTHER_STYLES,
                "stands as a wall to flow",
                ("structure_id", "kind"),
            ),
            beyond,
        ),
        (_context("roads", "Roads", "Road", styles.ROAD_STYLES, "road surface"), block.roads),
        (
            _context(
                "soils",
                "Soil map units",
                "Soil group",
                styles.SOIL_STYLES,
                "edge of a unit, with its group",
                ("hsg", "mukey"),
                is_on=False,
            ),
            block.soils,
        ),
        (
            _context(
                "drains",
                "Drains and culverts given",
                "Drain",
                styles.DRAIN_STYLES,
                "drain or culvert",
                ("drain_id", "kind"),
            ),
            block.drains,
        ),
        (
            _context(
                "barriers",
                "Barriers given",
                "Barrier",
                styles.BARRIER_STYLES,
                "curb, wall or berm",
                ("barrier_id", "kind"),
            ),
            block.barriers,
        ),
        (_context("wells", "Wells", "Well", styles.WELL_STYLES, "well"), block.wells),
        (_context("septic", "Septic fields", "Septic field", styles.SEPTIC_STYLES, "septic field"), block.septic),
        (_context("wetlands", "Wetlands", "Wetland", styles.WETLAND_STYLES, "wetland or open water"), block.wetlands),
        (
            _context(
                "utilities",
                "Buried utilities given",
                "Utility",
                styles.UTILITY_STYLES,
                "buried utility; others may run where none is drawn",
            ),
            block.utilities,
        ),
        (
            _context("trees", "Ground under trees", "Tree", styles.TREE_STYLES, "ground under trees", is_on=False),
            block.trees,
        ),
    ]
    if result.flow.context_area_m2 is None:
        pairs = [(_without_beyond(kind), table) for kind, table in pairs]
    half_cell_m = block.grid.cell_m / 2
    made = [make_layer(kind, table, half_cell_m=half_cell_m, units=units, outlines=outlines) for kind, table in pairs]
    relate_to_lots(made)
    relate_to_structures(made)
    return [layer for layer in made if layer.features or layer.kind.key == "lots"]


def _without_beyond(kind: LayerKind) -> LayerKind:
    """Leave out the column that says what comes from beyond the window, where nothing does."""
    columns = tuple(column for column in kind.columns if column is not BEYOND)
    return dataclasses.replace(kind, columns=columns)


def _structures() -> LayerKind:
    looks = styles.EXPOSURE_STYLES
    return LayerKind(
        key="structures",
        label="Structures by exposure",
        noun="Structure",
        styles=looks,
        legend=styles.exposure_legend(),
        class_of=lambda row: _one_of(row["exposure"], looks),
        id_field="structure_id",
        columns=TABLES["structures"],
        lead_field="exposure_why",
    )


def _driveways(flag_frac: float) -> LayerKind:
    def class_of(row: Row) -> str:
        share = row["to_structure_frac"]
        if is_missing(share):
            return "not assessed"
        return "most" if row["is_flagged"] else "some" if share > flag_frac / 2 else "little"

    return LayerKind(
        key="driveways",
        label="Driveways by share of water that meets a wall",
        noun="Driveway",
        styles=styles.DRIVEWAY_STYLES,
        legend=styles.driveway_legend(flag_frac),
        class_of=class_of,
        id_field="driveway_id",
        columns=TABLES["driveways"],
    )


def _edge_class(row: Row) -> str:
    share = row["share_frac"]
    return "little" if is_missing(share) or share < _LITTLE_FRAC else _one_of(row["sheds_to"], styles.EDGE_STYLES)


def _drawn(arrows: gpd.GeoDataFrame, length_m: float) -> gpd.GeoDataFrame:
    """Arrows as lines, for a page that knows no arrows: a shaft about each point, and two strokes for its head."""
    import numpy as np
    import shapely

    bearing = np.deg2rad(arrows["direction_deg"].to_numpy(float))
    way = np.column_stack((np.sin(bearing), np.cos(bearing)))
    across = np.column_stack((way[:, 1], -way[:, 0]))
    at = shapely.get_coordinates(arrows.geometry.to_numpy())
    tail, tip = at - way * length_m / 2, at + way * length_m / 2
    wings = [tip - 0.35 * length_m * way + side * 0.22 * length_m * across for side in (-1, 1)]
    head = np.stack((wings[0], tip, wings[1]), axis=1)
    lines = [
        shapely.MultiLineString([np.stack(shaft), point])
        for shaft, point in zip(zip(tail, tip, strict=True), head, strict=True)
    ]
    return arrows.set_geometry(lines, crs=arrows.crs) if len(arrows) else arrows


def _flow_paths(units: UnitSystem, classes_in: UnitSystem) -> LayerKind:
    limits = styles.FLOW_BREAKS_M2[classes_in]

    def class_of(row: Row) -> str:
        return styles.FLOW_CLASSES[sum(row["contributing_area_m2"] >= limit for limit in limits)]

    return LayerKind(
        key="flow_paths",
        label="Flow paths by ground that drains to them",
        noun="Flow path",
        styles=styles.FLOW_STYLES,
        legend=styles.flow_legend(units, classes_in),
        class_of=class_of,
        id_field="flow_path_id",
        columns=TABLES["flow_paths"],
        is_from_raster=True,
    )


def _low_spots(units: UnitSystem, classes_in: UnitSystem) -> LayerKind:
    return LayerKind(
        key="low_spots",
        label="Low spots, depth when full",
        noun="Low spot",
        styles=styles.LOW_SPOT_STYLES,
        legend=styles.depth_legend(units, classes_in),
        class_of=lambda row: "low spot",
        id_field="low_spot_id",
        columns=TABLES["low_spots"],
        is_from_raster=True,
    )


def _one_of(value: Any, known: Mapping[str, Style]) -> str:
    # The last class is the one that claims least.
    return str(value) if str(value) in known else list(known)[-1]


def _by_rank(row: Row) -> str:
    return "first" if row["line_rank"] == 1 else "other"


_SIDES = LayerKind(
    key="structure_sides",
    label="Walls by exposure (zoom in)",
    noun="Wall",
    styles=styles.SIDE_STYLES,
    legend=styles.side_legend(),
    class_of=lambda row: _one_of(row["exposure"], styles.SIDE_STYLES),
    id_field="side_id",
    columns=TABLES["structure_sides"],
)
_INFLOW_POINTS = LayerKind(
    key="inflow_points",
    label="Flow paths that meet a wall (zoom in)",
    noun="Flow path at a wall",
    styles=styles.INFLOW_POINT_STYLES,
    legend=(LegendKey(styles.INFLOW_POINT_STYLES["arrival"], "where it first touches"),),
    class_of=lambda row: "arrival",
    id_field="inflow_point_id",
    columns=TABLES["inflow_points"],
)
_DOORS = LayerKind(
    key="doors",
    label="Doors given (zoom in)",
    noun="Door",
    styles=styles.DOOR_STYLES,
    legend=(LegendKey(styles.DOOR_STYLES["door"], "door, garage door, window well, vent"),),
    class_of=lambda row: "door",
    id_field="door_id",
    columns=TABLES["doors"],
)
_LITTLE_FRAC = 0.01
_EDGES = LayerKind(
    key="driveway_edges",
    label="Edges of driveways by what takes their water (zoom in)",
    noun="Edge",
    styles=styles.EDGE_STYLES,
    legend=tuple(LegendKey(style, styles.EDGE_WORDS[name]) for name, style in styles.EDGE_STYLES.items()),
    class_of=_edge_class,
    id_field="edge_id",
    columns=TABLES["driveway_edges"],
)
_DRIVEWAY_ARROWS = LayerKind(
    key="driveway_arrows",
    label="Flow directions on driveways (zoom in)",
    noun="Flow direction",
    styles=styles.DRIVEWAY_ARROW_STYLES,
    legend=(LegendKey(styles.DRIVEWAY_ARROW_STYLES["arrow"], "the ground falls this way"),),
    class_of=lambda row: "arrow",
    id_field="driveway_id",
    columns=TABLES["driveway_arrows"],
)
_LOW_POINTS = LayerKind(
    key="driveway_low_points",
    label="Low points of driveways (zoom in)",
    noun="Low point",
    styles=styles.LOW_POINT_STYLES,
    legend=tuple(LegendKey(style, name) for name, style in styles.LOW_POINT_STYLES.items()),
    class_of=lambda row: _one_of(row["kind"], styles.LOW_POINT_STYLES),
    id_field="low_point_id",
    columns=TABLES["driveway_low_points"],
)
_CATCHMENTS = LayerKind(
    key="contributing_areas",
    label="Ground that drains to the chosen lot",
    noun="Contributing area",
    styles=styles.CATCHMENT_STYLES,
    legend=(LegendKey(styles.CATCHMENT_STYLES["contributing"], "shown when a lot is chosen"),),
    class_of=lambda row: "contributing",
    id_field="lot_id",
    columns=TABLES["contributing_areas"],
    is_from_raster=True,
)
_OVERFLOWS = LayerKind(
    key="overflow_paths",
    label="Water that overflows in this storm",
    noun="Overflow of",
    styles=styles.OVERFLOW_STYLES,
    legend=(LegendKey(styles.OVERFLOW_STYLES["overflow"], "from a full low spot to the next"),),
    class_of=lambda row: "overflow",
    id_field="low_spot_id",
    columns=TABLES["overflow_paths"],
    is_on=False,
    is_from_raster=True,
)
_ZONES = LayerKind(
    key="infiltration_zones",
    label="Infiltration candidates",
    noun="Infiltration candidate",
    styles=styles.ZONE_STYLES,
    legend=tuple(LegendKey(style, name) for name, style in styles.ZONE_STYLES.items()),
    class_of=lambda row: _one_of(row["status"], styles.ZONE_STYLES),
    id_field="zone_id",
    columns=TABLES["infiltration_zones"],
    is_from_raster=True,
)
_ROUTES = LayerKind(
    key="collection_routes",
    label="Pipe routes to infiltration candidates, and their overflow",
    noun="Pipe route",
    styles=styles.ROUTE_STYLES,
    legend=tuple(LegendKey(style, name) for name, style in styles.ROUTE_STYLES.items()),
    class_of=lambda row: _one_of(row["reach"], styles.ROUTE_STYLES),
    id_field="route_id",
    columns=TABLES["collection_routes"],
    is_on=False,
)
_POINTS = LayerKind(
    key="collection_points",
    label="Places where water can be caught",
    noun="Collection point",
    styles=styles.COLLECTION_STYLES,
    legend=(LegendKey(styles.COLLECTION_STYLES["point"], "lowest ground there, or a downspout"),),
    class_of=lambda row: "point",
    id_field="point_id",
    columns=TABLES["collection_points"],
    is_on=False,
)
_LINES = LayerKind(
    key="interception_lines",
    label="Lines that keep a driveway's water from walls",
    noun="Interception line",
    styles=styles.LINE_STYLES,
    legend=(
        LegendKey(styles.LINE_STYLES["first"], "first choice of its driveway"),
        LegendKey(styles.LINE_STYLES["other"], "compared with it"),
    ),
    class_of=_by_rank,
    id_field="line_id",
    columns=TABLES["interception_lines"],
)
_OUTLETS = LayerKind(
    key="drain_outlets",
    label="Pipes from those lines to an outfall by gravity",
    noun="Pipe of",
    styles=styles.OUTLET_STYLES,
    legend=(
        LegendKey(styles.OUTLET_STYLES["first"], "of the first choice"),
        LegendKey(styles.OUTLET_STYLES["other"], "of the others"),
    ),
    class_of=_by_rank,
    id_field="line_id",
    columns=TABLES["drain_outlets"],
)
_LOTS = LayerKind(
    key="lots",
    label="Lots",
    noun="Lot",
    styles=styles.LOT_STYLES,
    legend=(LegendKey(styles.LOT_STYLES["lot"], "lot line"),),
    class_of=lambda row: "lot",
    id_field="lot_id",
    columns=TABLES["summary"],
    lead_field="main_finding",
)
_CONTEXT_COLUMNS = {
    "structure_id": "Structure",
    "kind": "Kind",
    "hsg": "Hydrologic soil group",
    "mukey": "Map unit key",
    "drain_id": "Drain",
    "barrier_id": "Barrier",
}


def _context(
    key: str,
    label: str,
    noun: str,
    looks: dict[str, Style],
    words: str,
    fields: tuple[str, ...] = (),
    *,
    is_on: bool = True,
) -> LayerKind:
    only, style = next(iter(looks.items()))
    columns = tuple(
        Column(name=name, kind="text", unit="", label=_CONTEXT_COLUMNS[name], meaning="") for name in fields
    )
    return LayerKind(
        key=key,
        label=label,
        noun=noun,
        styles=looks,
        legend=(LegendKey(style, words),),
        class_of=lambda row: only,
        id_field=fields[0] if fields else "",
        columns=columns,
        is_on=is_on,
    )
