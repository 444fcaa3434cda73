"""Whatever the bytes, a reader of text gives a value or a refusal: seeds, what comes of them, and bytes of no sense."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.slow.fuzz.readers import SEEDS, TARGETS, read_bytes

PUT = (b"", b"\0", b"nan", b"1e999", b"-", b"\xff\xfe", b'"', b"[", b"{}")


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
            put = rng.choice((*PUT, rng.randbytes(3)))
            read_bytes(target, data[:start] + put + data[end:])


@pytest.mark.parametrize("target", list(TARGETS))
@given(data=st.binary(max_size=200))
@settings(max_examples=40, deadline=None)
def test_any_bytes(target: str, data: bytes) -> None:
    read_bytes(target, data)
