"""Awkward vector layers: formats, places, geometries, columns and broken files."""

from __future__ import annotations

import datetime
import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyogrio
import shapely
from pyproj import Transformer

from tests.awkward.ground import HOUSE, LOT, NORTH, UTM, WEST, frame, rectangle, write
from tests.awkward.judging import DOUBTED, NOT_ASSESSED, REFUSED, Case

Make = Callable[[Path, dict[str, str]], dict[str, str | None]]


def _lots(name: str = "awkward.gpkg", shapes: tuple[Any, ...] = (LOT,), *, to: Any = None, **columns: Any) -> Make:
    """Write lots; ids A-1, A-2, ... where no columns are given."""
    ready = columns or {"lot_id": [f"A-{number + 1}" for number in range(len(shapes))]}

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        return {"lots": write(folder / name, shapes, to=to, **ready)}

    return make


def _houses(name: str = "awkward.gpkg", shapes: tuple[Any, ...] = (HOUSE,), **columns: Any) -> Make:
    ready = columns or {"structure_id": [f"H-{number + 1}" for number in range(len(shapes))]}

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        return {"structures": write(folder / name, shapes, **ready)}

    return make


def _layer(option: str, shapes: tuple[Any, ...], **columns: Any) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        return {option: write(folder / f"awkward_{option}.gpkg", shapes, **columns)}

    return make


def _text(name: str, text: str | bytes, option: str = "lots") -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        path = folder / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return {option: str(path)}

    return make


def _geojson(geometry: Any, *, crs: str | None = UTM, encoding: str = "utf-8", **properties: Any) -> bytes:
    urn = f"urn:ogc:def:crs:{crs.replace(':', '::')}" if crs else ""
    named = {"crs": {"type": "name", "properties": {"name": urn}}} if urn else {}
    feature = {"type": "Feature", "properties": properties or {"lot_id": "A-1"}, "geometry": geometry}
    whole = {"type": "FeatureCollection", **named, "features": [feature]}
    return json.dumps(whole, ensure_ascii=False).encode(encoding)


def _ring(shape: shapely.Polygon, *, swap: bool = False, to: str = UTM) -> list[list[float]]:
    move = Transformer.from_crs(UTM, to, always_xy=True).transform
    points = [list(move(x, y)) for x, y in shape.exterior.coords]
    return [point[::-1] for point in points] if swap else points


def _wkt(shape: Any, option: str = "lots", *, crs: str = UTM, **columns: Any) -> Make:
    """A shape that shapely may not hold, by way of a CSV and a VRT."""

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        names = columns or {"lot_id": "A-1"}
        row = ",".join(str(value) for value in names.values())
        (folder / "shape.csv").write_text(f'{",".join(names)},wkt\n{row},"{shape}"\n')
        (folder / "awkward.vrt").write_text(
            '<OGRVRTDataSource><OGRVRTLayer name="shape"><SrcDataSource relativeToVRT="1">shape.csv</SrcDataSource>'
            f"<GeometryType>wkbUnknown</GeometryType><LayerSRS>{crs}</LayerSRS>"
            '<GeometryField encoding="WKT" field="wkt"/></OGRVRTLayer></OGRVRTDataSource>'
        )
        return {option: str(folder / "awkward.vrt")}

    return make


def _shapefile(*, without: tuple[str, ...] = (), zipped: bool = False, cut: str = "", **columns: Any) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        path = Path(write(folder / "awkward.shp", [LOT], **(columns or {"lot_id": ["A-1"]})))
        for suffix in without:
            path.with_suffix(suffix).unlink()
        if cut:
            whole = path.with_suffix(cut).read_bytes()
            path.with_suffix(cut).write_bytes(whole[: len(whole) - 60])
        if zipped:
            with zipfile.ZipFile(folder / "awkward.zip", "w") as archive:
                for part in folder.glob("awkward.*"):
                    if part.suffix != ".zip":
                        archive.write(part, part.name)
            return {"lots": str(folder / "awkward.zip")}
        return {"lots": str(path)}

    return make


