from __future__ import annotations

import os
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:
    # Several test processes share the processors: threads of each would only wait for those of the others.
    os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import pytest

from screening.schema.criteria import Criteria
from screening.site.samples import demo_rains, demo_request
from screening.site.screen import Screening, screen_site

REPOSITORY = Path(__file__).resolve().parent.parent

LONG_FILES = (
    "awkward/test_awkward.py",
    "batch/test_faults.py",
    "report/browser/test_access.py",
    "report/browser/test_page.py",
    "test_interruption.py",
    "site/test_window.py",
    "batch/test_batch.py",
    "findings/test_confidence.py",
    "commands/test_main.py",
    "report/browser/test_tools.py",
    "report/browser/test_other_pages.py",
    "test_larger_than_memory.py",
)
"""The longest first: where files are shared out to processes, none is left with a long one at the end."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the long files first; all else stays in its order."""
    rank = {Path(__file__).parent / name: number for number, name in enumerate(LONG_FILES)}
    items.sort(key=lambda item: rank.get(item.path, len(rank)))


@pytest.fixture(scope="session")
def sample_screening() -> Screening:
    """The demo's screening of the sample neighbourhood."""
    rain, *further = demo_rains(Criteria())
    return screen_site(demo_request(), rain=rain, further_rains=tuple(further), title="Sample neighbourhood")


@pytest.fixture(scope="session")
def sample_result(sample_screening: Screening):
    """Its findings."""
    return sample_screening.result


@pytest.fixture(scope="session")
def real_data() -> Path:
    """The folder of real data; the test is skipped where it is absent."""
    folder = Path(os.environ.get("SCREENING_DATA", REPOSITORY.parent / "shared" / "data"))
    if not (folder / "README.md").is_file():
        pytest.skip(f"real data are not here: {folder} (set SCREENING_DATA)")
    return folder
