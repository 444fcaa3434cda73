from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from screening.inputs import Inspected, inspect_inputs, inspect_rasters
from screening.models import SiteRequest
from screening.report.inspection import defect_lines
from screening.schema.codes.notes import NoteCode
from tests.inputs.files import NORTH, WEST, square, terrain, write_layer, write_raster


def _look(folder: Path, **request: Any) -> tuple[dict[str, Inspected], bool, str]:
    request.setdefault("elevation", folder / "ground.tif")
    rainfall = request.pop("rainfall", None)
    found = inspect_inputs(SiteRequest(**request), rainfall=rainfall)
    return {item.subject: item for item in found.items}, found.can_run, found.why_not


@pytest.fixture
def ground(tmp_path: Path) -> Path:
    pixels = terrain(20, 30)
    pixels[:2, :3] = -9999
    write_raster(tmp_path / "ground.tif", pixels, nodata=-9999)
    return tmp_path


def test_good_inputs(ground: Path) -> None:
    lots = write_layer(ground / "lots.gpkg", [square(1, 1), square(900, 0)], apn=["a", "b"])
    soils = write_layer(ground / "soils.gpkg", [square(0, 0, 40)], hydgrp=["B/D"])
    items, can_run, why_not = _look(ground, lots=lots, soils=soils)
    assert (can_run, why_not) == (True, "")
    facts = items["elevation"].facts
    assert facts["size"] == "20 rows x 30 columns"
    assert facts["no data"] == "1.00 %"
    assert facts["vertical unit"] == "m"
    assert facts["cell size"].startswith("1.000 m")
    assert items["lots"].facts["ids from"] == "apn"
    assert items["lots"].facts["on the elevation raster"] == "1 of 2"
    assert items["lots"].facts["lots to screen"] == "1 (a)"
    assert items["soils"].facts["hsg"] == "B/D 1"
    assert items["soils"].facts["groups from"] == "hydgrp"
    assert all(item.ok and not item.errors and not item.notes for item in items.values())


def test_defects_are_counted(ground: Path) -> None:
    x, y = WEST + 10, NORTH - 10
    bow_tie = shapely.Polygon([(x, y), (x + 4, y + 4), (x + 4, y), (x, y + 4)])
    lots = write_layer(ground / "lots.gpkg", [square(1, 1), bow_tie, None, square(20, 1)], pin=["a", "a", "c", None])
    items, can_run, _ = _look(ground, lots=lots, structures=write_layer(ground / "s.gpkg", [square(900, 900)]))
    codes = {note.code: dict(note.values) for note in items["lots"].notes}
    assert codes[NoteCode.GEOMETRIES_REPAIRED]["n_features"] == codes[NoteCode.WITHOUT_GEOMETRY]["n_features"] == 1
    assert codes[NoteCode.LOT_IDS_REPEATED]["ids"] == "a" and codes[NoteCode.LOT_IDS_MISSING]["n_lots"] == 1
    assert items["lots"].ok
    assert NoteCode.NOT_ON_RASTER in [note.code for note in items["structures"].notes]
    assert can_run


def test_every_bad_input_is_a_defect_and_nothing_is_raised(ground: Path) -> None:
    (ground / "bad.gpkg").write_bytes(b"SQLite format 3\0" + b"\0" * 200)
    (ground / "rain.csv").write_text("nothing")
    items, can_run, why_not = _look(
        ground,
        elevation=write_raster(ground / "no_unit.tif", terrain(), unit=None),
        lots=str(ground / "absent.gpkg"),
        structures=str(ground / "bad.gpkg"),
        drains=write_layer(ground / "d.gpkg", [square(1, 1)]),
        rainfall=ground / "rain.csv",
    )
    assert not can_run
    assert [name for name, item in items.items() if not item.ok] == ["elevation", "lots", "structures", "rainfall"]
    assert "--vertical-unit" in items["elevation"].errors[0]
    assert items["elevation"].facts["size"] == "9 rows x 14 columns"
    assert items["drains"].facts["geometries checked"] == "no: no usable elevation"
    for word in ("elevation:", "lots:", "structures:", "rainfall:"):
        assert word in why_not


