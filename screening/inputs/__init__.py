"""Reading, checking and bringing to metres everything that a screening is given; what cannot be used is refused.

Other rooms use the names of `__all__` and no module inside.
"""

from __future__ import annotations

from screening.inputs.block import LAYERS, Site, load_block, open_layers, open_rasters, open_site
from screening.inputs.hashes import content_hash
from screening.inputs.inspect import Inspection, inspect_inputs
from screening.inputs.inspected import Inspected
from screening.inputs.raster.beyond import add_context_elevation
from screening.inputs.raster.elevation import ElevationSource, open_elevation
from screening.inputs.raster.metre_crs import crs_name
from screening.inputs.raster.windows import read_elevation
from screening.inputs.tables.criteria_file import read_criteria
from screening.inputs.tables.rainfall import read_rainfall
from screening.inputs.vector.improvements import read_improvements
from screening.inputs.vector.layers import read_layer, split_layer
from screening.inputs.vector.lots import load_lots
from screening.inputs.vector.roster import Roster, read_roster

__all__ = [
    "LAYERS",
    "ElevationSource",
    "Inspected",
    "Inspection",
    "Roster",
    "Site",
    "add_context_elevation",
    "content_hash",
    "crs_name",
    "inspect_inputs",
    "load_block",
    "load_lots",
    "open_elevation",
    "open_layers",
    "open_rasters",
    "open_site",
    "read_criteria",
    "read_elevation",
    "read_improvements",
    "read_layer",
    "read_rainfall",
    "read_roster",
    "split_layer",
]
