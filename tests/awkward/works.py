"""Awkward files of works: an outlet alone changes nothing of the ground, so the site must come out as without it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import shapely

from tests.awkward.ground import LOT, UTM, write
from tests.awkward.judging import DOUBTED, REFUSED, Case

Make = Callable[[Path, dict[str, str]], dict[str, str | None]]

_W = "works"
_WEST, _SOUTH, _EAST, _NORTH = LOT.bounds
OUTLET = shapely.Point(_EAST - 2.0, _SOUTH + 2.0)
LINE = shapely.LineString([(_WEST + 2.0, _SOUTH + 4.0), (_WEST + 8.0, _SOUTH + 4.0)])
BOW_TIE = shapely.Polygon(
    [(_WEST + 2, _SOUTH + 2), (_WEST + 8, _SOUTH + 8), (_WEST + 8, _SOUTH + 2), (_WEST + 2, _SOUTH + 8)]
)


def _works(*features: tuple[Any, dict[str, Any]], to: str = "EPSG:4326", **more: Any) -> Make:
    """GeoJSON as it is drawn; in degrees it says no CRS."""

    def moved(shape: Any) -> Any:
        return gpd.GeoSeries([shape], crs=UTM).to_crs(to).iloc[0]

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        drawn = [
            {
                "type": "Feature",
                "properties": properties,
                "geometry": shape and json.loads(shapely.to_geojson(moved(shape))),
            }
            for shape, properties in features
        ]
        named = {} if to == "EPSG:4326" else {"crs": {"type": "name", "properties": {"name": to}}}
        text = json.dumps({"type": "FeatureCollection", **named, "features": drawn, **more})
        (folder / "works.geojson").write_text(text, encoding="utf-8")
        return {"works": str(folder / "works.geojson")}

    return make


def _text(text: str, name: str = "works.geojson") -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        (folder / name).write_text(text, encoding="utf-8")
        return {"works": str(folder / name)}

    return make


def _table(**columns: Any) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        return {"works": write(folder / "works.gpkg", [OUTLET], **columns)}

    return make


_BERM = {"kind": "berm", "height_m": 0.3}
_OUT = (OUTLET, {"kind": "outlet", "id": "O-1"})
WORKS = [
    Case(_W, "plain", _works(_OUT)),
    Case(_W, "in a GeoPackage", _table(kind=["Outlet"])),
    Case(_W, "in US survey feet", _works(_OUT, to="EPSG:2264")),
    Case(_W, "with heights", _works((shapely.force_3d(OUTLET, 7.0), _OUT[1]))),
    Case(_W, "ids of ten digits", _works((OUTLET, {"kind": "outlet", "id": 5_000_000_000}))),
    Case(_W, "hostile text", _works((OUTLET, {"kind": "outlet", "id": "=1+1", "note": "<img onerror=alert(1)>"}))),
    Case(_W, "an unknown column", _works((OUTLET, {**_OUT[1], "colour": "red"})), DOUBTED, ("not read: colour",)),
    Case(_W, "a column of lists", _works((OUTLET, {**_OUT[1], "tags": [1, 2]})), DOUBTED, ("not read: tags",)),
    Case(_W, "off the raster", _works((shapely.Point(_EAST + 9e3, _NORTH), _OUT[1])), REFUSED),
    Case(_W, "none", _works(), REFUSED),
    Case(_W, "not there", lambda folder, plain: {"works": str(folder / "none.geojson")}, REFUSED),
    Case(_W, "empty", _text(""), REFUSED),
    Case(_W, "half a GeoJSON", _text('{"type": "FeatureCollection", "features": [{"type": "Fea'), REFUSED),
    Case(_W, "a page of HTML", _text("<html><body>Sign in</body></html>"), REFUSED),
    Case(_W, "no kind", _works((LINE, {"height_m": 0.3})), REFUSED, ("has no kind",)),
    Case(_W, "a kind that is none", _works((LINE, {"kind": "moat"})), REFUSED, ("'moat'",)),
    Case(_W, "a height of yes", _works((LINE, {**_BERM, "height_m": True})), REFUSED, ("no number",)),
    Case(_W, "a height of 1_0", _works((LINE, {**_BERM, "height_m": "1_0"})), REFUSED, ("no number",)),
    Case(_W, "a height of a list", _works((LINE, {**_BERM, "height_m": [0.3, 1]})), REFUSED, ("no number",)),
    Case(_W, "a height of 1e999", _works((LINE, {**_BERM, "height_m": "1e999"})), REFUSED, ("no number",)),
    Case(_W, "a height of 300 m", _works((LINE, {**_BERM, "height_m": 300})), REFUSED, ("cannot be",)),
    Case(_W, "a height without a unit", _works((LINE, {"kind": "berm", "height": 1})), REFUSED, ("without a unit",)),
    Case(_W, "a height twice", _works((LINE, {**_BERM, "height_ft": 1})), REFUSED, ("twice",)),
    Case(_W, "an id twice", _works(_OUT, (LINE, {**_BERM, "id": "O-1"})), REFUSED, ("share an id",)),
    Case(_W, "no shape", _works((None, _BERM)), REFUSED, ("without a usable place",)),
    Case(_W, "two parts", _works((shapely.MultiPoint([OUTLET, LINE.coords[0]]), _OUT[1])), REFUSED, ("several parts",)),
    Case(_W, "a point for a berm", _works((OUTLET, _BERM)), REFUSED, ("drawn as a point",)),
    Case(_W, "a bow-tie", _works((BOW_TIE, {"kind": "regrade", "elev_m": 118.0})), REFUSED, ("several parts",)),
]
