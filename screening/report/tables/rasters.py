"""Rasters of a screening as GeoTIFF: tiled, compressed, with units, descriptions and no-data tags."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from screening.flow.dispersive import dispersive_area_m2
from screening.models import BlockResult
from screening.schema.criteria import profile_words

TILE_CELLS = 512
COMPRESSION: dict[str, Any] = {"compress": "zstd", "zstd_level": 1, "num_threads": 2}
"""Fast rather than small: stronger settings on one thread cost more time than the screening."""
_NO_ELEVATION = -9999.0


@dataclass(frozen=True, kw_only=True)
class RasterOutput:
    """One raster of the outputs.

    Parameters
    ----------
    file_name
        In the output folder.
    unit
        SI unit of the values; empty if they have none.
    description
        What the values are, for the band.
    nodata
        Value that marks cells without one, as the file's tag says; None where every cell has a value.
    values
        Takes them from a result, in the type they are written in.
    codes
        Meaning of each code, or of each bit.
    """

    file_name: str
    unit: str
    description: str
    nodata: float | None
    values: Callable[[BlockResult], NDArray[Any]]
    codes: Callable[[], dict[str, int]] = dict


def _known_f32(result: BlockResult, values: NDArray[Any]) -> NDArray[np.float32]:
    """Set cells without elevation to the no-data value."""
    unknown = np.isnan(result.flow.filled_elev_m) | np.isnan(values)
    known: NDArray[np.float32] = np.where(unknown, np.float32(_NO_ELEVATION), values).astype(np.float32)
    return known


def _flow_directions(result: BlockResult) -> NDArray[np.uint8]:
    from screening.kernels.direction_codes import to_power_of_two

    return to_power_of_two(result.flow.flow_dir_d8)


def _direction_codes() -> dict[str, int]:
    compass = ("east", "south-east", "south", "south-west", "west", "north-west", "north", "north-east")
    return {"outlet": 0, **{name: 1 << bit for bit, name in enumerate(compass)}}


def _slope_pct(result: BlockResult) -> NDArray[np.float32]:
    return _known_f32(result, result.surface.slope_pct)


def _reason_bits() -> dict[str, int]:
    from screening.capture.rejections import REASONS

    return {"candidate": 0, **{str(reason): bit for reason, bit in REASONS.items()}}


RASTERS: dict[str, RasterOutput] = {
    "filled_elevation": RasterOutput(
        file_name="filled_elevation.tif",
        unit="m",
        description="Elevation as routed, structures standing, filled to where it spills",
        nodata=_NO_ELEVATION,
        values=lambda result: _known_f32(result, result.flow.filled_elev_m),
    ),
    "flow_direction": RasterOutput(
        file_name="flow_direction.tif",
        unit="",
        description="Steepest descent: powers of two from 1 = east clockwise to 128 = north-east, "
        "0 = outlet, or inlet of a pipe or downspout",
        nodata=255,
        values=_flow_directions,
        codes=_direction_codes,
    ),
    "contributing_area": RasterOutput(
        file_name="contributing_area.tif",
        unit="m2",
        description="Ground that drains through each cell by steepest descent, itself included",
        nodata=_NO_ELEVATION,
        values=lambda result: _known_f32(result, result.flow.contributing_area_m2),
    ),
    "dispersive_area": RasterOutput(
        file_name="dispersive_area.tif",
        unit="m2",
        description="Ground that drains through each cell, shared among all lower neighbours",
        nodata=_NO_ELEVATION,
        values=lambda result: _known_f32(result, dispersive_area_m2(result.flow)),
    ),
    "low_spot_depth": RasterOutput(
        file_name="low_spot_depth.tif",
        unit="m",
        description="Depth of low spots when full",
        nodata=_NO_ELEVATION,
        values=lambda result: _known_f32(result, result.depressions.depth_m),
    ),
    "standing_water": RasterOutput(
        file_name="standing_water.tif",
        unit="m",
        description="Depth of water that the storm leaves standing",
        nodata=_NO_ELEVATION,
        values=lambda result: _known_f32(result, result.ponding.water_depth_m),
    ),
    "slope": RasterOutput(
        file_name="slope.tif",
        unit="%",
        description="Slope of the ground (Horn)",
        nodata=_NO_ELEVATION,
        values=_slope_pct,
    ),
    "infiltration_reasons": RasterOutput(
        file_name="infiltration_reasons.tif",
        unit="",
        description="Bits of why a cell is no candidate for infiltration, 0 = candidate",
        nodata=None,
        values=lambda result: result.zones.reasons,
        codes=_reason_bits,
    ),
}
"""The rasters by the keys of the outputs."""


def write_raster(result: BlockResult, name: str, path: Path) -> None:
    """Write one raster.

    Parameters
    ----------
    result
        What was found.
    name
        Key of `RASTERS`.
    path
        Of the file.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    import rasterio
    from rasterio.errors import RasterioError

    output, grid = RASTERS[name], result.block.grid
    values = output.values(result)
    profile = {
        "driver": "GTiff",
        "height": grid.n_rows,
        "width": grid.n_cols,
        "count": 1,
        "dtype": values.dtype.name,
        "crs": grid.crs,
        "transform": grid.transform,
        "nodata": output.nodata,
        "tiled": True,
        "blockxsize": TILE_CELLS,
        "blockysize": TILE_CELLS,
        "predictor": 3 if values.dtype.kind == "f" else 1,
        "bigtiff": "if_safer",
        **COMPRESSION,
    }
    try:
        with rasterio.open(path, "w", **profile) as raster:
            raster.write(values, 1)
            raster.units = (output.unit,)
            raster.descriptions = (output.description,)
            raster.update_tags(thresholds=profile_words(result.criteria))
            raster.update_tags(1, **{f"code_{code}": meaning for meaning, code in output.codes().items()})
    except RasterioError as error:
        raise OSError(f"{path.name}: {error}") from error


def write_rasters(result: BlockResult, out_dir: Path | str) -> dict[str, Path]:
    """Write all rasters of a result: made beside their places, and moved there when every one is whole.

    Parameters
    ----------
    result
        What was found.
    out_dir
        Folder; made if it is not there. Files of the same names in it are replaced.

    Returns
    -------
    Paths by the keys of `RASTERS`.

    Raises
    ------
    OutputError
        The folder or a file cannot be written; nothing half written is left.
    """
    from screening.report.outputs import make_folder, write_all

    return write_all(make_folder(Path(out_dir)), raster_writers(result))


def raster_writers(result: BlockResult) -> dict[str, tuple[str, Callable[[Path], None]]]:
    """File name and writer of each raster, as `outputs.write_all` takes them."""
    return {
        name: (output.file_name, lambda path, name=name: write_raster(result, name, path))  # type: ignore[misc]
        for name, output in RASTERS.items()
    }
