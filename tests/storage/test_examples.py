"""The examples in the docstrings."""

import doctest
import importlib
import pkgutil

import pytest

import screening.schema.criteria
import screening.storage

MODULES = [
    f"{package.__name__}.{module.name}"
    for package in (screening.storage, screening.schema.criteria)
    for module in pkgutil.iter_modules(package.__path__)
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_say(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0
