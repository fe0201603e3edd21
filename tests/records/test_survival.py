"""What the book acknowledged is there after a kill, a full disk, a read-only one, and a damaged file."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from lightoff.ground.errors import NotFound, Refusal
from lightoff.records import Book, BookTrouble
from lightoff.texts.speaker import Speaker

say = Speaker().say

# Keeps a reading, says so, and goes on until it is killed or the book refuses.
WRITER = """
import os, sys
from datetime import UTC, datetime
from lightoff.ground.errors import LightoffError
from lightoff.ground.ids import time_ordered_id
from lightoff.records import Book
from lightoff.terms.entry import Entry
from lightoff.texts.speaker import Speaker

book = Book.open(sys.argv[1])
body = {"heater": "h", "key": "flue_o2", "stage": "as left", "taken_at": None, "value": "4.8", "unit": "%",
        "note": "x" * int(sys.argv[2])}
while True:
    now = datetime.now(UTC)
    entry_id = time_ordered_id(now, os.urandom(10))
    entry = Entry(id=entry_id, subject="visit-1", field="reading", value=body, author="child", at=now)
    try:
        book.keep([entry])
    except LightoffError as error:
        print(Speaker().say(error.message), flush=True)
        break
    print(entry_id, flush=True)
"""


def _writer(path: Path, note_length: int = 10, **how: Any) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(path), str(note_length)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **how)


@pytest.mark.parametrize("after_s", [0.15, 0.4])
def test_every_acknowledged_entry_survives_a_kill(path: Path, pen: Any, after_s: float) -> None:
    with Book.open(path) as book:
        book.keep([*pen.household(), pen.visit()])
    child = _writer(path)
    assert child.stdout is not None
    first = {child.stdout.readline().strip() for _ in range(4)}
    time.sleep(after_s)
    child.send_signal(signal.SIGKILL)
    said, _ = child.communicate(timeout=20)
    acknowledged = {*first, *(line for line in said.split("\n")[:-1] if line)}
    assert len(acknowledged) > 3, said
    with Book.open(path, create=False) as book:
        kept = {each.id for each in book.visit("visit-1").readings}
        assert acknowledged <= kept
        assert len(kept - acknowledged) <= 1, "at most the one whose word was cut off"
        assert book.check().is_sound
        book.keep([pen.reading()])


@pytest.mark.skipif(sys.platform == "win32", reason="limits of a process are set as on Unix")
def test_a_full_disk_is_told_and_nothing_is_half_written(path: Path, pen: Any) -> None:
    import resource

    with Book.open(path) as book:
        book.keep([pen.visit()])
    room = path.stat().st_size + 400_000

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # a write past the limit fails as on a full disk
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))

    child = _writer(path, 9_000, preexec_fn=limit)
    said, complaint = child.communicate(timeout=60)
    *acknowledged, sentence = said.strip().split("\n")
    assert "Traceback" not in complaint
    assert str(path) in sentence
    assert "Nothing of this was kept" in sentence
    assert len(acknowledged) > 3
    with Book.open(path) as book:
        assert {each.id for each in book.visit("visit-1").readings} == set(acknowledged)
        assert book.check().is_sound
        book.keep([pen.reading()])


def test_a_full_database_is_told_and_nothing_is_half_written(book: Book, pen: Any) -> None:
    book.keep([pen.visit(), pen.reading("1")])
    with book._opened.writer.begin() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar() or 0
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages + 3}")
    with pytest.raises(BookTrouble) as caught:
        book.keep([pen.reading("2") for _ in range(300)])
    assert say(caught.value.message) == (
        f"The disk that holds the book {book.name} is full. Nothing of this was kept; all that was "
        "kept before stands. Free some space and send it again."
    )
    assert [str(each.value) for each in book.visit("visit-1").readings] == ["1"]
    with book._opened.writer.begin() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1000000")
    book.keep([pen.reading("3")])
    assert book.check().is_sound


@contextmanager
def _without_rights() -> Iterator[None]:
    """As a user who owns nothing, where the tests run as root."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(sys.platform == "win32", reason="rights are set as on Unix")
def test_a_book_that_may_not_be_written_is_told(path: Path, pen: Any) -> None:
    with Book.open(path) as book:
        book.keep([pen.visit()])
    before = path.read_bytes()
    for folder in path.parents[:3]:
        folder.chmod(folder.stat().st_mode | 0o055)
    path.chmod(0o444)
    path.parent.chmod(0o555)
    with _without_rights(), pytest.raises(BookTrouble) as caught, Book.open(path) as book:
        book.keep([pen.reading()])
    sentence = say(caught.value.message)
    assert sentence.startswith(f"The book {path} cannot be")
    assert "folder" in sentence
    path.parent.chmod(0o755)
    with _without_rights(), pytest.raises(BookTrouble) as caught, Book.open(path.with_name("new")) as book:
        book.keep([pen.reading()])
    assert say(caught.value.message).startswith(
        f"The book {path.with_name('new')} cannot be written: its file"
    )
    assert path.read_bytes() == before


