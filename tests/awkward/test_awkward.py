"""Every awkward input through the command line: the right answer, its limits said, or one error that helps.

Of the outputs the result alone is written here, which is what is judged; `tests/slow/awkward` writes them all.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from screening.report import outputs
from tests.awkward.ground import write_clean
from tests.awkward.improvements import IMPROVEMENTS
from tests.awkward.judging import DOUBTED, NOT_ASSESSED, REFUSED, RIGHT, SILENT, Case, answer_of, judge
from tests.awkward.layers import LAYERS
from tests.awkward.rasters import RASTERS
from tests.awkward.tables import TABLES
from tests.places import ROOT

CASES = [*RASTERS, *LAYERS, *TABLES, *IMPROVEMENTS]
CONTRIBUTORS = ROOT / "DEVELOPERS.md"

# Writing what is awkward on purpose makes the writers warn.
pytestmark = [
    pytest.mark.filterwarnings("ignore:.*'crs' was not provided:UserWarning"),
    pytest.mark.filterwarnings("ignore:The given matrix is equal to Affine.identity"),
    pytest.mark.filterwarnings("ignore:Dataset has no geotransform"),
]


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return write_clean(tmp_path_factory.mktemp("plain"))


@pytest.fixture(scope="module")
def answer(plain: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The lot's row with plain inputs, all outputs written."""
    return answer_of(plain, tmp_path_factory.mktemp("answer"))


@pytest.fixture
def result_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the outputs of a screening the result alone is written; the command is told of all of them."""
    whole = outputs.write_all

    def write_result(folder: Path, writers: dict[str, Any]) -> dict[str, Path]:
        whole(folder, {key: writer for key, writer in writers.items() if key == "result_json"} or writers)
        return {key: folder / name for key, (name, _) in writers.items()}

    monkeypatch.setattr(outputs, "write_all", write_result)


def test_names_are_told_apart() -> None:
    names = [(case.group, case.name) for case in CASES]
    assert len(set(names)) == len(names)


def test_the_plain_answer_is_what_the_ground_says(answer: dict[str, Any]) -> None:
    assert answer["area_m2"] == pytest.approx(1400.0)
    # The bowl alone is 1.5 m deep; on a floor that falls 4 % it holds about half of that.
    assert 0.6 < answer["low_spot_depth_max_m"] < 0.9
    assert answer["n_low_spots"] == answer["n_structures"] == 1


@pytest.mark.usefixtures("result_alone")
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.group}: {case.name}")
def test_no_input_fails_in_silence(case: Case, plain: dict[str, str], answer: dict[str, Any], tmp_path: Path) -> None:
    outcome = judge(case, tmp_path, plain, answer)
    assert outcome.judged == case.expected, f"{outcome.judged}: {outcome.why}\n{outcome.text}"


def test_the_table_for_contributors_is_up_to_date() -> None:
    """The table is made of what is expected; the test above holds each case to it."""
    assert table() in CONTRIBUTORS.read_text(encoding="utf-8")


def table() -> str:
    """Count the cases by group and by what comes of them."""
    kinds = (RIGHT, DOUBTED, NOT_ASSESSED, REFUSED, SILENT)
    heads = ("inputs", "tried", *kinds)
    rows = []
    for group in dict.fromkeys(case.group for case in CASES):
        of_group = [case.expected for case in CASES if case.group == group]
        rows.append((group, len(of_group), *(of_group.count(kind) for kind in kinds)))
    rows.append(("all", *(sum(row[place] for row in rows) for place in range(1, len(heads)))))  # type: ignore[misc, arg-type]
    lines = ["| " + " | ".join(map(str, row)) + " |" for row in (heads, ("---",) * len(heads), *rows)]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.stdout.write(table())
