from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, Point

from screening.inputs.vector.barriers import load_barriers, load_downspouts
from screening.report.words.notes import note_words
from tests.inputs.files import NORTH, UTM, WEST, write_layer

BOUNDS = (WEST, NORTH - 40, WEST + 40, NORTH)

LINE = LineString([BOUNDS[:2], BOUNDS[2:]])


@pytest.mark.parametrize(
    ("column", "value"), [("height_m", 0.3048), ("height_ft", 1.0), ("HEIGHT_IN", 12.0), ("height_cm", 30.48)]
)
def test_heights_in_the_unit_of_their_column(tmp_path: Path, column: str, value: float) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [LINE], barrier_id=["W"], kind=["Wall"], **{column: [value]})
    frame, notes = load_barriers(spec, crs=UTM, bounds=BOUNDS)
    assert frame.barrier_id.tolist() == ["W"] and frame.kind.tolist() == ["wall"]
    # 1 ft = 0.3048 m and 1 in = 25.4 mm exactly (NIST SP 811, appendix B).
    np.testing.assert_allclose(frame.height_m, [0.3048])
    assert notes == ()


def test_a_kerb_may_leave_its_height_to_the_criteria_and_a_wall_must_state_its_own(tmp_path: Path) -> None:
    spec = write_layer(
        tmp_path / "a.gpkg", [LINE] * 4, kind=["curb", "wall", "curb", "berm"], height_m=[None, None, 0.2, -1.0]
    )
    frame, notes = load_barriers(spec, crs=UTM, bounds=BOUNDS)
    np.testing.assert_allclose(frame.height_m, [np.nan, np.nan, 0.2, np.nan])
    assert frame.kind.tolist() == ["curb", "wall", "curb", "berm"]
    text = " ".join(note_words(note) for note in notes)
    assert "B-2, B-4 cannot be raised" in text


def test_downspouts_with_and_without_their_structure(tmp_path: Path) -> None:
    at = Point(BOUNDS[0] + 1, BOUNDS[1] + 1)
    spec = write_layer(tmp_path / "a.gpkg", [at, at], downspout_id=["D1", "D2"], structure_id=["H-1", None])
    frame, _ = load_downspouts(spec, crs=UTM, bounds=BOUNDS)
    assert frame.downspout_id.tolist() == ["D1", "D2"]
    assert frame.structure_id.tolist() == ["H-1", ""]


def test_a_layer_of_the_wrong_shape_is_refused(tmp_path: Path) -> None:
    spec = write_layer(tmp_path / "a.gpkg", [Point(BOUNDS[0] + 1, BOUNDS[1] + 1)], height_m=[1.0])
    with pytest.raises(Exception, match="barriers"):
        load_barriers(spec, crs=UTM, bounds=BOUNDS)
