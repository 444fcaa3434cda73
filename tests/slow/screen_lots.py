"""Screen lots of one raster one after another, and print what each found and the peak memory after it.

python -m tests.slow.screen_lots ELEVATION LOTS LOT_ID...
"""

import json
import sys
from pathlib import Path

from screening.models import Rain, SiteRequest
from screening.site.screen import screen_site
from tests.benchmarks.chains import memory_bytes


def screen(elevation, lots, lot_id):
    """Findings of one lot as plain values, without what says where the window ends."""
    request = SiteRequest(elevation=Path(elevation), lots=str(lots), lot_ids=(lot_id,))
    result = screen_site(request, rain=Rain(depth_mm=75.0, label="75 mm", source="test")).result
    summary = result.summary.drop(columns="geometry").iloc[0].to_dict()
    spots = result.depressions.table
    own = spots[spots["lot_id"] == lot_id].sort_values("volume_m3")
    return {
        "summary": {key: value if isinstance(value, str) else float(value) for key, value in summary.items()},
        "low_spot_volumes_m3": [round(value, 6) for value in own["volume_m3"]],
        "cells": result.block.elev_m.size,
    }


if __name__ == "__main__":
    for lot_id in sys.argv[3:]:
        found = screen(sys.argv[1], sys.argv[2], lot_id)
        print(json.dumps({**found, "peak_bytes": memory_bytes("VmHWM")}), flush=True)
