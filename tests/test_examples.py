"""The examples in docstrings are true."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import screening


def test_examples_of_docstrings() -> None:
    names = [module.name for module in pkgutil.walk_packages(screening.__path__, "screening.")]
    modules = [name for name in names if not name.endswith("__main__")]
    found = {name: doctest.testmod(importlib.import_module(name)) for name in modules}
    assert {name: count.failed for name, count in found.items() if count.failed} == {}
    assert sum(count.attempted for count in found.values()) > 50