def test_a_rainfall_table_is_described(ground: Path) -> None:
    text = (
        "Point precipitation frequency estimates (millimeters)\nTime series type: Annual maximum\n"
        "by duration for AEP:, '1/2,'1/10\n60-min:, 30,45\n24-hr:, 70,110\n"
    )
    (ground / "rain.csv").write_text(text)
    items, _, _ = _look(ground, elevation=ground / "absent.tif", rainfall=ground / "rain.csv")
    facts = items["rainfall"].facts
    assert items["rainfall"].ok
    assert (facts["series"], facts["24 hours"]) == ("annual maximum", "2 yr 70 mm, 10 yr 110 mm")
    assert [note.code for note in items["rainfall"].notes] == [NoteCode.TABLE_OF_MAXIMA]


def test_a_raster_that_is_not_there_or_empty(ground: Path) -> None:
    items, can_run, _ = _look(ground, elevation=ground / "absent.tif")
    assert (can_run, len(defect_lines(items["elevation"]))) == (False, 1)
    empty = write_raster(ground / "empty.tif", np.full((5, 7), -9999, dtype=np.float32), nodata=-9999)
    items, can_run, why_not = _look(ground, elevation=empty, lots=write_layer(ground / "l.gpkg", [square(1, 1)]))
    assert (can_run, items["elevation"].ok) == (False, False)
    assert "holds no elevation" in why_not


def test_lots_that_cannot_be_chosen_stop_the_run(ground: Path) -> None:
    assert "nothing to screen" in _look(ground)[2]
    lots = write_layer(ground / "lots.gpkg", [square(1, 1)], pin=["a"])
    items, can_run, why_not = _look(ground, lots=lots, lot_ids=("b",))
    assert (can_run, items["lots"].facts["ids from"]) == (False, "pin")
    assert "no lot 'b'" in why_not


def test_wrong_geometry_kind_is_found(ground: Path) -> None:
    lots = write_layer(ground / "lots.gpkg", [square(1, 1)], pin=["a"])
    dots = write_layer(ground / "dots.gpkg", [shapely.Point(WEST, NORTH)])
    items, can_run, _ = _look(ground, lots=lots, septic=dots)
    assert (can_run, items["septic"].ok) == (False, False)


def test_importing_the_inputs_imports_no_heavy_library() -> None:
    heavy = ("rasterio", "geopandas", "pandas", "pyproj", "pyogrio", "shapely", "scipy")
    code = f"import sys, screening.inputs; print([name for name in {heavy} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_raster_larger_than_memory_is_looked_at_in_windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inspect_rasters, "MAX_CELLS", 100)
    monkeypatch.setattr(inspect_rasters, "_LOOK_WINDOW", 3)
    pixels = terrain(20, 30)
    write_raster(tmp_path / "ground.tif", pixels, nodata=-9999)
    items, can_run, _ = _look(tmp_path, at=None, lots=write_layer(tmp_path / "lots.gpkg", [square(1, 1)], apn=["a"]))
    sampled = f" (of {inspect_rasters._LOOK_WINDOWS**2} windows of 3 x 3 cells)"
    assert items["elevation"].facts["no data"] == f"0.00 %{sampled}" and can_run
    lowest, highest = (float(part.split()[0]) for part in items["elevation"].facts["elevation"].split(" to "))
    assert pixels.min() - 0.01 <= lowest < highest <= pixels.max() + 0.01
    write_raster(tmp_path / "ground.tif", np.full_like(pixels, -9999), nodata=-9999)
    items, _, _ = _look(tmp_path, lots=str(tmp_path / "lots.gpkg"))
    said = [note.value("sampled") for note in items["elevation"].notes if note.code is NoteCode.NOTHING_LOOKED_AT]
    assert said == [sampled]
