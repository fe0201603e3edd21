"""What was found in a heater's logs, and the files themselves, in every kind of book."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from lightoff.ground.errors import NotFound, Refusal
from lightoff.records import Book
from lightoff.terms.trace import Channel, Trace
from lightoff.texts import Speaker

AT = datetime(2026, 1, 5, 8, tzinfo=UTC)
TRACE = Trace(
    id="trace-1",
    heater="heater-1",
    began_at=AT,
    ended_at=AT + timedelta(days=2),
    channel=Channel.STACK_TEMPERATURE,
    logged_s=Decimal(170_000),
    burned_s=Decimal("80000.5"),
    burned_low_s=Decimal(79_000),
    burned_high_s=Decimal(81_000),
    starts=61,
    starts_unsure=2,
    row_count=8_500,
    bad_row_count=3,
    file_name="January.csv",
    sha256="0" * 64,
)


def test_a_trace_comes_back_as_written_and_by_its_heater(book: Book, pen: Any) -> None:
    book.keep([*pen.household(), pen.entry("trace", TRACE, subject="trace-1")])
    assert book.traces("heater-1") == book.traces() == (TRACE,)
    assert book.traces("heater-2") == ()
    assert book.trace("trace-1") == TRACE
    book.rebuild()
    assert book.traces() == (TRACE,)
    assert book.check().is_sound


def test_a_trace_taken_back_counts_no_more_and_can_be_told_again(book: Book, pen: Any) -> None:
    said = pen.entry("trace", TRACE, subject="trace-1")
    book.keep([*pen.household(), said])
    book.keep([pen.withdrawal(said)])
    assert book.traces() == ()
    with pytest.raises(NotFound):
        book.trace("trace-1")


def test_a_trace_is_news_of_its_heater(book: Book, pen: Any) -> None:
    book.keep([*pen.household(1), *pen.household(2)])
    mark = book.news().mark
    book.keep([pen.entry("trace", TRACE, subject="trace-1")])
    assert book.news(mark).heaters in (frozenset({"heater-1"}), None)


def test_the_file_comes_back_byte_by_byte_and_is_no_photograph(book: Book) -> None:
    data = b"time [UTC],burning\n2026-01-05T08:00:00,1\n" * 1000
    sha256 = book.keep_log(data)
    assert book.keep_log(data) == sha256
    assert book.log_bytes(sha256) == data
    assert len(book.photo_bytes(sha256)) < len(data) / 10
    assert book.check().is_sound


@pytest.mark.parametrize(
    "wrong",
    [
        {"burned_low_s": Decimal(-1)},
        {"burned_low_s": Decimal(80_001)},
        {"burned_high_s": Decimal(170_001)},
        {"logged_s": Decimal(172_802)},
        {"starts": -1},
        {"ended_at": AT - timedelta(days=1)},
    ],
)
def test_a_trace_that_does_not_hold_together_is_refused(book: Book, pen: Any, wrong: dict[str, Any]) -> None:
    with pytest.raises(Refusal) as caught:
        book.keep([pen.entry("trace", replace(TRACE, **wrong), subject="trace-1")])
    assert "do not hold together" in Speaker().say(caught.value.message)
    assert book.traces() == ()
