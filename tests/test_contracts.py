"""The import contracts bite: each is broken on purpose in a copy, and the checker refuses it by name."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]

BREAKS = {
    "Rooms stand on one another, and imports point down": ("terrain/surface.py", "import screening.capture.plan"),
    "Kernels import nothing of ours": ("kernels/fill.py", "import screening.grid"),
    "Hydraulics know no grids, lots or files": ("hydraulics/manning.py", "import geopandas"),
    "Storage knows no grids, lots or files": ("storage/routing.py", "import screening.grid"),
    "The method reads no files, draws no maps, shares out no work": ("flow/paths.py", "import dask"),
    "Storage from its sizes up to what it takes to build": (
        "storage/sections.py",
        "import screening.storage.quantities",
    ),
}
"""By contract: a file, and a line that it must not hold."""


def checked(copy: Path) -> dict[str, str]:
    """Run the checker over a copy; give the state of each contract by its name."""
    command = [
        sys.executable,
        "-c",
        "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))",
    ]
    environment = os.environ | {"PYTHONPATH": str(copy), "COLUMNS": "300", "NO_COLOR": "1"}
    done = subprocess.run(command, cwd=copy, env=environment, capture_output=True, text=True, check=False)
    plain = re.sub(r"\x1b\[[0-9;]*m", "", done.stdout)
    states = dict(re.findall(r"^(.*?) (KEPT|BROKEN)$", plain, flags=re.MULTILINE))
    states["said"] = plain + done.stderr
    return states


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("house")
    skipped = shutil.ignore_patterns("__pycache__", "assets", "dist", "web", "node_modules")
    shutil.copytree(ROOT / "screening", folder / "screening", ignore=skipped)
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def test_every_contract_has_a_break():
    assert sorted(BREAKS) == sorted(contract["name"] for contract in CONTRACTS)


def test_the_contracts_hold_and_each_refuses_its_break(copy: Path):
    before = checked(copy)
    assert {before.get(name) for name in BREAKS} == {"KEPT"}, before["said"]
    for file, line in BREAKS.values():
        path = copy / "screening" / file
        path.write_text(path.read_text(encoding="utf-8") + f"\n{line}\n", encoding="utf-8")
    after = checked(copy)
    assert {name: after.get(name) for name in BREAKS} == dict.fromkeys(BREAKS, "BROKEN"), after["said"]
    for file, line in BREAKS.values():
        broken = "screening." + file.removesuffix(".py").replace("/", ".")
        assert re.search(rf"{re.escape(broken)} ?-> ?{re.escape(line.split()[-1])}", after["said"]), (
            file,
            after["said"],
        )


def test_a_room_that_stands_in_no_layer_is_refused(copy: Path):
    attic = copy / "screening" / "attic"
    attic.mkdir()
    (attic / "__init__.py").write_text('"""A room that nobody planned."""\n', encoding="utf-8")
    found = checked(copy)
    assert found.get("Rooms stand on one another, and imports point down") != "KEPT"
    assert "attic" in found["said"]
