from __future__ import annotations

import os
from pathlib import Path

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
