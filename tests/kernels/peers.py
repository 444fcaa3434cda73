"""Another program at hand, given arrays."""

import numpy as np
import rasterio
from affine import Affine


class WhiteboxPeer:
    """An environment of whitebox-workflows with one elevation array in its memory.

    A plain uncompressed file gives it the georeferencing; its reader misreads float predictors.
    """

    def __init__(self, elev, folder, nodata=-9999.0):
        import whitebox_workflows

        path = folder / "grid.tif"
        profile = {"driver": "GTiff", "count": 1, "dtype": "float32", "nodata": nodata, "crs": "EPSG:32614"}
        transform = Affine(1, 0, 600_000, 0, -1, 3_300_000)
        with rasterio.open(
            path, "w", height=elev.shape[0], width=elev.shape[1], transform=transform, **profile
        ) as target:
            target.write(np.where(np.isnan(elev), np.float32(nodata), elev), 1)
        environment = whitebox_workflows.WbEnvironment()
        self.hydrology = environment.hydrology
        self.elev = environment.read_raster(str(path))
        assert np.array_equal(self.to_array(self.elev), np.where(np.isnan(elev), nodata, elev))

    @staticmethod
    def to_array(raster):
        """Values as float32."""
        return np.asarray(raster.to_numpy()).astype(np.float32)
