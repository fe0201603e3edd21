"""A frozen noun comes back as it was, and bytes of a stranger run nothing."""

from __future__ import annotations

import os
import pickle
import zlib
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, Message, message
from lightoff.records.freezing import NotOurs, frozen, thawed
from lightoff.terms.visit import Reading, Stage

WORDS = st.text(max_size=12)
NUMBERS = st.floats(allow_nan=False)
VALUES = st.one_of(
    WORDS,
    st.integers(),
    st.dates(),
    st.datetimes(timezones=st.just(UTC)),
    st.builds(Amount, value=NUMBERS, dimension=st.just("time")),
    st.tuples(WORDS.map(message)),
)
MESSAGES = st.builds(
    lambda key, values: message(key, **values), WORDS, st.dictionaries(st.just("what"), VALUES)
)


@given(MESSAGES, NUMBERS)
def test_what_was_frozen_comes_back(said: Message, number: float) -> None:
    noun = (said, Estimate(value=number, low=number, high=number, coverage=0.95))
    assert thawed(frozen(noun)) == noun


def test_a_reading_comes_back_with_its_decimals() -> None:
    reading = Reading(
        id="1",
        heater="h",
        key="flue_o2",
        stage=Stage.AS_LEFT,
        value=Decimal("4.80"),
        unit="%",
        taken_at=datetime(2026, 1, 2, 3, 4, tzinfo=UTC),
    )
    back = thawed(frozen(reading))
    assert back == reading
    assert str(back.value) == "4.80"
    assert back.stage is Stage.AS_LEFT


def test_a_member_of_an_enumeration_comes_back_however_this_python_would_write_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Python 3.11.2, of Debian 12, writes it as a call of `getattr`, which is none of ours."""
    by_name = lambda self, _: (getattr, (type(self), self.name))  # noqa: E731
    monkeypatch.setattr(Stage, "__reduce_ex__", by_name)
    assert b"getattr" in pickle.dumps(Stage.AS_LEFT)
    assert thawed(frozen((Stage.AS_LEFT, {Stage.AS_FOUND: 1}))) == (Stage.AS_LEFT, {Stage.AS_FOUND: 1})


class Runs:
    """A stranger's noun: to read it is to run it."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[object, tuple[str]]:
        return os.mkdir, (str(self.path),)


@dataclass
class Foreign:
    """Data, and none of ours."""

    day: date


def test_a_strangers_bytes_run_nothing(tmp_path: Path) -> None:
    made = tmp_path / "made"
    for noun in (Runs(made), Foreign(date(2026, 1, 1)), os.path.join, message):
        with pytest.raises(NotOurs):
            thawed(zlib.compress(pickle.dumps(noun)))
    assert not made.exists()


@pytest.mark.parametrize("spoilt", [b"", b"no", zlib.compress(b"no"), zlib.compress(b"\x80\x05.")])
def test_spoilt_bytes_are_told(spoilt: bytes) -> None:
    with pytest.raises(NotOurs):
        thawed(spoilt)
