"""The command with faults put into it: small blocks, lots that kill their worker, chunks that take long, a full disk.

python -m tests.slow.batch.driven batch ...; the faults are in the variable BATCH_FAULTS as JSON. Workers import this
module too, so they have the same faults.
"""

import json
import math
import os
import signal
import time

import geopandas as gpd

import screening.batch.blocks
import screening.site.screen

FAULTS = json.loads(os.environ["BATCH_FAULTS"])
whole_close_site, whole_to_parquet = screening.site.screen.close_site, gpd.GeoDataFrame.to_parquet
screening.batch.blocks.LOTS_MAX = FAULTS.get("lots_max", 4)


def close_site(site, **options):
    ids = set(site.lots["lot_id"])
    if ids & set(FAULTS.get("poison", [])):
        os.kill(os.getpid(), signal.SIGKILL)
    if ids & set(FAULTS.get("broken", [])):
        raise ZeroDivisionError("planted")
    time.sleep(FAULTS.get("seconds", 0.0))
    return whole_close_site(site, **options)


def to_parquet(self, path, **options):
    n_parts_max = FAULTS.get("full_disk", math.inf)
    if path.parent.name == "parts" and len(list(path.parent.glob("*.json"))) >= n_parts_max:
        raise OSError(28, "No space left on device")
    whole_to_parquet(self, path, **options)


screening.site.screen.close_site = close_site
gpd.GeoDataFrame.to_parquet = to_parquet

if __name__ == "__main__":
    from screening.commands.main import main

    main()