def test_a_book_held_by_another_program_is_told(
    book: Book, pen: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lightoff.records.turns.PATIENCE_S", 0.05)
    with Book.open(book._opened.path or "") as other, other._opened.turns.turn():
        with pytest.raises(BookTrouble) as caught:
            book.keep([pen.owner()])
        assert book.owners() == (), "reading needs no turn"
    assert say(caught.value.message).startswith(f"The book {book.name} is held by another program")
    book.keep([pen.owner()])


def test_a_foreign_lock_is_told(book: Book, pen: Any) -> None:
    with book._opened.writer.begin() as connection:
        connection.exec_driver_sql("PRAGMA busy_timeout = 50")
    foreign = sqlite3.connect(book._opened.path or "", isolation_level=None)
    foreign.execute("BEGIN IMMEDIATE")
    with pytest.raises(BookTrouble) as caught:
        book.keep([pen.owner()])
    assert say(caught.value.message).startswith(f"The book {book.name} is held by another program")
    foreign.execute("ROLLBACK")
    foreign.close()
    book.keep([pen.owner()])


def test_a_writer_holds_the_book_from_its_first_moment(book: Book) -> None:
    foreign = sqlite3.connect(book._opened.path or "", isolation_level=None, timeout=0)
    with book._opened.writer.begin(), pytest.raises(sqlite3.OperationalError, match="locked"):
        foreign.execute("BEGIN IMMEDIATE")
    foreign.close()


def test_a_damaged_file_is_told_and_not_touched(path: Path) -> None:
    path.write_bytes(b"this was never a book" * 400)
    before = path.read_bytes()
    with pytest.raises(BookTrouble) as caught:
        Book.open(path)
    assert say(caught.value.message).startswith(
        f"The book {path} is damaged or is not a book. Nothing was changed in it. Put it aside"
    )
    assert path.read_bytes() == before


def test_a_page_that_rotted_is_found(path: Path, pen: Any) -> None:
    with Book.open(path) as book:
        book.keep([*pen.household(), pen.visit(), *(pen.reading() for _ in range(400))])
    data = bytearray(path.read_bytes())
    middle = len(data) // 2 // 4096 * 4096
    data[middle : middle + 4096] = os.urandom(4096)
    path.write_bytes(data)
    with Book.open(path) as book:
        found: tuple[str, ...]
        try:
            found = book.check().damage
        except BookTrouble as trouble:
            found = (say(trouble.message),)
    assert found


def test_an_altered_entry_is_found(path: Path, pen: Any) -> None:
    reading = pen.reading("4.8")
    with Book.open(path) as book:
        book.keep([pen.visit(), reading])
    with sqlite3.connect(path) as connection:
        connection.execute("DROP TRIGGER entry_no_update")
        connection.execute("UPDATE entry SET value = replace(value, '4.8', '2.8')")
    connection.close()
    with Book.open(path) as book:
        assert book.check().altered == (reading.id,)


def test_replacing_an_entry_is_refused_too(book: Book, pen: Any) -> None:
    entry = pen.owner()
    book.keep([entry])
    with sqlite3.connect(book._opened.path or "") as connection:
        renamed = "SELECT id, 'x', field, value, author, at, corrects, sha256 FROM entry"
        with pytest.raises(sqlite3.IntegrityError, match="entry only grows"):
            connection.execute(f"INSERT OR REPLACE INTO entry {renamed}")
    connection.close()
    assert book.entries("owner-1") == (entry,)


def test_a_copy_is_a_book(book: Book, pen: Any, tmp_path: Path) -> None:
    book.keep([*pen.household(), pen.visit(), pen.reading()])
    copy = tmp_path / "copy.book"
    book.copy_to(copy)
    with Book.open(copy, create=False) as other:
        assert other.case("visit-1") == book.case("visit-1")
    with pytest.raises(Refusal) as caught:
        book.copy_to(copy)
    assert say(caught.value.message) == f"“{copy}” exists already. Give the copy a name of its own."
    with pytest.raises(BookTrouble):
        book.copy_to(tmp_path / "nowhere" / "copy.book")


def test_no_book_where_none_may_be_made(tmp_path: Path) -> None:
    with pytest.raises(NotFound) as caught:
        Book.open(tmp_path / "none", create=False)
    assert say(caught.value.message).startswith(f"There is no book at {tmp_path / 'none'}.")
    assert not (tmp_path / "none").exists()
    with pytest.raises(Refusal) as refused:
        Book.open(tmp_path)
    assert say(refused.value.message).startswith(f"“{tmp_path}” is a folder, and a book is a file.")
