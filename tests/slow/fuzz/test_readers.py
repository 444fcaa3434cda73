"""The readers of text under random bytes: seeds and mutations always, a short guided run where atheris is installed."""

from __future__ import annotations

import importlib.util
import random
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.places import ROOT
from tests.slow.fuzz.readers import TARGETS, read_bytes

SEEDS = Path(__file__).parent / "seeds"
SECONDS = 20


@pytest.mark.parametrize("target", list(TARGETS))
def test_seeds_and_what_comes_of_them(target: str) -> None:
    seeds = sorted((SEEDS / target).iterdir())
    assert seeds
    rng = random.Random(11)
    for seed in seeds:
        data = seed.read_bytes()
        read_bytes(target, data)
        for _ in range(40):
            start = rng.randrange(len(data) + 1)
            end = start + rng.choice((0, 1, 1, 4, 40))
            put = rng.choice((b"", b"\0", b"nan", b"1e999", b"-", b"\xff\xfe", b'"', b"[", b"{}", rng.randbytes(3)))
            read_bytes(target, data[:start] + put + data[end:])


@pytest.mark.parametrize("target", list(TARGETS))
@given(data=st.binary(max_size=200))
@settings(max_examples=40, deadline=None)
def test_any_bytes(target: str, data: bytes) -> None:
    read_bytes(target, data)


@pytest.mark.parametrize("target", list(TARGETS))
def test_a_short_guided_run(target: str, tmp_path: Path) -> None:
    if importlib.util.find_spec("atheris") is None:
        pytest.skip("there is no atheris for this machine")
    shutil.copytree(SEEDS / target, tmp_path / "corpus")
    limit = f"-max_total_time={SECONDS}"
    command = [sys.executable, "-m", "tests.slow.fuzz.readers", target, limit, str(tmp_path / "corpus")]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr[-3000:]
