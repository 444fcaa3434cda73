"""Rasters of the map as small pictures: shaded relief and classed depth, on the page's own projection."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from screening.errors import OutputError
from screening.grid import Grid
from screening.projections import degrees_of, transformer_between

MAX_SIDE_PX = 2048
"""Longest side of a picture; larger windows are shown more coarsely."""
_DETAIL_SIDE_PX = 1400
_MAX_ENLARGE = 4
_AZIMUTHS_DEG = (225.0, 270.0, 315.0, 0.0)
_ALTITUDE_DEG = 45.0
_PAGE_CRS = "EPSG:3857"

PageBounds = tuple[tuple[float, float], tuple[float, float]]
"""South-west and north-east corner, latitude before longitude [deg]."""


@dataclass(frozen=True, kw_only=True)
class PageImage:
    """A picture as a data address, with its place."""

    url: str
    bounds: PageBounds
    width_px: int
    height_px: int


def picture_shape(width: float, height: float, n_cells: int) -> tuple[int, int]:
    """Width and height [px] of a picture: small rasters enlarged, large ones clamped.

    Parameters
    ----------
    width, height
        Of the ground shown, in any unit.
    n_cells
        Along the longer side.
    """
    longest = min(MAX_SIDE_PX, max(n_cells, min(_DETAIL_SIDE_PX, _MAX_ENLARGE * n_cells)))
    factor = longest / max(width, height)
    return max(1, round(width * factor)), max(1, round(height * factor))


def warp_to_page(values: NDArray[np.float32], grid: Grid, *, is_smooth: bool) -> tuple[NDArray[np.float32], PageBounds]:
    """Warp a raster to web Mercator at picture size.

    Parameters
    ----------
    values
        Shape of the grid, float32, NaN = nothing there.
    grid
        Of `values`.
    is_smooth
        True for shade; False keeps cells as they are, and the deepest where many share a pixel.

    Returns
    -------
    Raster, float32, and its bounds.
    """
    from affine import Affine
    from rasterio.enums import Resampling
    from rasterio.warp import reproject

    to_page = transformer_between(grid.crs, _PAGE_CRS)
    west, south, east, north = to_page.transform_bounds(*grid.bounds)
    wide, high = picture_shape(east - west, north - south, max(grid.shape))
    place = Affine((east - west) / wide, 0.0, west, 0.0, (south - north) / high, north)
    shrinks = max(wide, high) < max(grid.shape)
    method = (
        (Resampling.average if shrinks else Resampling.cubic)
        if is_smooth
        else (Resampling.max if shrinks else Resampling.nearest)
    )
    out = np.full((high, wide), np.nan, dtype=np.float32)
    reproject(
        np.ascontiguousarray(values, dtype=np.float32),
        out,
        src_transform=grid.transform,
        src_crs=grid.crs,
        src_nodata=np.nan,
        dst_transform=place,
        dst_crs=_PAGE_CRS,
        dst_nodata=np.nan,
        resampling=method,
    )
    lon, lat = degrees_of(_PAGE_CRS).transform([west, east], [south, north])
    return out, ((round(lat[0], 7), round(lon[0], 7)), (round(lat[1], 7), round(lon[1], 7)))


def exaggeration_of(elev_m: NDArray[np.float32], cell_m: float) -> float:
    """Times heights are stretched before shading, so that gentle ground shows: a whole number of 1 to 8."""
    if min(elev_m.shape) < 2:
        return 1.0
    slope = np.hypot(*np.gradient(elev_m.astype(np.float64), cell_m))
    slope = slope[np.isfinite(slope)]
    steep = float(np.percentile(slope, 90)) if slope.size else 0.0
    return float(np.clip(round(0.5 / steep) if steep > 0 else 1, 1, 8))


def shade_relief(elev_m: NDArray[np.float32], cell_m: float, *, exaggeration: float) -> NDArray[np.float32]:
    """Shade ground softly from four sides of the north-west half of the sky.

    Parameters
    ----------
    elev_m
        Ground, 2-D float32 [m], NaN = no data.
    cell_m
        Cell size [m].
    exaggeration
        Times heights are stretched.

    Returns
    -------
    Light, float32 0-255, flat ground 214; NaN = no data.
    """
    if min(elev_m.shape) < 2:
        return np.where(np.isfinite(elev_m), 214, np.nan).astype(np.float32)
    south_rise, east_rise = np.gradient(elev_m.astype(np.float64) * exaggeration, cell_m)
    length = np.sqrt(1.0 + south_rise**2 + east_rise**2)
    altitude = np.deg2rad(_ALTITUDE_DEG)
    light = np.zeros(elev_m.shape, dtype=np.float64)
    for azimuth in np.deg2rad(_AZIMUTHS_DEG):
        east, north = np.sin(azimuth) * np.cos(altitude), np.cos(azimuth) * np.cos(altitude)
        light += np.clip((np.sin(altitude) - east * east_rise + north * south_rise) / length, 0.0, None)
    light = light / len(_AZIMUTHS_DEG) - np.sin(altitude)
    shade = np.clip(214.0 + 190.0 * light, 60.0, 252.0)
    # The gradient at a cell reads its neighbours alone, so a gap of one cell would vanish.
    return np.where(np.isnan(elev_m), np.nan, shade).astype(np.float32)


def relief_image(elev_m: NDArray[np.float32], grid: Grid) -> PageImage:
    """Picture of the shaded ground, lossy WebP, clear where there is no data."""
    shade = shade_relief(elev_m, grid.cell_m, exaggeration=exaggeration_of(elev_m, grid.cell_m))
    light, bounds = warp_to_page(shade, grid, is_smooth=True)
    known = np.isfinite(light)
    grey = np.where(known, np.clip(light, 0, 255), 214).astype(np.uint8)
    bands = np.dstack([grey, grey, grey, np.where(known, 255, 0).astype(np.uint8)])
    from PIL import Image

    return _as_page_image(Image.fromarray(bands), bounds, "webp", quality=72, method=4)


def depth_image(
    depth_m: NDArray[np.float32], grid: Grid, *, breaks_m: tuple[float, ...], colors: tuple[str, ...]
) -> PageImage:
    """Picture of water depth in classes, palette PNG, clear where dry.

    Parameters
    ----------
    depth_m
        Shape of the grid, float32 [m]; 0 or NaN = dry.
    grid
        Of `depth_m`.
    breaks_m
        Ascending limits between classes [m].
    colors
        `#rrggbb`, one more than there are limits.

    Raises
    ------
    OutputError
        Colours and limits do not fit.
    """
    if len(colors) != len(breaks_m) + 1 or list(breaks_m) != sorted(breaks_m):
        raise OutputError("Depth classes do not fit", got=f"{breaks_m} and {len(colors)} colours")
    # Classes before the warp: of several cells it takes the deepest, whose class is the highest.
    wet = np.where(depth_m > 0, np.digitize(depth_m, breaks_m) + 1, np.nan).astype(np.float32)
    warped, bounds = warp_to_page(wet, grid, is_smooth=False)
    classes = np.nan_to_num(warped).astype(np.uint8)
    from PIL import Image

    picture = Image.fromarray(classes)
    palette = [255, 255, 255] + [int(color[i : i + 2], 16) for color in colors for i in (1, 3, 5)]
    picture.putpalette(palette)
    return _as_page_image(picture, bounds, "png", transparency=0, optimize=True)


def _as_page_image(picture: Any, bounds: PageBounds, kind: str, **options: Any) -> PageImage:
    buffer = io.BytesIO()
    picture.save(buffer, format=kind, **options)
    url = f"data:image/{kind};base64,{base64.b64encode(buffer.getvalue()).decode('ascii')}"
    return PageImage(url=url, bounds=bounds, width_px=picture.width, height_px=picture.height)
