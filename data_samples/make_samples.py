"""Write the invented neighbourhood Tansy Rise: elevation, vector layers, rainfall, and what is planted in it.

Run `python data_samples/make_samples.py` to write beside this script, or `--out FOLDER` to write elsewhere.
The same script gives the same files; another GDAL or PROJ may pack the raster into other bytes.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import rasterio
import shapely
from pyproj import Transformer
from rasterio.transform import from_origin
from sample_context import SOILS, culvert, rainfall_text, septic_fields, soil_polygons, wells
from sample_layout import CRS, N_COLS, N_ROWS, SOUTH_M, WEST_M, Lot, Street, build_lots
from sample_terrain import design_surface, void_mask, with_noise
from sample_truth import build_truth
from shapely.geometry import mapping
from shapely.geometry.polygon import orient

NODATA = -9999.0
Feature = tuple[shapely.Geometry, dict[str, object]]


def write_elevation(path: Path, elev_m: np.ndarray) -> None:
    """Tiled, compressed float32 GeoTIFF with its unit and nodata declared."""
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=N_COLS,
        height=N_ROWS,
        count=1,
        dtype="float32",
        crs=CRS,
        transform=from_origin(WEST_M, SOUTH_M + N_ROWS, 1.0, 1.0),
        nodata=NODATA,
        tiled=True,
        blockxsize=256,
        blockysize=256,
        compress="deflate",
        predictor=3,
        zlevel=9,
    ) as dst:
        dst.write(np.where(np.isnan(elev_m), NODATA, elev_m).astype("float32"), 1)
        dst.units = ("metre",)
        dst.set_band_description(1, "bare-earth elevation")


def to_degrees(shape: shapely.Geometry) -> shapely.Geometry:
    """Local metres to longitude and latitude, 8 decimals, exterior rings counter-clockwise."""
    transformer = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)

    def move(uv: np.ndarray) -> np.ndarray:
        lon, lat = transformer.transform(uv[:, 0] + WEST_M, uv[:, 1] + SOUTH_M)
        return np.round(np.column_stack([lon, lat]), 8)

    moved = shapely.transform(shape, move)
    return orient(moved) if moved.geom_type == "Polygon" else moved


def write_geojson(path: Path, features: list[Feature]) -> None:
    """One feature a line, as RFC 7946 asks: no CRS member, longitude first."""
    lines = [
        json.dumps({"type": "Feature", "properties": properties, "geometry": mapping(to_degrees(shape))})
        for shape, properties in features
    ]
    text = '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n"
    path.write_text(text, encoding="utf-8", newline="\n")


def lot_layers(lots: list[Lot]) -> dict[str, list[Feature]]:
    """Lots, structures and driveways."""
    kinds = {"H": "house", "G": "garage", "S": "shed"}
    layers: dict[str, list[Feature]] = {"lots": [], "structures": [], "driveways": []}
    for lot in lots:
        lot_id = lot.spec.lot_id
        house_number = 2 * int(lot.number) if lot.spec.is_upper else 2 * (int(lot.number) - 12) - 1
        layers["lots"].append((lot.polygon, {"lot_id": lot_id, "address": f"{house_number} Larkspur Lane"}))
        for key, shape in lot.structures().items():
            properties = {"structure_id": key, "kind": kinds[key[0]], "lot_id": lot_id}
            layers["structures"].append((shape, properties))
        if lot.drive is not None:
            layers["driveways"].append((lot.drive, {"driveway_id": f"D-{lot.number}", "lot_id": lot_id}))
    return layers


def context_layers(street: Street, lots: list[Lot]) -> dict[str, list[Feature]]:
    """Street, soils, culvert, wells and septic fields."""
    by_id = {lot.spec.lot_id: lot for lot in lots}
    line, sizes = culvert()
    names = ("mukey", "musym", "muname", "hydgrp")
    return {
        "roads": [(street.pavement(), {"road_id": "R-1", "name": "Larkspur Lane", "surface": "asphalt"})],
        "soils": [(p, dict(zip(names, SOILS[key], strict=True))) for key, p in soil_polygons().items()],
        "drains": [(line, {"drain_id": "K-1", "kind": "culvert", **sizes})],
        "wells": [(p, {"well_id": f"W-{k[3:]}", "lot_id": k}) for k, p in wells(by_id).items()],
        "septic": [(p, {"septic_id": f"F-{k[3:]}", "lot_id": k}) for k, p in septic_fields(by_id).items()],
    }


def make_samples(out: Path) -> None:
    """Build the neighbourhood and write every file."""
    out.mkdir(parents=True, exist_ok=True)
    street = Street()
    lots = build_lots(street)
    ground, drives = design_surface(street, lots)
    noisy = np.where(void_mask(ground), np.nan, with_noise(ground.z))
    write_elevation(out / "elevation.tif", noisy)
    for name, features in {**lot_layers(lots), **context_layers(street, lots)}.items():
        write_geojson(out / f"{name}.geojson", features)
    middle = to_degrees(shapely.Point(N_COLS / 2, N_ROWS / 2))
    rainfall = out / "rainfall.csv"
    rainfall.write_text(rainfall_text(middle.y, middle.x), encoding="utf-8", newline="\n")
    truth = json.dumps(build_truth(ground, lots, drives, noisy), indent=2)
    (out / "truth.json").write_text(truth + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    here = Path(__file__).resolve().parent
    parser.add_argument("--out", type=Path, default=here, help="folder to write to")
    make_samples(parser.parse_args().out)
