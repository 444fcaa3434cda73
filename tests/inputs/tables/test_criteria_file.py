from __future__ import annotations

from pathlib import Path

import pytest

from screening.errors import CriteriaError, InputError
from screening.inputs import read_criteria
from screening.schema.criteria import Criteria


def _write(folder: Path, text: str) -> Path:
    path = folder / "county.toml"
    path.write_text(text)
    return path


def test_flat_and_in_tables(tmp_path: Path) -> None:
    flat = read_criteria(_write(tmp_path, "setback_well_m = 15\nnodata_drains = false\n"))
    grouped = read_criteria(_write(tmp_path, "[setbacks]\nsetback_well_m = 15\n[ground]\nnodata_drains = false\n"))
    assert flat == grouped == Criteria.of(profile="county", setback_well_m=15.0, nodata_drains=False)


def test_lists_and_profile(tmp_path: Path) -> None:
    criteria = read_criteria(_write(tmp_path, 'profile = "strict"\ninfiltration_groups = ["A"]\n'))
    assert (criteria.profile, criteria.capture.infiltration_groups) == ("strict", ("A",))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("setback_wel_m = 15", "does not exist"),
        ("setback_well_m = -1", "outside its range"),
        ('setback_well_m = "far"', "wrong kind"),
        ("[a]\nsetback_well_m = 1\n[b]\nsetback_well_m = 2", "stands twice"),
    ],
)
def test_bad_thresholds_are_refused(tmp_path: Path, text: str, why: str) -> None:
    with pytest.raises(CriteriaError, match=why):
        read_criteria(_write(tmp_path, text))


def test_bad_files_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not there"):
        read_criteria(tmp_path / "absent.toml")
    with pytest.raises(InputError, match=r"not TOML.*line 1"):
        read_criteria(_write(tmp_path, "setback_well_m == 15"))


def test_a_profile_beside_the_file(tmp_path: Path) -> None:
    path = _write(tmp_path, "setback_well_m = 15\n")
    criteria = read_criteria(path, profile="new-jersey-2016")
    assert (criteria.profile, criteria.storage.drawdown_max_h, criteria.capture.setback_well_m) == (
        "new-jersey-2016",
        72.0,
        15.0,
    )
    named = _write(tmp_path, 'profile = "minnesota"\n')
    assert read_criteria(named, profile="minnesota") == read_criteria(named)
    with pytest.raises(CriteriaError, match="Two profiles"):
        read_criteria(named, profile="new-jersey-2016")
    with pytest.raises(CriteriaError, match="use minnesota"):
        read_criteria(path, profile="minesota")


def test_the_name_of_a_file_does_not_choose_a_published_profile(tmp_path: Path) -> None:
    path = tmp_path / "new-jersey-2016.toml"
    path.write_text("setback_well_m = 15\n")
    assert read_criteria(path) == Criteria.of(profile="own new-jersey-2016", setback_well_m=15.0)
