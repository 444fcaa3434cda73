"""Awkward elevation rasters: encodings, places on the earth, values and broken files."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS, Transformer
from shapely import affinity

from tests.awkward.ground import HOUSE, LOT, N_COLS, N_ROWS, NORTH, UTM, WEST, clean_pixels, sampled, write
from tests.awkward.judging import DOUBTED, NOT_ASSESSED, REFUSED, Case
from tests.inputs.files import write_raster

_METRES = Affine(1.0, 0.0, WEST, 0.0, -1.0, NORTH)
_COLLAR = 3
Make = Callable[[Path, dict[str, str]], dict[str, str | None]]


def _tif(make_pixels: Callable[[np.ndarray], np.ndarray] = lambda pixels: pixels, **how: Any) -> Make:
    """Write changed pixels as a GeoTIFF."""
    options = {key: how.pop(key) for key in ("vertical-unit",) if key in how}
    name = how.pop("name", "awkward.tif")

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        path = write_raster(folder / name, make_pixels(clean_pixels()), **{"crs": UTM, **how})
        return {"elevation": str(path), **options}

    return make


def _placed(crs: Any, transform: Affine, shape: tuple[int, int], **how: Any) -> Make:
    """The same valley sampled on another raster."""

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        pixels = sampled(transform, shape, crs=crs)
        return {"elevation": str(write_raster(folder / "awkward.tif", pixels, crs=crs, transform=transform, **how))}

    return make


def _moved(crs: Any, west: float, north: float, *, layers: Any = None) -> Make:
    """The same valley, lot and house at another place on the earth; layers in another CRS if told."""

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        transform = Affine(1.0, 0.0, west, 0.0, -1.0, north)
        made = {"elevation": str(write_raster(folder / "awkward.tif", clean_pixels(), crs=crs, transform=transform))}
        columns = {"lots": {"lot_id": ["A-1"]}, "structures": {"structure_id": ["H-1"], "kind": ["house"]}}
        for (name, own), shape in zip(columns.items(), (LOT, HOUSE), strict=True):
            there = affinity.translate(shape, west - WEST, north - NORTH)
            made[name] = write(folder / f"{name}.geojson", [there], crs=crs, to=layers or "EPSG:4326", **own)
        return made  # type: ignore[return-value]

    return make


def _over(crs: Any, cell: float, *, cell_y: float = 0.0) -> tuple[Any, Affine, tuple[int, int]]:
    """A raster of another CRS that covers the valley."""
    west, south, east, north = Transformer.from_crs(UTM, crs, always_xy=True).transform_bounds(
        WEST, NORTH - N_ROWS, WEST + N_COLS, NORTH
    )
    cell_y = cell_y or cell
    shape = (int((north - south) / cell_y) + 2, int((east - west) / cell) + 2)
    return crs, Affine(cell, 0.0, west - cell / 2, 0.0, -cell_y, north + cell_y / 2), shape


def _collar(value: float) -> Callable[[np.ndarray], np.ndarray]:
    """Cells at the rim of the raster, beyond the ridges, that hold a mark."""

    def change(pixels: np.ndarray) -> np.ndarray:
        out = pixels.copy()
        out[:_COLLAR] = out[:, :_COLLAR] = out[:, -_COLLAR:] = value
        return out

    return change


def _hundredths(dtype: Any, less: float = 0.0) -> Callable[[np.ndarray], np.ndarray]:
    return lambda pixels: np.round(pixels.astype(np.float64) * 100 - less).astype(dtype)


def _bytes(name: str, data: bytes) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        (folder / name).write_bytes(data)
        return {"elevation": str(folder / name)}

    return make


def _cut(share: float) -> Make:
    """A GeoTIFF whose end is lost."""

    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        whole = write_raster(folder / "whole.tif", np.tile(clean_pixels(), (1, 1)), crs=UTM).read_bytes()
        (folder / "cut.tif").write_bytes(whole[: int(len(whole) * share)])
        return {"elevation": str(folder / "cut.tif")}

    return make


def _copied_as(name: str) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        shutil.copy(plain["elevation"], folder / name)
        return {"elevation": str(folder / name)}

    return make


def _ascii(*, with_crs: bool, with_unit: bool, comma: bool = False) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        path = folder / "awkward.asc"
        head = f"ncols {N_COLS}\nnrows {N_ROWS}\nxllcorner {WEST}\nyllcorner {NORTH - N_ROWS}\ncellsize 1\n"
        rows = "\n".join(" ".join(f"{value:.2f}" for value in row) for row in clean_pixels())
        path.write_text(head + (rows.replace(".", ",") if comma else rows) + "\n")
        if with_crs:
            path.with_suffix(".prj").write_text(CRS(UTM).to_wkt("WKT1_ESRI"))
        return {"elevation": str(path), "vertical-unit": "m" if with_unit else None}

    return make


def _masked(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
    """A mask band over marks that would otherwise be a pit."""
    pixels = _collar(-50.0)(clean_pixels())
    path = write_raster(folder / "awkward.tif", pixels, crs=UTM)
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as raster:
        raster.write_mask(pixels > 0)
    return {"elevation": str(path)}


def _vrt(text: str) -> Make:
    def make(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
        (folder / "awkward.vrt").write_text(text.replace("CLEAN", plain["elevation"]))
        return {"elevation": str(folder / "awkward.vrt")}

    return make


def _directory(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
    (folder / "folder.tif").mkdir()
    return {"elevation": str(folder / "folder.tif")}


def _scaled(scale: float, offset: float = 0.0) -> Make:
    """A scale tag that says nonsense."""
    return _tif(_hundredths(np.int16), scale=scale, offset=offset)


def _sparse(folder: Path, plain: dict[str, str]) -> dict[str, str | None]:
    """Tiles that were never written read as 0."""
    path = folder / "awkward.tif"
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=96,
        width=96,
        count=1,
        dtype="float32",
        crs=UTM,
        transform=_METRES,
        tiled=True,
        blockxsize=32,
        blockysize=32,
        sparse_ok=True,
    ) as raster:
        raster.write(clean_pixels()[:32, :64], 1, window=rasterio.windows.Window(0, 0, 64, 32))
        raster.units = ("m",)
    return {"elevation": str(path)}


def _spike(value: float, *, where: tuple[int, int] = (40, 42)) -> Callable[[np.ndarray], np.ndarray]:
    def change(pixels: np.ndarray) -> np.ndarray:
        out = pixels.astype(np.float64)
        out[where] = value
        return out

    return change


_US_FOOT = "+proj=tmerc +lat_0=0 +lon_0=-81 +k=0.9996 +x_0=500000 +y_0=0 +datum=NAD83 +units=us-ft +no_defs"
_FAR_OFF = "+proj=tmerc +lat_0=40 +lon_0=-81 +k=1 +x_0=10000000 +y_0=50000000 +datum=WGS84 +units=m +no_defs"
_FT = 3937.0 / 1200.0
_FEET_GRID = Affine(_FT, 0.0, WEST * _FT, 0.0, -_FT, NORTH * _FT)
_ZERO_VRT = (
    '<VRTDataset rasterXSize="{0}" rasterYSize="{0}"><SRS>EPSG:26917</SRS><GeoTransform>{1}</GeoTransform>'
    '<VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType><SimpleSource><SourceFilename>CLEAN'
    "</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>"
)
_LOST = (
    '<VRTDataset rasterXSize="84" rasterYSize="60"><SRS>EPSG:26917</SRS><GeoTransform>500100,1,0,4400200,0,-1'
    '</GeoTransform><VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType><SimpleSource>'
    "<SourceFilename>/nowhere/tile.tif</SourceFilename><SourceBand>1</SourceBand></SimpleSource>"
    "</VRTRasterBand></VRTDataset>"
)

_E, _G, _V, _B = "raster encodings", "places and grids", "raster values", "broken rasters"
ENCODINGS = [
    Case(_E, "ASCII grid with .prj", _ascii(with_crs=True, with_unit=True)),
    Case(_E, "south-up", _tif(lambda p: p[::-1], transform=Affine(1, 0, WEST, 0, 1, NORTH - N_ROWS))),
    Case(_E, "int16, scale 0.01", _tif(_hundredths(np.int16), scale=0.01)),
    Case(_E, "uint16, scale and offset", _tif(_hundredths(np.uint16, 5000), scale=0.01, offset=50.0)),
    Case(_E, "float64", _tif(lambda p: p.astype(np.float64))),
    Case(_E, "centimetres", _tif(_hundredths(np.int32), unit="cm")),
    Case(_E, "feet", _tif(lambda p: (p / 0.3048).astype(np.float64), unit="ft"), within=1e-4),
    Case(_E, "US survey feet", _tif(lambda p: (p * _FT).astype(np.float64), unit="US survey foot"), within=1e-4),
    Case(_E, "unit by option", _tif(unit=None, **{"vertical-unit": "m"})),
    Case(_E, "option against the file", _tif(unit="ft", **{"vertical-unit": "m"}), says=("the option was followed",)),
    Case(_E, "Erdas Imagine", _tif(name="awkward.img", driver="HFA", unit=None, **{"vertical-unit": "m"})),
    Case(_E, "tiled, compressed", _tif(tiled=True, blockxsize=16, blockysize=16, compress="deflate", predictor=3)),
    Case(_E, "five bands", _tif(lambda p: np.stack([p, p * 0, p + 5, p - 9, p * 2])), says=("band 1 of 5",)),
    Case(_E, "wrong extension", _copied_as("awkward.txt")),
    Case(_E, "hostile file name", _copied_as("x;$(rm -rf) <b>'\u202e.tif")),
    Case(_E, "no unit", _tif(unit=None), REFUSED, ("--vertical-unit",)),
    Case(_E, "unknown unit", _tif(unit="fathom"), REFUSED, ("fathom", "--vertical-unit")),
    Case(_E, "whole metres", _tif(lambda p: np.round(p).astype(np.int16)), DOUBTED, ("steps of 1 m",)),
    Case(_E, "complex numbers", _tif(lambda p: p.astype(np.complex64)), REFUSED, ("complex",)),
]
PLACES = [
    Case(_G, "compound CRS", _tif(crs="EPSG:26917+5703", unit=None)),
    Case(
        _G,
        "compound CRS in feet",
        _tif(lambda p: (p * _FT).astype(np.float64), crs="EPSG:26917+6360", unit=None),
        within=1e-4,
    ),
    Case(_G, "two units", _tif(crs="EPSG:26917+6360"), REFUSED, ("two vertical units",)),
    Case(_G, "coordinates in US feet", _tif(crs=_US_FOOT, transform=_FEET_GRID), within=1e-4),
    Case(_G, "degrees", _placed(*_over("EPSG:4269", 8e-6)), within=0.12),
    Case(_G, "Web Mercator", _placed(*_over("EPSG:3857", 1.0)), within=0.12),
    Case(_G, "another zone", _placed(*_over("EPSG:26916", 1.0)), within=0.12),
    Case(_G, "south of the equator", _moved("EPSG:32733", 510_100.0, 6_250_200.0), within=1e-4),
    Case(_G, "on the equator", _moved("EPSG:32633", 510_100.0, 30.0), within=1e-4),
    Case(_G, "across the antimeridian", _moved("EPSG:32601", 243_782.0, 4_429_700.0), within=1e-4),
    Case(
        _G,
        "across it, layers of the other zone",
        _moved("EPSG:32601", 243_782.0, 4_429_700.0, layers="EPSG:32660"),
        within=1e-4,
    ),
    Case(_G, "a false origin far off", _moved(_FAR_OFF, 1.0e7 + 100.0, 5.0e7 + 200.0), within=1e-4),
    Case(_G, "cells not square", _placed(*_over(UTM, 0.5, cell_y=1.0)), within=0.12),
    Case(
        _G,
        "turned",
        _placed(UTM, _METRES @ Affine.translation(0, -30) @ Affine.rotation(20.0), (100, 110)),
        within=0.06,
    ),
    Case(_G, "cells of 0.1 m", _placed(UTM, Affine(0.1, 0, WEST, 0, -0.1, NORTH), (600, 840)), within=0.12),
    Case(_G, "cells of 3 m", _placed(UTM, Affine(3, 0, WEST, 0, -3, NORTH), (20, 28)), within=0.2),
    Case(
        _G,
        "cells of 30 m",
        _placed(UTM, Affine(30, 0, WEST - 30, 0, -30, NORTH + 30), (4, 5)),
        DOUBTED,
        ("cells of 30 m are wider",),
    ),
    Case(_G, "no CRS", _tif(crs=None), REFUSED, ("no coordinate reference system",)),
    Case(_G, "ASCII grid without .prj", _ascii(with_crs=False, with_unit=True), REFUSED, ("coordinate reference",)),
    Case(_G, "no position", _tif(transform=Affine.identity()), REFUSED, ("no position",)),
    Case(_G, "a local CRS", _tif(crs='LOCAL_CS["site",UNIT["metre",1]]'), REFUSED),
    Case(_G, "a geocentric CRS", _tif(crs="EPSG:4978"), REFUSED),
    Case(_G, "UTM corner far off", _tif(transform=Affine(1, 0, 1e12, 0, -1, 1e12)), REFUSED),
    Case(_G, "degrees beyond the poles", _tif(crs="EPSG:4326", transform=Affine(1, 0, 0, 0, -1, 500)), REFUSED),
    Case(
        _G,
        "a whole continent",
        _tif(crs="EPSG:4326", transform=Affine(0.5, 0, -120, 0, -0.5, 60)),
        REFUSED,
        ("spans too many degrees",),
    ),
    Case(_G, "cells of no size", _tif(transform=Affine(0, 0, WEST, 0, 0, NORTH)), REFUSED),
    Case(_G, "cells of NaN", _tif(transform=Affine(np.nan, 0, WEST, 0, -1, NORTH)), REFUSED),
    Case(_G, "one row", _placed(UTM, Affine(1, 0, WEST, 0, -1, NORTH - 30), (1, N_COLS)), REFUSED, ("1 rows x 84",)),
    Case(_G, "one column", _placed(UTM, Affine(1, 0, WEST + 30, 0, -1, NORTH), (N_ROWS, 1)), REFUSED, ("x 1 columns",)),
    Case(_G, "one cell", _placed(UTM, Affine(1, 0, WEST + 30, 0, -1, NORTH - 30), (1, 1)), REFUSED),
    Case(
        _G,
        "ground elsewhere",
        _tif(transform=Affine(1, 0, WEST + 5000, 0, -1, NORTH)),
        REFUSED,
        ("No lot lies on the elevation raster",),
    ),
]
VALUES = [
    Case(_V, "NaN collar", _tif(_collar(np.nan))),
    Case(_V, "tagged -9999", _tif(_collar(-9999.0), nodata=-9999.0)),
    Case(_V, "tagged 0", _tif(_collar(0.0), nodata=0.0)),
    Case(_V, "tagged with the smallest float, misprinted", _tif(_collar(-3.4028235e38), nodata=-3.40282306074e38)),
    Case(_V, "untagged -9999", _tif(_collar(-9999.0)), says=("untagged value -9999",)),
    Case(_V, "untagged -32768", _tif(_collar(-32768.0)), says=("untagged value -32768",)),
    Case(
        _V,
        "untagged -32768 in int16",
        _tif(lambda p: _collar(-32768)(_hundredths(np.int16)(p)), scale=0.01),
        says=("untagged value -32768",),
    ),
    Case(_V, "untagged 1e38", _tif(_collar(1e38)), says=("taken as no data",)),
    Case(_V, "untagged -3.4e38", _tif(_collar(-3.4028235e38)), says=("taken as no data",)),
    Case(_V, "infinite", _tif(_collar(np.inf)), says=("infinite values",)),
    Case(_V, "untagged 1e30", _tif(_collar(1e30)), says=("taken as no data",)),
    Case(_V, "untagged 65535", _tif(_collar(65535.0)), REFUSED, ("no data",)),
    Case(_V, "untagged 0", _tif(_collar(0.0)), REFUSED, ("no data",)),
    Case(_V, "a mask band", _masked),
    Case(_V, "tiles never written", _sparse, REFUSED, ("no data",)),
    Case(_V, "all no data", _tif(lambda p: p * np.nan, nodata=-9999.0), NOT_ASSESSED, ("with elevation",)),
    Case(_V, "a spike of 20,000 m", _tif(_spike(20_000.0)), REFUSED, ("vertical unit",)),
    Case(_V, "a spike of 900 m", _tif(_spike(1000.0)), REFUSED, ("no data",)),
    Case(_V, "centimetres said to be metres", _tif(lambda p: p * 100), REFUSED, ("vertical unit",)),
    Case(_V, "scale of 0", _scaled(0.0), REFUSED, ("scale",)),
    Case(_V, "scale of NaN", _scaled(float("nan")), REFUSED, ("scale",)),
    Case(_V, "infinite offset", _scaled(0.01, float("inf")), REFUSED, ("offset",)),
    Case(
        _V,
        "dead level",
        _tif(lambda p: p * 0 + 100),
        instead={
            "contributing_area_m2": 1442.0,
            "slope_pct": 0.0,
            "n_low_spots": 0,
            "low_spot_depth_max_m": 0.0,
            "low_spot_volume_m3": 0.0,
        },
    ),
]
BROKEN = [
    Case(_B, "not there", lambda folder, plain: {"elevation": str(folder / "none.tif")}, REFUSED),
    Case(_B, "a folder", _directory, REFUSED),
    Case(_B, "empty", _bytes("empty.tif", b""), REFUSED),
    Case(_B, "text", _bytes("text.tif", b"elevation\n1\n2\n"), REFUSED),
    Case(
        _B,
        "noise",
        _bytes("noise.tif", bytes(np.random.default_rng(1).integers(0, 256, 4000, dtype=np.uint8))),
        REFUSED,
    ),
    Case(_B, "a TIFF head and no more", _bytes("head.tif", b"II*\x00\x08\x00\x00\x00"), REFUSED),
    Case(_B, "half a TIFF", _cut(0.5), REFUSED),
    Case(_B, "most of a TIFF", _cut(0.95), REFUSED),
    Case(_B, "of no size", _vrt(_ZERO_VRT.format(0, "500100,1,0,4400200,0,-1")), REFUSED),
    Case(_B, "a mosaic whose tile is lost", _vrt(_LOST), REFUSED),
    Case(_B, "ASCII grid with decimal commas", _ascii(with_crs=True, with_unit=True, comma=True)),
]
RASTERS = [*ENCODINGS, *PLACES, *VALUES, *BROKEN]
