"""The tests of fault finding share their made-up heaters, their judges and their callers."""

import sys
from pathlib import Path

import pytest

from lightoff.shelf import Shelf, open_shelf

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def shelf() -> Shelf:
    return open_shelf(None)
