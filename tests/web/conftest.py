"""The pages' code with node: its packages are installed once, beside it, where there is a node to run them."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

WEB = Path(__file__).parents[2] / "screening" / "web"
INSTALL = ("npm", "install", "--no-save", "--ignore-scripts", "--no-audit", "--no-fund")
INSTALL_S = 300


def run(*command: str) -> subprocess.CompletedProcess[str]:
    """Run a command in the folder of the pages' code."""
    program = shutil.which(command[0])
    assert program is not None
    return subprocess.run(
        [program, *command[1:]], cwd=WEB, capture_output=True, text=True, timeout=INSTALL_S, check=False
    )


@pytest.fixture(scope="session")
def node_modules() -> Path:
    """The folder of installed packages, as the lock file has them."""
    missing = [name for name in ("node", "npm") if shutil.which(name) is None]
    if missing:
        pytest.skip(f"the pages' code needs {' and '.join(missing)}, which is not here")
    installed = WEB / "node_modules"
    stamp = installed / ".package-lock.json"
    # npm writes its own lock file last: what is older than ours was installed from another.
    if not stamp.is_file() or stamp.stat().st_mtime < (WEB / "package-lock.json").stat().st_mtime:
        done = run(*INSTALL)
        if done.returncode:
            pytest.skip(f"the packages of the pages' code could not be installed: {done.stderr.strip()[-300:]}")
    return installed
