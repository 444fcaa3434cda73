"""Where the inputs of a screening came from, and what was decided about them, as `result.json` keeps it."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

from screening.models import Block

if TYPE_CHECKING:
    from screening.inputs import Site

_FILES = ("elevation", "lots", "impervious", "land_cover", "context_elevation")
"""Inputs beside the layers."""


def provenance_of(site: Site, block: Block) -> dict[str, Any]:
    """Names of the files, not their folders: a result handed on says nothing of the machine it was made on."""
    from screening.inputs import LAYERS, content_hash, crs_name

    request, elevation, files, hashes = site.request, site.elevation, {}, {}
    for spec in dataclasses.fields(request):
        value = getattr(request, spec.name)
        if value and spec.name in (*LAYERS, *_FILES):
            files[spec.name] = Path(str(value)).name
            hashes[spec.name] = content_hash(value)
    decisions = {
        "crs_of_the_elevation": crs_name(elevation.source_crs),
        "crs_screened_in": crs_name(block.grid.crs),
        "cells": "resampled" if elevation.is_resampled else "as in the file",
        "vertical_unit": elevation.vertical_unit,
        "stored_numbers": f"x {elevation.cells.scale:g} + {elevation.cells.offset:g}",
        "lots": ", ".join(request.lot_ids) or "all of the layer, or the one at the place",
    }
    grid = block.grid
    return {"files": files, "sha256": hashes, "decisions": decisions, "crs": grid.crs, "cell_m": grid.cell_m}
