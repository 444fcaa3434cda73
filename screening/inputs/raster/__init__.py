"""Elevation and land cover as rasters: brought to metres on one grid, by window.

Others use the modules of `__all__`; the rest is theirs alone.
"""

__all__ = ["beyond", "cells", "elevation", "heights", "land_cover", "metre_crs", "windows"]
