from __future__ import annotations

import os
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:
    # Several test processes share the processors: threads of each would only wait for those of the others.
    os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import pytest

from screening.criteria import Criteria
from screening.site import Screening, demo_rains, demo_request, screen_site

REPOSITORY = Path(__file__).resolve().parent.parent


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
