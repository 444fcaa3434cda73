"""The only import of whitebox-workflows: open tools, arrays in, arrays out."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

from screening.models import F32

_NODATA = -9999.0


def breach_least_cost(elev_m: F32, *, cell_m: float, length_max_m: float, cost_max_m: float) -> F32:
    """Cut the cheapest channels that let low spots drain, and leave what would cost more.

    Parameters
    ----------
    elev_m
        float32 (n_rows, n_cols) [m], NaN = no data.
    cell_m
        Cell size [m].
    length_max_m
        Longest channel that is looked for [m].
    cost_max_m
        Largest cost of a channel: the depths cut along it, added up over its cells [m].

    Returns
    -------
    Elevation with the channels cut, float32 [m]; nothing is raised or filled.

    References
    ----------
    Lindsay & Dhun 2015, doi 10.1080/13658816.2014.975715.
    """
    import rasterio
    import whitebox_workflows
    from affine import Affine

    known = ~np.isnan(elev_m)
    with tempfile.TemporaryDirectory() as folder:
        # A plain uncompressed file: the library's reader takes float predictors for values.
        path = Path(folder) / "elevation.tif"
        shape = {"height": elev_m.shape[0], "width": elev_m.shape[1], "count": 1, "dtype": "float32"}
        transform = Affine(cell_m, 0.0, 0.0, 0.0, -cell_m, elev_m.shape[0] * cell_m)
        with rasterio.open(
            path, "w", driver="GTiff", nodata=_NODATA, crs="EPSG:32631", transform=transform, **shape
        ) as raster:
            raster.write(np.where(known, elev_m, np.float32(_NODATA)), 1)
        environment = whitebox_workflows.WbEnvironment()
        breached = environment.hydrology.breach_depressions_least_cost(
            dem=environment.read_raster(str(path)),
            max_cost=cost_max_m,
            max_dist=max(int(length_max_m / cell_m), 1),
            fill_deps=False,
            minimize_dist=False,
        )
        cut = np.asarray(breached.to_numpy()).astype(np.float32)
    return np.where(known, np.minimum(cut, elev_m), np.float32(np.nan)).astype(np.float32)
