"""The source itself: sizes, calls and words that the rules of the house allow, read from the code."""

from __future__ import annotations

import ast
import enum
import importlib
import pkgutil
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import screening
import screening.schema.codes

PACKAGE = Path(screening.__file__).parent
FILES = sorted(path for path in PACKAGE.rglob("*.py") if "node_modules" not in path.parts)
LONGEST_FILE, LONGEST_BODY, LONGEST_KERNEL = 300, 60, 80
TAKES_ANY_NUMBER = {"freeze", "merge_notes"}
"""Functions of `*arguments`: as many as there are."""
READS_OR_WRITES_FILES = (
    "report/",
    "inputs/",
    "commands/",
    "batch/",
    "desk/",
    "site/",
    "schema/criteria/",
    "schema/styles.py",
)
"""Where values of JSON, TOML and features go in and out: provenance, criteria files, styles of the page."""
WORDS = {"text", "note", "check", "why", "label", "main_finding", "exposure_why", "infiltration_why", "storage_why"}
"""Attributes and columns that hold words for readers: nothing outside `report` may decide by them."""


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def place(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def functions(path: Path) -> Iterator[ast.FunctionDef]:
    return (node for node in ast.walk(tree(path)) if isinstance(node, ast.FunctionDef))


def body_lines(function: ast.FunctionDef) -> int:
    """Lines of a function without its signature and its docstring."""
    parts = function.body[1:] if ast.get_docstring(function) else function.body
    return parts[-1].end_lineno - parts[0].lineno + 1 if parts else 0


def test_no_file_is_longer_than_can_be_read():
    lengths = {place(path): path.read_text(encoding="utf-8").count("\n") for path in FILES}
    assert {name: n for name, n in lengths.items() if n > LONGEST_FILE} == {}


def test_no_body_is_longer_than_a_screen():
    longest = {
        f"{place(path)}:{function.name}": body_lines(function)
        for path in FILES
        for function in functions(path)
        if body_lines(function) > (LONGEST_KERNEL if place(path).startswith("kernels/") else LONGEST_BODY)
    }
    assert longest == {}


def test_the_method_fits_one_screen():
    method = next(each for each in functions(PACKAGE / "pipeline.py") if each.name == "screen_block")
    assert body_lines(method) <= 40


def test_seven_arguments_are_named():
    unnamed = [
        f"{place(path)}:{node.lineno}"
        for path in FILES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Call) and len(node.args) >= 7 and getattr(node.func, "id", "") not in TAKES_ANY_NUMBER
    ]
    assert unnamed == []


def test_no_layout_is_frozen_by_hand():
    assert [place(path) for path in FILES if "fmt: skip" in path.read_text(encoding="utf-8")] == []


def test_rooms_hand_one_another_no_dictionaries_of_anything():
    loose = {
        place(path): n
        for path in FILES
        if (n := path.read_text(encoding="utf-8").count("dict[str, Any]"))
        and not place(path).startswith(READS_OR_WRITES_FILES)
    }
    assert loose == {}


def _named(node: ast.expr) -> str:
    """Name of an attribute or a column that an expression takes."""
    if isinstance(node, ast.Attribute):
        return node.attr
    if isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant):
        return str(node.slice.value)
    return ""


def _deciding(path: Path) -> Iterator[str]:
    """Places that decide by words: a comparison, a search or a beginning of what holds them."""
    for node in ast.walk(tree(path)):
        # A label of cells is above 0: what is larger or smaller is a number.
        if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.Eq | ast.NotEq | ast.In | ast.NotIn):
            parts = [node.left, *node.comparators]
            # That there are no words is no reading of them.
            others = [part for part in parts if not (isinstance(part, ast.Constant) and part.value in ("", None))]
            if len(others) == len(parts) and any(_named(part) in WORDS for part in parts):
                yield f"{place(path)}:{node.lineno}"
        searched = node.func if isinstance(node, ast.Call) else None
        is_search = isinstance(searched, ast.Attribute) and searched.attr in ("startswith", "endswith", "find", "index")
        if is_search and _named(searched.value) in WORDS:
            yield f"{place(path)}:{node.lineno}"


def test_nothing_outside_reports_decides_by_words():
    found = [line for path in FILES if not place(path).startswith("report/") for line in _deciding(path)]
    assert found == []


@cache
def code_values() -> frozenset[str]:
    """Values of all codes of state that have a space or a hyphen: no word of a file format among them."""
    values = set()
    for module in pkgutil.iter_modules(screening.schema.codes.__path__, "screening.schema.codes."):
        for each in vars(importlib.import_module(module.name)).values():
            if isinstance(each, type) and issubclass(each, enum.StrEnum):
                values |= {member.value for member in each}
    return frozenset(value for value in values if re.search(r"[ -]", value))


def test_codes_are_compared_as_codes():
    bare = [
        f"{place(path)}:{node.lineno}"
        for path in FILES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Compare)
        for part in [node.left, *node.comparators]
        if isinstance(part, ast.Constant) and part.value in code_values()
    ]
    assert bare == []
    assert "not assessed" in code_values()


@pytest.mark.parametrize("path", sorted(PACKAGE.glob("*/__init__.py")), ids=lambda path: path.parent.name)
def test_a_room_says_what_it_is_for(path: Path):
    assert len(ast.get_docstring(tree(path)) or "") > 20


def _opened(room: Path) -> set[str] | None:
    """Modules that a room names for others; None where it gives names of its own instead."""
    named = [
        ast.literal_eval(node.value)
        for node in tree(room / "__init__.py").body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
    ]
    modules = {path.stem for path in room.glob("*.py")} | {path.parent.name for path in room.glob("*/__init__.py")}
    return set(named[0]) if named and set(named[0]) <= modules else None


def test_rooms_use_of_others_what_these_open():
    rooms = {path.parent.name: _opened(path.parent) for path in PACKAGE.glob("*/__init__.py")}
    closed = [
        f"{place(path)}:{node.lineno} {node.module}"
        for path in FILES
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("screening.")
        for room, module in [[*(node.module or "").split("."), ""][1:3]]
        if room in rooms and rooms[room] is not None and module and path.relative_to(PACKAGE).parts[0] != room
        if module not in rooms[room]
    ]
    assert closed == []
