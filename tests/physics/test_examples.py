"""The examples in the docstrings run and say what they claim."""

import doctest
import importlib
import pkgutil

import pytest

import lightoff.physics

MODULES = [each.name for each in pkgutil.iter_modules(lightoff.physics.__path__, "lightoff.physics.")]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples() -> None:
    finder = doctest.DocTestFinder()
    modules = map(importlib.import_module, MODULES)
    assert sum(bool(found.examples) for module in modules for found in finder.find(module)) >= 4
