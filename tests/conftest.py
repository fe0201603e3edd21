"""One rule for all property tests, and what two workers may not share.

The same examples in every run, and no deadline on a busy machine. A file stays with one worker, so
that what it makes once is made once; so do the folders that share something outside the tests.
"""

from pathlib import PurePosixPath

import pytest
from hypothesis import settings
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling

settings.register_profile("house", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("house")

# The record of all outside checks is one file; the throw-away database is one, and emptied for each test.
TOGETHER = {"sources": "sources", "contracts": "database", "records": "database"}


class ByFile(LoadScopeScheduling):
    """Files, and folders that stay together, go to the worker that has time."""

    def _split_scope(self, nodeid: str) -> str:
        file = PurePosixPath(nodeid.partition("::")[0])
        return TOGETHER.get(file.parts[1], str(file))


def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadScopeScheduling:
    return ByFile(config, log)
