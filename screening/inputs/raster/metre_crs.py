"""Which metre CRS a raster is screened in: its own, the same projection in metres, or the local UTM zone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from screening.errors import InputError
from screening.models import Note, note
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject

if TYPE_CHECKING:
    from pyproj import CRS

SCALE_TOLERANCE = 0.02
"""Largest departure of the map scale from 1 that is taken as metres on the ground."""
UTM_TOLERANCE = 0.01
"""The same, for rasters that are reprojected to one UTM zone."""
_SAME_POINT_M = 0.001


@dataclass(frozen=True)
class MetreCrs:
    """A metre CRS and the way coordinates reach it.

    Parameters
    ----------
    crs
        Authority code, or WKT where there is none.
    unit_m
        Metres per unit of the source coordinates, which is all that changes; 0 if they are reprojected.
    change
        What was done; None if nothing was.
    """

    crs: str
    unit_m: float
    change: Note | None


def horizontal_crs(crs: CRS) -> CRS:
    """Strip the vertical part and the datum shift of a CRS."""
    if crs.is_bound and crs.source_crs is not None:
        crs = crs.source_crs
    if crs.is_compound:
        crs = horizontal_crs(crs.sub_crs_list[0])
    return crs.to_2d() if len(crs.axis_info) == 3 and not crs.is_geocentric else crs


def vertical_unit_of(crs: CRS) -> str:
    """Name the unit of the vertical axis of a compound or 3-D CRS; empty if it has none."""
    parts = crs.sub_crs_list if crs.is_compound else [crs]
    for part in parts:
        for axis in part.axis_info:
            if axis.direction.lower() in ("up", "down"):
                return str(axis.unit_name)
    return ""


def crs_name(crs: str) -> str:
    """Name a CRS for a reader."""
    from pyproj import CRS

    known = CRS.from_user_input(crs)
    return f"{known.name} ({crs})" if len(crs) < 20 else str(known.name)


def choose_metre_crs(crs: CRS, *, centre_x: float, centre_y: float, subject: str) -> MetreCrs:
    """Choose the metre CRS for a raster, keeping its cells wherever its projection is sound.

    Parameters
    ----------
    crs
        Horizontal CRS of the raster.
    centre_x, centre_y
        Centre of the raster [unit of the CRS].
    subject
        What the raster is called in messages.

    Raises
    ------
    InputError
        The CRS has no relation to places on the earth.
    """
    if not (crs.is_geographic or crs.is_projected):
        raise InputError(
            f"{subject} has a coordinate reference system that is neither geographic nor projected",
            got=str(crs.name),
            expected="a projected or geographic CRS",
            mend="reproject it, or assign the CRS it is really in with a raster tool",
        )
    if crs.is_geographic:
        return _utm(crs, centre_x, centre_y, subject, _converted(NoteCode.DEGREES_RESAMPLED))
    factor = float(crs.axis_info[0].unit_conversion_factor)
    in_metres = crs if factor == 1.0 else _with_metre_unit(crs)
    scale = _scale_at(in_metres, centre_x * factor, centre_y * factor)
    if "Pseudo Mercator" in str(crs.coordinate_operation) or abs(scale - 1.0) > SCALE_TOLERANCE:
        return _utm(crs, centre_x, centre_y, subject, _converted(NoteCode.SCALE_RESAMPLED, scale=scale))
    code = code_of(in_metres, x=centre_x * factor, y=centre_y * factor)
    if factor == 1.0:
        return MetreCrs(code, 1.0, None)
    unit = crs.axis_info[0].unit_name
    change = _converted(NoteCode.COORDINATES_MULTIPLIED, unit=unit, factor_m=factor)
    return MetreCrs(code, factor, change(crs=crs_name(code)))


def bring_onto(metre: MetreCrs, crs: str) -> MetreCrs:
    """Take the metre CRS of another raster in place of a raster's own."""
    from pyproj import CRS

    if metre.crs == crs or CRS.from_user_input(metre.crs) == CRS.from_user_input(crs):
        return MetreCrs(crs, metre.unit_m, metre.change)
    return MetreCrs(crs, 0.0, _converted(NoteCode.RESAMPLED_ONTO)(crs=crs_name(crs)))


