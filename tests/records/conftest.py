"""The same pen as for the contract of every store."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lightoff.records import Book


def _contract() -> Any:
    name = "contract_of_a_book"
    if name not in sys.modules:
        place = Path(__file__).parents[1] / "contracts" / "conftest.py"
        specification = importlib.util.spec_from_file_location(name, place)
        assert specification is not None
        assert specification.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(specification)
        specification.loader.exec_module(sys.modules[name])
    return sys.modules[name]


@pytest.fixture
def new_pen() -> Any:
    """Makes pens: for a test that needs more than one."""
    return _contract().Pen


@pytest.fixture
def pen(new_pen: Any) -> Any:
    return new_pen()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shop.book"


@pytest.fixture
def book(path: Path) -> Iterator[Book]:
    with Book.open(path) as opened:
        yield opened
