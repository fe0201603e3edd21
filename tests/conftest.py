"""One rule for all property tests, and what two workers may not share.

The same examples in every run, and no deadline on a busy machine. A file stays with one worker, so
that what it makes once is made once; so do the folders that share something outside the tests. A slow
test goes to whoever has time.
"""

from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("house")

HERE = Path(__file__).parent
# The record of all outside checks is one file; the throw-away database is one, and emptied for each test.
TOGETHER = {"sources": "sources", "contracts": "database", "records": "database"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        place = item.path.relative_to(HERE)
        alone = item.nodeid if item.get_closest_marker("slow") else str(place)
        item.add_marker(pytest.mark.xdist_group(TOGETHER.get(place.parts[0], alone)))