def code_of(crs: CRS, *, x: float, y: float) -> str:
    """Give the authority code of a CRS if the code puts a place within 1 mm of the CRS, else its WKT."""
    from pyproj import CRS, Transformer

    epsg = crs.to_epsg(min_confidence=70)
    if epsg is not None:
        x_of_code, y_of_code = Transformer.from_crs(crs, CRS.from_epsg(epsg), always_xy=True).transform(x, y)
        if abs(x_of_code - x) < _SAME_POINT_M and abs(y_of_code - y) < _SAME_POINT_M:
            return f"EPSG:{epsg}"
    return str(crs.to_wkt())


def check_scale(crs: CRS, metre_crs: str, corners: list[tuple[float, float]], *, subject: str) -> None:
    """Refuse a raster that reaches too far from the UTM zone of its centre for true distances.

    Raises
    ------
    InputError
        The map scale at a corner departs from 1 by more than `UTM_TOLERANCE`.
    """
    from pyproj import CRS, Proj, Transformer

    projection, geodetic = Proj(CRS.from_user_input(metre_crs)), crs.geodetic_crs
    assert geodetic is not None  # a projected or geographic CRS has one
    to_degrees = Transformer.from_crs(crs, geodetic, always_xy=True)
    for corner in corners:
        lon, lat = to_degrees.transform(*corner)
        scale = float(projection.get_factors(lon, lat).meridional_scale)
        if not abs(scale - 1.0) <= UTM_TOLERANCE:
            raise InputError(
                f"{subject} spans too many degrees to be brought to one metre grid",
                got=f"a map scale of {scale:.3f} at {lat:.2f}, {lon:.2f} in {crs_name(metre_crs)}",
                expected=f"within {UTM_TOLERANCE:.0%} of 1",
                mend="cut it to the surroundings of the lots",
            )


def _with_metre_unit(crs: CRS) -> CRS:
    """Keep the projection and change its linear unit to metres: coordinates are only multiplied."""
    from pyproj import CRS

    parts: dict[str, Any] = crs.to_json_dict()
    for axis in parts["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    for parameter in parts["conversion"]["parameters"]:
        unit = parameter["unit"]
        if isinstance(unit, dict) and unit.get("type") == "LinearUnit":
            parameter["value"] *= unit["conversion_factor"]
            parameter["unit"] = "metre"
    for part, keys in ((parts, ("id",)), (parts["conversion"], ("id",))):
        for key in keys:
            part.pop(key, None)
    parts["name"] += " in metres"
    parts["conversion"]["name"] = "unnamed"
    return CRS.from_json_dict(parts)


def _scale_at(crs: CRS, x: float, y: float) -> float:
    from pyproj import Proj

    projection = Proj(crs)
    factors = projection.get_factors(*projection(x, y, inverse=True))
    scales = (float(factors.meridional_scale), float(factors.parallel_scale))
    return max(scales, key=lambda scale: abs(scale - 1.0))


def _converted(code: NoteCode, **values: object) -> partial[Note]:
    """A note that waits for the name of the CRS that was chosen."""
    return partial(note, NoteKind.CONVERTED, NoteSubject.ELEVATION, code, **values)


def _utm(crs: CRS, x: float, y: float, subject: str, change: partial[Note]) -> MetreCrs:
    """Take the UTM zone on the datum of the source, so that no datum shift comes in; else on WGS 84."""
    from pyproj import Transformer
    from pyproj.aoi import AreaOfInterest
    from pyproj.database import query_utm_crs_info

    geodetic = crs.geodetic_crs
    lon, lat = x, y
    if geodetic is not None and not crs.is_geographic:
        lon, lat = Transformer.from_crs(crs, geodetic, always_xy=True).transform(x, y)
    if abs(lat) <= 84.0:
        lon = (lon + 180.0) % 360.0 - 180.0
        place = AreaOfInterest(lon, lat, lon, lat)
        for datum in (str(geodetic.name) if geodetic is not None else "WGS 84", "WGS 84"):
            found = query_utm_crs_info(datum_name=datum, area_of_interest=place, contains=True)
            if found:
                code = f"{found[0].auth_name}:{found[0].code}"
                return MetreCrs(code, 0.0, change(crs=crs_name(code)))
    raise InputError(
        f"{subject} lies where no UTM zone is defined",
        got=f"latitude {lat:.3f}, longitude {lon:.3f}",
        expected="a raster between 80 S and 84 N",
        mend="reproject the raster to a local metre CRS first",
    )