def _cut(name: str, share: float) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        whole = Path(write(folder / name, [LOT], lot_id=["A-1"])).read_bytes()
        (folder / name).write_bytes(whole[: int(len(whole) * share)])
        return {"lots": str(folder / name)}

    return make


def _without_crs(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
    frame([LOT], crs=None, lot_id=["A-1"]).to_file(folder / "awkward.fgb", engine="pyogrio")
    return {"lots": str(folder / "awkward.fgb")}


def _several_layers(spec: str) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        for name, shape in (("parcels", LOT), ("old", rectangle(0, 0, 9, 9))):
            pyogrio.write_dataframe(frame([shape], lot_id=["A-1"]), folder / "town.gpkg", layer=name)
        return {"lots": f"{folder / 'town.gpkg'}{spec}"}

    return make


def _table(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
    (folder / "table.csv").write_text("lot_id,owner\nA-1,x\n")
    return {"lots": str(folder / "table.csv")}


def _raster_as_lots(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
    shutil.copy(plain["elevation"], folder / "picture.tif")
    return {"lots": str(folder / "picture.tif")}


_CORNERS = ((22, 15), (62, 50), (62, 15), (22, 50))
_BOW = shapely.Polygon([(WEST + col, NORTH - row) for col, row in _CORNERS])
_SPIKED = shapely.union_all([LOT, rectangle(61.0, 30.0, 200.0, 30.5)])
_CURVE = (
    f"CURVEPOLYGON(COMPOUNDCURVE(({WEST + 22} {NORTH - 15},{WEST + 62} {NORTH - 15},{WEST + 62} {NORTH - 50},"
    f"{WEST + 22} {NORTH - 50},{WEST + 22} {NORTH - 15})))"
)
_ZM = "POLYGON ZM ((" + ",".join(f"{x} {y} 99 7" for x, y in LOT.exterior.coords) + "))"
_CURVED_LINE = f"COMPOUNDCURVE(CIRCULARSTRING({WEST + 5} {NORTH - 40},{WEST + 8} {NORTH - 43},{WEST + 5} {NORTH - 46}))"
_TWO = shapely.MultiPolygon([rectangle(22, 15, 40, 50), rectangle(44, 15, 62, 50)])
_HOLED = LOT.difference(rectangle(25, 40, 30, 45))
_POINT = shapely.Point(WEST + 40, NORTH - 30)
_LINE = shapely.LineString([(WEST + 5, NORTH - 40), (WEST + 9, NORTH - 45)])
_MIXED = shapely.GeometryCollection([LOT, _POINT, _LINE])
_FAR = rectangle(5000, 5000, 5040, 5040)
_LON, _LAT = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(WEST + 42, NORTH - 30)
_PLACE = f"{_LAT:.6f},{_LON:.6f}"
_DOOR = shapely.Point(WEST + 29, NORTH - 20)
_WIRE = shapely.LineString([(WEST + 2, NORTH - 55), (WEST + 8, NORTH - 55)])

_F, _L, _G, _C, _B = (
    "vector formats",
    "places of layers",
    "geometries",
    "columns and text of layers",
    "broken layers",
)
FORMATS = [
    *(Case(_F, name, _lots(name)) for name in ("a.geojson", "a.fgb", "a.shp", "a.gml", "a.tab")),
    Case(_F, "KML", _lots("a.kml", Name=["A-1"], lot_id=["A-1"], to="EPSG:4326"), within=1e-3),
    Case(_F, "lines of GeoJSON", _lots("a.geojsonl", to="EPSG:4326"), within=1e-3),
    Case(
        _F,
        "GeoJSON in degrees without a crs",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT, to="EPSG:4326")]}, crs=None)),
        within=1e-3,
    ),
    Case(_F, "a zipped shapefile", _shapefile(zipped=True)),
    Case(_F, "a layer by name", _several_layers("::parcels")),
    Case(_F, "several layers, none named", _several_layers(""), REFUSED, ("town.gpkg::parcels",)),
    Case(_F, "a layer that is not there", _several_layers("::streets"), REFUSED, ("parcels",)),
    Case(_F, "wrong extension", _text("a.dat", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}))),
    Case(_F, "a table", _table, REFUSED, ("without geometries",)),
    Case(_F, "a raster", _raster_as_lots, REFUSED),
]
PLACES = [
    Case(_L, "degrees", _lots(to="EPSG:4326"), within=1e-3),
    Case(_L, "Web Mercator", _lots(to="EPSG:3857"), within=1e-3),
    Case(_L, "US survey feet", _lots(to="EPSG:2249"), within=2e-3),
    Case(_L, "compound CRS", _lots(to="EPSG:26917+5703")),
    Case(_L, "no CRS", _without_crs, REFUSED, ("coordinate reference system",)),
    Case(_L, "shapefile without .prj", _shapefile(without=(".prj",)), REFUSED, ("coordinate reference system",)),
    Case(_L, "outside", _lots(shapes=(_FAR,)), REFUSED, ("No lot lies on the elevation raster",)),
    Case(_L, "one of two outside", _lots(shapes=(LOT, _FAR))),
    Case(
        _L,
        "latitude first",
        _text(
            "a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT, to="EPSG:4326", swap=True)]}, crs=None)
        ),
        REFUSED,
    ),
    Case(
        _L,
        "metres said to be degrees",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, crs=None)),
        REFUSED,
    ),
    Case(
        _L,
        "degrees said to be metres",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT, to="EPSG:4326")]})),
        REFUSED,
    ),
    Case(
        _L,
        "larger than the raster",
        _lots(shapes=(rectangle(-100, -100, 200, 200),)),
        DOUBTED,
        ("reach beyond the elevation raster",),
    ),
    Case(
        _L,
        "round the earth",
        _text(
            "a.geojson",
            _geojson(
                {"type": "Polygon", "coordinates": [[[-180, -90], [180, -90], [180, 90], [-180, 90], [-180, -90]]]},
                crs=None,
            ),
        ),
        REFUSED,
    ),
    Case(_L, "a lot id that is not there", lambda folder, plain: {"lot-id": "B-9"}, REFUSED, ("A-1",)),
    Case(_L, "a place off the raster", lambda folder, plain: {"at": "10,10"}, REFUSED, ("--at",)),
    Case(_L, "a place of NaN", lambda folder, plain: {"at": "nan,nan"}, REFUSED, ("--at",)),
    Case(
        _L,
        "a radius of NaN",
        lambda folder, plain: {"lots": None, "at": _PLACE, "radius": "nan"},
        REFUSED,
        ("--radius",),
    ),
    Case(
        _L,
        "a radius without end",
        lambda folder, plain: {"lots": None, "at": _PLACE, "radius": "inf"},
        REFUSED,
        ("--radius",),
    ),
]
GEOMETRIES = [
    Case(_G, "Z", _lots(shapes=(shapely.force_3d(LOT, 99.0),))),
    Case(_G, "Z and M", _wkt(_ZM)),
    Case(_G, "a curve polygon", _wkt(_CURVE)),
    Case(_G, "a bow-tie", _lots(shapes=(_BOW,)), DOUBTED, ("invalid geometries repaired",)),
    Case(_G, "a spike", _lots(shapes=(_SPIKED,)), DOUBTED, ("reach beyond",)),
    Case(_G, "parts", _lots(shapes=(_TWO,)), DOUBTED),
    Case(_G, "a hole", _lots(shapes=(_HOLED,)), DOUBTED),
    Case(_G, "polygon, point and line in one", _lots(shapes=(_MIXED,)), says=("left out",)),
    Case(_G, "points among polygons", _lots(shapes=(LOT, _POINT)), says=("left out",)),
    Case(_G, "points for lots", _lots(shapes=(_POINT,)), REFUSED, ("no polygons",)),
    Case(_G, "lines for lots", _lots(shapes=(_LINE,)), REFUSED, ("no polygons",)),
    Case(_G, "one empty", _lots(shapes=(LOT, shapely.Polygon())), says=("without a geometry",)),
    Case(_G, "one null", _lots(shapes=(LOT, None)), says=("without a geometry",)),
    Case(_G, "all null", _lots(shapes=(None, None)), REFUSED),
    Case(_G, "no feature", _text("a.geojson", '{"type":"FeatureCollection","features":[]}'), REFUSED),
    Case(
        _G,
        "infinite coordinates",
        _lots(shapes=(LOT, shapely.Polygon([(0, 0), (float("inf"), 0), (1, 1)]))),
        says=("impossible coordinates",),
    ),
    Case(_G, "a sliver", _lots(shapes=(LOT, rectangle(30, 30, 30.1, 31))), says=("slivers",)),
    Case(
        _G,
        "a line with two points alike",
        _layer("drains", (shapely.LineString([(WEST, NORTH - 50)] * 2),)),
        says=("left out",),
    ),
    Case(_G, "a curved drain", _wkt(_CURVED_LINE, "drains", drain_id="P-1")),
    Case(_G, "a lot in a lot", _lots(shapes=(LOT, rectangle(30, 25, 50, 45))), DOUBTED, ("lie upon each other",)),
    Case(_G, "one lot twice", _lots(shapes=(LOT, LOT)), NOT_ASSESSED, ("lie upon each other", "ground of their own")),
    Case(_G, "houses upon each other", _houses(shapes=(HOUSE, HOUSE)), instead={"n_structures": 2}),
    Case(_G, "a house larger than the raster", _houses(shapes=(rectangle(-99, -99, 300, 300),)), DOUBTED),
    Case(_G, "a house of a million corners", _houses(shapes=(shapely.segmentize(HOUSE, 28 / 2e5),))),
]
COLUMNS = [
    Case(_C, "an id twice", _lots(shapes=(LOT, rectangle(0, 50, 20, 60)), lot_id=["A-1", "A-1"]), says=("#2",)),
    Case(_C, "no id", _lots(shapes=(LOT, rectangle(0, 50, 20, 60)), lot_id=["A-1", None]), says=("unnamed",)),
    Case(_C, "ids of numbers", _lots(lot_id=[17.0]), lot="17"),
    Case(_C, "no column of ids", _lots(owner=["x"]), says=("numbered",), lot="lot-1"),
    Case(_C, "a field that is not there", lambda folder, plain: {"lot-id-field": "nr"}, REFUSED, ("lot_id",)),
    Case(_C, "an empty id", _lots(lot_id=["  "]), lot="unnamed-1"),
    Case(_C, "ids of another script", _lots(lot_id=["גן-7"]), lot="גן-7"),
    Case(
        _C,
        "latin-1 in GeoJSON",
        _text(
            "a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, encoding="latin-1", lot_id="Höhe")
        ),
        DOUBTED,
        ("UTF-8",),
    ),
    Case(
        _C,
        "UTF-16 GeoJSON",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, encoding="utf-16")),
        REFUSED,
    ),
    Case(
        _C,
        "GeoJSON with a mark",
        _text("a.geojson", b"\xef\xbb\xbf" + _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]})),
    ),
    Case(_C, "shapefile without .dbf", _shapefile(without=(".dbf",)), lot="lot-1", says=("numbered",)),
    Case(
        _C,
        "columns of lists and dates",
        _text(
            "a.geojson",
            _geojson(
                {"type": "Polygon", "coordinates": [_ring(LOT)]}, lot_id="A-1", tags=["a", {"b": 1}], built="2020-02-30"
            ),
        ),
    ),
    Case(
        _C,
        "id of a list",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, lot_id=["A", 1])),
        lot='[ "A", 1 ]',
    ),
    Case(
        _C,
        "id of a list of numbers",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, lot_id=[7, 1])),
        lot="[ 7, 1 ]",
    ),
    Case(
        _C,
        "feature numbers of ten digits",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, lot_id="A-1", id=5_000_000_000)),
        lot="A-1",
    ),
    Case(
        _C,
        "two columns of one name",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, lot_id="A-1", LOT_ID="B")),
    ),
    Case(_C, "barriers in words", _layer("barriers", (_WIRE,), kind=["wall"], height_m=["two"]), says=("no height",)),
    Case(_C, "barriers of yes", _layer("barriers", (_WIRE,), kind=["wall"], height_m=[True]), says=("no height",)),
    Case(_C, "barriers of 1_0 m", _layer("barriers", (_WIRE,), kind=["wall"], height_m=["1_0"]), says=("no height",)),
    Case(
        _C,
        "barriers of a date",
        _layer("barriers", (_WIRE,), kind=["wall"], height_m=[datetime.date(2020, 2, 3)]),
        says=("no height",),
    ),
    Case(_C, "barriers of 180 m", _layer("barriers", (_WIRE,), kind=["wall"], height_m=[180.0]), says=("180",)),
    Case(_C, "barriers below 0", _layer("barriers", (_WIRE,), kind=["wall"], height_m=[-1.0]), says=("no height",)),
    Case(
        _C,
        "sills in feet said to be metres",
        _layer("doors", (_DOOR,), door_id=["D"], sill_elev_m=[394.0]),
        says=("sill_elev_m", "unit"),
    ),
    Case(
        _C,
        "sills in metres said to be feet",
        _layer("doors", (_DOOR,), door_id=["D"], sill_elev_ft=[120.0]),
        says=("sill_elev_ft", "unit"),
    ),
    Case(
        _C,
        "inverts in feet said to be metres",
        _layer("drains", (_WIRE,), drain_id=["P"], invert_up_m=[392.0], invert_down_m=[391.0]),
        says=("invert_up_m", "unit"),
    ),
    Case(_C, "a ditch 90 m deep", _layer("drains", (_WIRE,), kind=["ditch"], depth_m=[90.0]), says=("depth_m", "90")),
    Case(_C, "soil groups that are none", _layer("soils", (LOT,), hydgrp=["Z"]), DOUBTED, ("no hydrologic group",)),
    Case(
        _C,
        "conductivity below 0",
        _layer("soils", (LOT,), ksat_um_s=[-9.0], impermeable_depth_cm=[50.0], water_table_depth_cm=[90.0]),
        DOUBTED,
        ("unknown",),
    ),
    Case(_C, "soils without end", _layer("soils", (LOT,), hydgrp=["B"], ksat_mm_h=[float("inf")]), DOUBTED),
]
BROKEN = [
    Case(_B, "not there", lambda folder, plain: {"lots": str(folder / "none.gpkg")}, REFUSED),
    Case(_B, "empty", _text("a.gpkg", b""), REFUSED),
    Case(_B, "an empty GeoJSON", _text("a.geojson", b""), REFUSED),
    Case(_B, "noise", _text("a.gpkg", bytes(range(256)) * 20), REFUSED),
    Case(_B, "half a GeoJSON", _cut("a.geojson", 0.6), REFUSED),
    Case(_B, "half a GeoPackage", _cut("a.gpkg", 0.5), REFUSED),
    Case(_B, "most of a GeoPackage", _cut("a.gpkg", 0.9), REFUSED),
    Case(_B, "half a FlatGeobuf", _cut("a.fgb", 0.5), REFUSED),
    Case(_B, "shapefile without .shx", _shapefile(without=(".shx",)), REFUSED),
    Case(_B, "a shapefile cut short", _shapefile(cut=".shp"), REFUSED),
    Case(_B, "a page of HTML", _text("a.geojson", "<html><body>Sign in</body></html>"), REFUSED),
    Case(
        _B,
        "GeoJSON of numbers as text",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [[["a", "b"], ["c", "d"]]]})),
        REFUSED,
    ),
    Case(
        _B,
        "a ring of two points",
        _text("a.geojson", _geojson({"type": "Polygon", "coordinates": [_ring(LOT)[:2]]})),
        REFUSED,
    ),
    Case(
        _B,
        "a column whose name is no text",
        _text(
            "a.geojson",
            _geojson({"type": "Polygon", "coordinates": [_ring(LOT)]}, lot_id="A-1", nr="1").replace(
                b'"nr"', b'"\x9b"'
            ),
        ),
        REFUSED,
    ),
    Case(_B, "nested a thousand deep", _text("a.geojson", '{"a":' * 1000 + "1" + "}" * 1000), REFUSED),
]
LAYERS = [*FORMATS, *PLACES, *GEOMETRIES, *COLUMNS, *BROKEN]
