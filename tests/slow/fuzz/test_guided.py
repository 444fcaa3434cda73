"""The readers of text under bytes that coverage guides, where atheris is installed."""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.places import ROOT
from tests.slow.fuzz.readers import SEEDS, TARGETS

SECONDS = 20


@pytest.mark.parametrize("target", list(TARGETS))
def test_a_guided_run(target: str, tmp_path: Path) -> None:
    if importlib.util.find_spec("atheris") is None:
        pytest.skip("there is no atheris for this machine")
    shutil.copytree(SEEDS / target, tmp_path / "corpus")
    limit = f"-max_total_time={SECONDS}"
    command = [sys.executable, "-m", "tests.slow.fuzz.readers", target, limit, str(tmp_path / "corpus")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr[-3000:]
