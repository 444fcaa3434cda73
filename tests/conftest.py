from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

if "PYTEST_XDIST_WORKER" in os.environ:
    # Several test processes share the processors: threads of each would only wait for those of the others.
    os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import pytest

from screening.schema.criteria import Criteria
from screening.site.samples import demo_rains, demo_request
from screening.site.screen import Screening, screen_site
from tests.places import ROOT

LONG_FILES = (
    "slow/awkward/test_awkward.py",
    "slow/batch/test_faults.py",
    "slow/interruption/test_interruption.py",
    "slow/browser/test_access.py",
    "slow/browser/test_page.py",
    "slow/fuzz/test_guided.py",
    "slow/site/test_any_neighbourhood.py",
    "slow/batch/test_batch.py",
    "slow/browser/test_tools.py",
    "slow/browser/test_other_pages.py",
    "slow/test_larger_than_memory.py",
    "findings/test_confidence.py",
    "commands/test_main.py",
)
"""The longest first: where files are shared out to processes, none is left with a long one at the end."""


def pytest_configure(config: pytest.Config) -> None:
    """Compile the kernels once, before several processes would each compile the same."""
    is_first_of_several = getattr(config.option, "numprocesses", None) and "PYTEST_XDIST_WORKER" not in os.environ
    if not is_first_of_several or config.option.collectonly or os.environ.get("NUMBA_DISABLE_JIT") == "1":
        return
    with tempfile.TemporaryDirectory() as folder:
        # Where they lie compiled on the disk this takes two or three seconds, else up to a minute.
        command = [sys.executable, "-W", "ignore", "-m", "tests.kernels.everything", str(Path(folder) / "all.npz")]
        subprocess.run(command, check=True, cwd=ROOT)


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
    folder = Path(os.environ.get("SCREENING_DATA", ROOT.parent / "shared" / "data"))
    if not (folder / "README.md").is_file():
        pytest.skip(f"real data are not here: {folder} (set SCREENING_DATA)")
    return folder
