"""Layers of water, and of where it could be caught and go."""

from __future__ import annotations

from screening.schema import styles
from screening.schema.layers.declaring import LayerGroup, Reader, ResultLayer, Row, class_in, named, one_line
from screening.schema.styles import Style


def _flow_class(row: Row, reader: Reader) -> str:
    limits = styles.FLOW_BREAKS_M2[reader.classes_in]
    return styles.FLOW_CLASSES[sum(row["contributing_area_m2"] >= limit for limit in limits)]


def _line_class(row: Row, reader: Reader) -> str:
    return "first" if row["line_rank"] == 1 else "other"


WATER: tuple[ResultLayer, ...] = (
    ResultLayer(
        key="flow_paths",
        label="Flow paths by ground that drains to them",
        noun="Flow path",
        group=LayerGroup.WATER,
        rows=lambda result: result.flow_paths,
        table="flow_paths",
        id_column="flow_path_id",
        geometry="MultiLineString",
        styles=styles.FLOW_STYLES,
        legend=lambda reader: styles.flow_legend(reader.units, reader.classes_in),
        class_of=_flow_class,
        gis_style=styles.FLOW_STYLES["small"],
        is_from_raster=True,
        is_in_document=False,
    ),
    ResultLayer(
        key="overflow_paths",
        label="Water that overflows in this storm",
        noun="Overflow of",
        group=LayerGroup.WATER,
        rows=lambda result: result.ponding.overflow_paths,
        table="overflow_paths",
        id_column="low_spot_id",
        geometry="MultiLineString",
        styles=styles.OVERFLOW_STYLES,
        legend=one_line("from a full low spot to the next", styles.OVERFLOW_STYLES["overflow"]),
        is_on=False,
        is_from_raster=True,
        is_in_document=False,
    ),
    ResultLayer(
        key="low_spots",
        label="Low spots, depth when full",
        noun="Low spot",
        group=LayerGroup.WATER,
        rows=lambda result: result.depressions.table,
        table="low_spots",
        id_column="low_spot_id",
        geometry="MultiPolygon",
        styles=styles.LOW_SPOT_STYLES,
        legend=lambda reader: styles.depth_legend(reader.units, reader.classes_in),
        gis_style=Style(color="#082f66", weight=1.4, fill="#63abd9", fill_opacity=0.7),
        is_from_raster=True,
        lies_on_lot=True,
    ),
)
REMEDIES: tuple[ResultLayer, ...] = (
    ResultLayer(
        key="interception_lines",
        label="Lines that keep a driveway's water from walls",
        noun="Interception line",
        group=LayerGroup.REMEDIES,
        rows=lambda result: result.interception.lines,
        table="interception_lines",
        id_column="line_id",
        geometry="MultiLineString",
        styles=styles.LINE_STYLES,
        legend=named({"first": "first choice of its driveway", "other": "compared with it"}, styles.LINE_STYLES),
        class_of=_line_class,
        lies_on_lot=True,
        has_csv=True,
    ),
    ResultLayer(
        key="drain_outlets",
        label="Pipes from those lines to an outfall by gravity",
        noun="Pipe of",
        group=LayerGroup.REMEDIES,
        rows=lambda result: result.interception.outlets,
        table="drain_outlets",
        id_column="line_id",
        geometry="MultiLineString",
        styles=styles.OUTLET_STYLES,
        legend=named({"first": "of the first choice", "other": "of the others"}, styles.OUTLET_STYLES),
        class_of=_line_class,
    ),
    ResultLayer(
        key="collection_points",
        label="Places where water can be caught",
        noun="Collection point",
        group=LayerGroup.REMEDIES,
        rows=lambda result: result.capture.points,
        table="collection_points",
        id_column="point_id",
        geometry="Point",
        styles=styles.COLLECTION_STYLES,
        legend=one_line("lowest ground there, or a downspout", styles.COLLECTION_STYLES["point"]),
        is_on=False,
    ),
    ResultLayer(
        key="collection_routes",
        label="Pipe routes to infiltration candidates, and their overflow",
        noun="Pipe route",
        group=LayerGroup.REMEDIES,
        rows=lambda result: result.capture.routes,
        table="collection_routes",
        id_column="route_id",
        geometry="MultiLineString",
        styles=styles.ROUTE_STYLES,
        legend=named({name: name for name in styles.ROUTE_STYLES}, styles.ROUTE_STYLES),
        class_of=class_in("reach", styles.ROUTE_STYLES),
        gis_class_column="reach",
        is_on=False,
    ),
    ResultLayer(
        key="infiltration_zones",
        label="Infiltration candidates",
        noun="Infiltration candidate",
        group=LayerGroup.REMEDIES,
        rows=lambda result: result.zones.table,
        table="infiltration_zones",
        id_column="zone_id",
        geometry="MultiPolygon",
        styles=styles.ZONE_STYLES,
        legend=named({name: name for name in styles.ZONE_STYLES}, styles.ZONE_STYLES),
        class_of=class_in("status", styles.ZONE_STYLES),
        gis_class_column="status",
        is_from_raster=True,
        lies_on_lot=True,
    ),
)
