"""Awkward files of improvements: an outlet alone changes nothing, so the site must come out as without it."""

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

_W = "improvements"
_WEST, _SOUTH, _EAST, _NORTH = LOT.bounds
OUTLET = shapely.Point(_EAST - 2.0, _SOUTH + 2.0)
LINE = shapely.LineString([(_WEST + 2.0, _SOUTH + 4.0), (_WEST + 8.0, _SOUTH + 4.0)])
BOW_TIE = shapely.Polygon(
    [(_WEST + 2, _SOUTH + 2), (_WEST + 8, _SOUTH + 8), (_WEST + 8, _SOUTH + 2), (_WEST + 2, _SOUTH + 8)]
)


def _improvements(*features: tuple[Any, dict[str, Any]], to: str = "EPSG:4326", **more: Any) -> Make:
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
        (folder / "improvements.geojson").write_text(text, encoding="utf-8")
        return {"improvements": str(folder / "improvements.geojson")}

    return make


def _text(text: str, name: str = "improvements.geojson") -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        (folder / name).write_text(text, encoding="utf-8")
        return {"improvements": str(folder / name)}

    return make


def _table(**columns: Any) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        return {"improvements": write(folder / "improvements.gpkg", [OUTLET], **columns)}

    return make


_BERM = {"kind": "berm", "height_m": 0.3}
_OUT = (OUTLET, {"kind": "outlet", "id": "O-1"})
IMPROVEMENTS = [
    Case(_W, "plain", _improvements(_OUT)),
    Case(_W, "in a GeoPackage", _table(kind=["Outlet"])),
    Case(_W, "in US survey feet", _improvements(_OUT, to="EPSG:2264")),
    Case(_W, "with heights", _improvements((shapely.force_3d(OUTLET, 7.0), _OUT[1]))),
    Case(_W, "ids of ten digits", _improvements((OUTLET, {"kind": "outlet", "id": 5_000_000_000}))),
    Case(
        _W, "hostile text", _improvements((OUTLET, {"kind": "outlet", "id": "=1+1", "note": "<img onerror=alert(1)>"}))
    ),
    Case(
        _W, "an unknown column", _improvements((OUTLET, {**_OUT[1], "colour": "red"})), DOUBTED, ("not read: colour",)
    ),
    Case(_W, "a column of lists", _improvements((OUTLET, {**_OUT[1], "tags": [1, 2]})), DOUBTED, ("not read: tags",)),
    Case(_W, "off the raster", _improvements((shapely.Point(_EAST + 9e3, _NORTH), _OUT[1])), REFUSED),
    Case(_W, "none", _improvements(), REFUSED),
    Case(_W, "not there", lambda folder, plain: {"improvements": str(folder / "none.geojson")}, REFUSED),
    Case(_W, "empty", _text(""), REFUSED),
    Case(_W, "half a GeoJSON", _text('{"type": "FeatureCollection", "features": [{"type": "Fea'), REFUSED),
    Case(_W, "a page of HTML", _text("<html><body>Sign in</body></html>"), REFUSED),
    Case(_W, "no kind", _improvements((LINE, {"height_m": 0.3})), REFUSED, ("has no kind",)),
    Case(_W, "a kind that is none", _improvements((LINE, {"kind": "moat"})), REFUSED, ("'moat'",)),
    Case(_W, "a height of yes", _improvements((LINE, {**_BERM, "height_m": True})), REFUSED, ("no number",)),
    Case(_W, "a height of 1_0", _improvements((LINE, {**_BERM, "height_m": "1_0"})), REFUSED, ("no number",)),
    Case(_W, "a height of a list", _improvements((LINE, {**_BERM, "height_m": [0.3, 1]})), REFUSED, ("no number",)),
    Case(_W, "a height of 1e999", _improvements((LINE, {**_BERM, "height_m": "1e999"})), REFUSED, ("no number",)),
    Case(_W, "a height of 300 m", _improvements((LINE, {**_BERM, "height_m": 300})), REFUSED, ("cannot be",)),
    Case(
        _W,
        "a height without a unit",
        _improvements((LINE, {"kind": "berm", "height": 1})),
        REFUSED,
        ("without a unit",),
    ),
    Case(_W, "a height twice", _improvements((LINE, {**_BERM, "height_ft": 1})), REFUSED, ("twice",)),
    Case(_W, "an id twice", _improvements(_OUT, (LINE, {**_BERM, "id": "O-1"})), REFUSED, ("share an id",)),
    Case(_W, "no shape", _improvements((None, _BERM)), REFUSED, ("without a usable place",)),
    Case(
        _W,
        "two parts",
        _improvements((shapely.MultiPoint([OUTLET, LINE.coords[0]]), _OUT[1])),
        REFUSED,
        ("several parts",),
    ),
    Case(_W, "a point for a berm", _improvements((OUTLET, _BERM)), REFUSED, ("drawn as a point",)),
    Case(_W, "a bow-tie", _improvements((BOW_TIE, {"kind": "regrade", "elev_m": 118.0})), REFUSED, ("several parts",)),
]
