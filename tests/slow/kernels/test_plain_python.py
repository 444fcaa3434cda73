"""Every kernel gives the same arrays compiled and plain."""

import os
import subprocess
import sys

import numpy as np

from tests.kernels.everything import everything
from tests.places import ROOT


def test_plain_python_gives_the_same_arrays(tmp_path):
    path = tmp_path / "plain.npz"
    environment = {**os.environ, "NUMBA_DISABLE_JIT": "1"}
    command = [sys.executable, "-m", "tests.kernels.everything", str(path)]
    subprocess.run(command, check=True, cwd=ROOT, env=environment, timeout=300)
    compiled = everything()
    with np.load(path) as plain:
        assert set(plain.files) == set(compiled)
        for name in plain.files:
            assert plain[name].dtype == compiled[name].dtype, name
            np.testing.assert_array_equal(plain[name], compiled[name], err_msg=name, strict=True)
