"""The whole corpus of awkward inputs as a user meets it: every output is written, a brief too."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.awkward.ground import write_clean
from tests.awkward.judging import Case, answer_of, judge
from tests.awkward.test_awkward import CASES, pytestmark  # noqa: F401  (warnings of writers)


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return write_clean(tmp_path_factory.mktemp("plain"))


@pytest.fixture(scope="module")
def answer(plain: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return answer_of(plain, tmp_path_factory.mktemp("answer"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.group}: {case.name}")
def test_no_input_fails_in_silence(case: Case, plain: dict[str, str], answer: dict[str, Any], tmp_path: Path) -> None:
    outcome = judge(case, tmp_path, plain, answer, brief=None)
    assert outcome.judged == case.expected, f"{outcome.judged}: {outcome.why}\n{outcome.text}"
