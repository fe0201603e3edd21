"""The `check` fixture: every comparison with an outside source is asserted and put on record.

Each record goes to `build/checks.json`; the handbook's page *Sources and checks* is made from it.
"""

import json
import math
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest

HOW_SEEN = ("seen", "second-hand", "computed")
"""How the expected value was obtained: read in the named source, read in another's transcription of
it, or computed with a named independent library. A remembered value proves nothing and is refused."""

_RECORDS: pytest.StashKey[dict[str, dict[str, Any]]] = pytest.StashKey()


class Check(Protocol):
    """What a test in this folder receives as `check`."""

    def __call__(
        self,
        id: str,  # noqa: A002 - the column's name on the page
        quantity: str,
        *,
        expected: float,
        got: float,
        tolerance: float,
        unit: str,
        source: str,
        how_seen: str,
        relative: bool = False,
        note: str = "",
    ) -> None: ...


def pytest_configure(config: pytest.Config) -> None:
    config.stash[_RECORDS] = {}


@pytest.fixture
def check(request: pytest.FixtureRequest) -> Check:
    """Compare our figure with an outside source's, record both, and fail where they differ.

    `id` names the row and stands once in the whole folder; `quantity` is in the reader's words;
    `tolerance` is in `unit`, or a share of `expected` where `relative`; `source` names title, edition
    and table or page; `how_seen` begins with "seen", "second-hand" or "computed".
    """
    records = request.config.stash[_RECORDS]

    def compare(
        id: str,  # noqa: A002 - the column's name on the page
        quantity: str,
        *,
        expected: float,
        got: float,
        tolerance: float,
        unit: str,
        source: str,
        how_seen: str,
        relative: bool = False,
        note: str = "",
    ) -> None:
        assert id not in records, f"check {id} stands twice; each check has its own id"
        assert how_seen.startswith(HOW_SEEN), (
            f"check {id}: how_seen is {how_seen!r}; it must begin with one of {', '.join(HOW_SEEN)}"
            " (a remembered value proves nothing)"
        )
        assert tolerance > 0, f"check {id}: the tolerance is {tolerance}; it must be above zero"
        assert source.strip(), f"check {id} names no source"
        expected, got = float(expected), float(got)
        allowed = tolerance * abs(expected) if relative else tolerance
        error = got - expected
        passed = math.isfinite(error) and abs(error) <= allowed
        records[id] = {
            "id": id,
            "topic": request.path.stem.removeprefix("test_"),
            "test": request.node.nodeid,
            "quantity": quantity,
            "unit": unit,
            "expected": expected,
            "got": got,
            "error": error,
            "tolerance": tolerance,
            "relative": relative,
            "source": source,
            "how_seen": how_seen,
            "note": note,
            "passed": passed,
        }
        assert passed, (
            f"check {id}: {quantity} is {got:.8g} {unit}, "
            f"expected {expected:.8g} within {allowed:.3g} ({source})"
        )

    return compare


@pytest.fixture
def check_each(check: Check) -> Callable[..., None]:
    """Many rows of one source: (id, quantity, expected, got) each, and what differs beside in `columns`."""

    def compare_each(
        rows: Iterable[tuple[Any, ...]], *, columns: tuple[str, ...] = (), **shared: Any
    ) -> None:
        for id_, quantity, expected, got, *others in rows:
            beside = dict(zip(columns, others, strict=True))
            check(id_, quantity, expected=expected, got=got, **shared, **beside)

    return compare_each


@pytest.hookimpl(wrapper=True)
def pytest_sessionfinish(session: pytest.Session) -> Iterator[None]:
    """Write what was compared, in the order of the tests."""
    records = session.config.stash.get(_RECORDS, {})
    if records:
        target = Path(session.config.rootpath) / "build" / "checks.json"
        target.parent.mkdir(exist_ok=True)
        rows = [_finite(row) for row in records.values()]
        target.write_text(json.dumps(rows, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return (yield)


def _finite(row: dict[str, Any]) -> dict[str, Any]:
    """JSON knows no NaN; a figure that is none becomes null."""
    return {
        key: None if isinstance(value, float) and not math.isfinite(value) else value
        for key, value in row.items()
    }
