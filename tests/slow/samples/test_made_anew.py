"""The script of the samples writes them again."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
from shapely.geometry import shape

from tests.samples.sample_reader import SAMPLES, VECTORS, Sample
from tests.samples.test_samples import TRUTH


def compare(got: object, expected: object) -> None:
    """Equal text, equal structure, numbers within the last digit kept."""
    if isinstance(expected, dict):
        assert isinstance(got, dict)
        assert got.keys() == expected.keys()
        for key in expected:
            compare(got[key], expected[key])
    elif isinstance(expected, list):
        assert isinstance(got, list)
        assert len(got) == len(expected)
        for one, other in zip(got, expected, strict=True):
            compare(one, other)
    elif isinstance(expected, float):
        assert got == pytest.approx(expected, rel=1e-9, abs=0.02)
    else:
        assert got == expected


def test_script_writes_the_same_files(tmp_path: Path) -> None:
    sample = Sample()
    command = [sys.executable, "-B", str(SAMPLES / "make_samples.py"), "--out", str(tmp_path)]
    subprocess.run(command, check=True, timeout=300)
    for name in VECTORS:
        texts = [(folder / f"{name}.geojson").read_text(encoding="utf-8") for folder in (tmp_path, SAMPLES)]
        got, expected = map(json.loads, texts)
        for one, other in zip(got["features"], expected["features"], strict=True):
            assert one["properties"] == other["properties"]
            a, b = (shapely.get_coordinates(shape(f["geometry"])) for f in (one, other))
            np.testing.assert_allclose(a, b, rtol=0, atol=2e-8)
    with rasterio.open(tmp_path / "elevation.tif") as src:
        again = src.read(1, masked=True).astype("float64").filled(np.nan)
    np.testing.assert_allclose(again, sample.z, rtol=0, atol=0.011)
    assert (again == sample.z)[~np.isnan(sample.z)].mean() > 0.999
    compare(json.loads((tmp_path / "truth.json").read_text(encoding="utf-8")), TRUTH)
    assert (tmp_path / "rainfall.csv").read_bytes() == (SAMPLES / "rainfall.csv").read_bytes()
