"""Ways from one coordinate reference system to another, each found once: to find it takes longer than to go it."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pyproj import Transformer


@lru_cache(maxsize=64)
def transformer_between(source: Any, target: Any) -> Transformer:
    """Give the transformer from one CRS to another, x before y and longitude before latitude.

    Parameters
    ----------
    source, target
        Authority codes, WKT, or CRS of pyproj.
    """
    from pyproj import Transformer

    return Transformer.from_crs(source, target, always_xy=True)


def degrees_of(crs: Any) -> Transformer:
    """Give the transformer to longitude and latitude on WGS 84."""
    return transformer_between(crs, "EPSG:4326")
