"""The examples and the shelf for the tests of the jobs."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from lightoff.shelf import Shelf, open_shelf
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.workshop import Workshop, open_shop

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


@pytest.fixture(scope="session")
def demo_shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """The invented shop as of now, only to be looked at."""
    with open_shop(make_demo_shop(tmp_path_factory.mktemp("invented") / "shop", NOW)) as opened:
        yield opened
