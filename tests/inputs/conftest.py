from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.inputs.files import terrain, write_raster
from tests.places import ROOT


@pytest.fixture
def raster(tmp_path: Path) -> Path:
    """The small terrain as a plain metre GeoTIFF."""
    return write_raster(tmp_path / "ground.tif", terrain())


@pytest.fixture(scope="session")
def data_dir() -> Path:
    """Folder of the real data set."""
    given = os.environ.get("SCREENING_DATA")
    folder = Path(given) if given else ROOT.parent / "shared" / "data"
    if not folder.is_dir():
        pytest.skip("the real data set is not here: set SCREENING_DATA")
    return folder
