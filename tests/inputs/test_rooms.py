"""What others may use of a room is named there, and nothing else is used."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path

import pytest

import screening

SOURCE = Path(screening.__file__).parent
ROOMS = ("raster", "tables", "vector")


def _used(pattern: str, but: Path) -> dict[str, set[str]]:
    """What files outside of a folder import that the pattern finds, by the name it has there."""
    found: dict[str, set[str]] = {}
    for path in SOURCE.rglob("*.py"):
        if but not in path.parents:
            for name in re.findall(pattern, path.read_text(encoding="utf-8"), re.MULTILINE):
                found.setdefault(name, set()).add(path.relative_to(SOURCE).as_posix())
    return found


@pytest.mark.parametrize("room", ROOMS)
def test_modules_that_others_use_are_named(room: str) -> None:
    package = import_module(f"screening.inputs.{room}")
    used = _used(rf"^\s*from screening\.inputs\.{room}\.(\w+) import", SOURCE / "inputs" / room)
    assert used and set(used) == set(package.__all__)
    assert all((SOURCE / "inputs" / room / f"{name}.py").is_file() for name in package.__all__)


def test_other_rooms_use_no_module_inside_inputs() -> None:
    assert _used(r"^\s*from screening\.inputs\.([\w.]+) import", SOURCE / "inputs") == {}
