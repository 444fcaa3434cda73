"""The command with faults put into it: small blocks, lots that kill their worker, chunks that take long, a full disk.

python -m tests.batch.driven batch ...; the faults are in the variable BATCH_FAULTS as JSON. Workers import this module
too, so they have the same faults.
"""

import json
import os
import signal
import time

import geopandas as gpd

import screening.batch.blocks
import screening.site

FAULTS = json.loads(os.environ["BATCH_FAULTS"])
whole_screen_lots, whole_to_parquet = screening.site.screen_lots, gpd.GeoDataFrame.to_parquet
screening.batch.blocks.LOTS_MAX = FAULTS.get("lots_max", 4)


def screen_lots(site, **options):
    ids = set(site.lots["lot_id"])
    if ids & set(FAULTS.get("poison", [])):
        os.kill(os.getpid(), signal.SIGKILL)
    if ids & set(FAULTS.get("broken", [])):
        raise ZeroDivisionError("planted")
    time.sleep(FAULTS.get("seconds", 0.0))
    return whole_screen_lots(site, **options)


def to_parquet(self, path, **options):
    if FAULTS.get("full_disk") and path.parent.name == "parts" and len(list(path.parent.glob("*.json"))) >= 2:
        raise OSError(28, "No space left on device")
    whole_to_parquet(self, path, **options)


screening.site.screen_lots = screen_lots
gpd.GeoDataFrame.to_parquet = to_parquet

if __name__ == "__main__":
    from screening.cli import main

    main()
