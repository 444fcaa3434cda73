from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Point

from screening.inputs.vector.doors import load_doors
from screening.report.words.notes import note_words
from tests.inputs.files import NORTH, UTM, WEST, write_layer

BOUNDS = (WEST, NORTH - 40, WEST + 40, NORTH)
AT = Point(BOUNDS[0] + 1, BOUNDS[1] + 1)


@pytest.mark.parametrize(
    ("column", "value", "unit"),
    [("sill_elev_m", 30.48, "ft"), ("SILL_FT", 100.0, "m"), ("sill_elev", 100.0, "ft"), ("sill", 30.48, "m")],
)
def test_sills_in_the_unit_of_their_column_or_of_the_raster(
    tmp_path: Path, column: str, value: float, unit: str
) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [AT], door_id=["D"], kind=["Garage"], **{column: [value]})
    frame, notes = load_doors(spec, crs=UTM, bounds=BOUNDS, vertical_unit=unit)
    assert frame.door_id.tolist() == ["D"] and frame.kind.tolist() == ["garage"]
    # 100 ft = 30.48 m exactly (NIST SP 811, appendix B).
    np.testing.assert_allclose(frame.sill_elev_m, [30.48])
    assumed = [note_words(note) for note in notes if note.kind == "assumed"]
    assert assumed == (
        []
        if column.lower().endswith(("_m", "_ft"))
        else [f"{column} taken as {unit}, the unit of the elevation raster"]
    )


def test_what_is_not_said(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [AT, AT], kind=[None, "Window well"], structure_id=["H-1", None])
    frame, _ = load_doors(spec, crs=UTM, bounds=BOUNDS, vertical_unit="m")
    assert frame.kind.tolist() == ["door", "window well"]
    assert frame.structure_id.tolist() == ["H-1", ""]
    assert frame.door_id.is_unique
    assert np.isnan(frame.sill_elev_m).all()


def test_lines_are_no_doors(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [LineString([BOUNDS[:2], BOUNDS[2:]])], kind=["door"])
    with pytest.raises(Exception, match="doors"):
        load_doors(spec, crs=UTM, bounds=BOUNDS, vertical_unit="m")
