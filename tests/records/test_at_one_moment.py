"""What is read within one moment is of that moment, whatever is written meanwhile."""

from __future__ import annotations

from threading import Thread
from typing import Any

import pytest

from lightoff.ground.errors import NotFound
from lightoff.records import Book


def test_what_is_written_meanwhile_is_not_seen_within(book: Book, pen: Any) -> None:
    book.keep(pen.household(1))
    with book.at_one_moment():
        assert len(book.heaters()) == 1
        book.keep(pen.household(2))
        assert len(book.heaters()) == 1
    assert len(book.heaters()) == 2


def test_another_thread_and_another_book_read_for_themselves(book: Book, pen: Any, tmp_path: Any) -> None:
    book.keep(pen.household(1))
    seen = []
    with Book.open(tmp_path / "other.sqlite3") as other, book.at_one_moment():
        assert other.heaters() == ()
        book.heaters()
        book.keep(pen.household(2))
        reader = Thread(target=lambda: seen.append(len(book.heaters())))
        reader.start()
        reader.join()
    assert seen == [2]


def test_an_error_within_ends_the_moment(book: Book, pen: Any) -> None:
    with pytest.raises(NotFound), book.at_one_moment():
        book.heater("nobody")
    book.keep(pen.household(1))
    assert len(book.heaters()) == 1
