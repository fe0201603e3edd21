"""The examples and the shelf for the tests of the jobs."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from lightoff.shelf import Shelf, open_shelf

EXAMPLES = Path(__file__).parents[2] / "examples"
NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def shelf() -> Shelf:
    return open_shelf(None)


@pytest.fixture(scope="session")
def now() -> datetime:
    return NOW


@pytest.fixture(scope="session")
def with_probe() -> str:
    return (EXAMPLES / "with-probe.toml").read_text(encoding="utf-8")
