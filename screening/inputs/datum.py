"""Whether places can be brought from one datum to another without an unknown shift."""

from __future__ import annotations

import functools
import warnings
from typing import TYPE_CHECKING, Any

from screening.errors import InputError

if TYPE_CHECKING:
    from pyproj import CRS
    from pyproj.aoi import AreaOfInterest


@functools.lru_cache(maxsize=64)
def datum_taken(source_crs: str, target_crs: str, *, subject: str) -> tuple[str, str] | None:
    """Name the two datums where one is taken as the other, a metre or two off; None if their shift is known.

    Parameters
    ----------
    source_crs, target_crs
        Codes or WKT.
    subject
        What is brought over, for messages.

    Raises
    ------
    InputError
        The datums are of different families and the shift between them needs a grid that is not installed: places
        would be off by tens of metres without a sign.
    """
    from pyproj import CRS
    from pyproj.transformer import TransformerGroup

    source, target = CRS.from_user_input(source_crs), CRS.from_user_input(target_crs)
    place: Any = _place_in(target)
    with warnings.catch_warnings():
        # That a finer grid exists is no news here: only a shift that is wholly unknown is.
        warnings.simplefilter("ignore")
        found = TransformerGroup(source, target, always_xy=True, area_of_interest=place).transformers
    if found and "Ballpark" not in found[0].description:
        return None
    names = [str(crs.geodetic_crs.name) if crs.geodetic_crs is not None else crs.name for crs in (source, target)]
    if names[0].partition("(")[0] == names[1].partition("(")[0]:
        return names[0], names[1]
    raise InputError(
        f"The {subject} is on a datum whose shift to that of the elevation is not known here",
        got=f"{names[0]}, elevation on {names[1]}",
        expected="the datum of the elevation raster, or WGS 84",
        mend="reproject it with a tool that has the shift grids of these datums",
    )


def _place_in(crs: CRS) -> AreaOfInterest | None:
    """Pick a place that a CRS is made for, since shifts differ from place to place."""
    from pyproj.aoi import AreaOfInterest

    area = crs.area_of_use
    if area is not None:
        lon, lat = (area.west + area.east) / 2, (area.south + area.north) / 2
        return AreaOfInterest(lon, lat, lon, lat)
    parameters = crs.coordinate_operation.params if crs.coordinate_operation is not None else []
    origin = {part.name.split()[0]: float(part.value) for part in parameters if "origin" in part.name}
    if not {"Latitude", "Longitude"} <= set(origin):
        return None
    return AreaOfInterest(origin["Longitude"], origin["Latitude"], origin["Longitude"], origin["Latitude"])
