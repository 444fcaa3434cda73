"""Maps, tables and plain text from a finished screening; reads `BlockResult` and nothing else.

Importing this package is light: folium, geopandas and rasterio load when something is built.
"""

from __future__ import annotations

from screening.report.cautions import CAUTIONS, TAGLINE
from screening.report.map.notebook import map_iframe
from screening.report.map.page import build_map
from screening.report.outputs import write_outputs
from screening.report.tables.rasters import write_rasters
from screening.report.terminal import summarize
from screening.report.words import lots_told

__all__ = ["CAUTIONS", "TAGLINE", "build_map", "lots_told", "map_iframe", "summarize", "write_outputs", "write_rasters"]
