"""What was worked out is found again, and nothing that ails its file reaches who asks."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from pathlib import Path
from threading import Thread

import pytest

from lightoff.ground.message import message
from lightoff.records import Derived
from lightoff.records import derived as module

Opens = Callable[..., Derived]


@pytest.fixture
def opened() -> Iterator[Opens]:
    """Opens a file, and closes it at the end."""
    with ExitStack() as every:
        yield lambda *path, **more: every.enter_context(closing(Derived(*path, **more)))


def rows(path: Path) -> list[tuple[str, bytes]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT key, body FROM derived ORDER BY number").fetchall()


def test_answers_outlive_the_program(opened: Opens, tmp_path: Path) -> None:
    path = tmp_path / "derived.sqlite3"
    first = opened(path)
    first.keep({"a": message("one"), "b": message("two", day=3)})
    first.close()
    again = opened(path)
    assert again.find(["b", "a", "c"]) == {"a": message("one"), "b": message("two", day=3)}
    assert path.stat().st_mode & 0o077 == 0


def test_more_are_asked_for_than_one_question_holds(opened: Opens, tmp_path: Path) -> None:
    store = opened(tmp_path / "derived.sqlite3")
    store.keep({str(at): at for at in range(450)})
    assert store.find([str(at) for at in range(500)]) == {str(at): at for at in range(450)}


def test_the_oldest_go(opened: Opens, tmp_path: Path) -> None:
    path = tmp_path / "derived.sqlite3"
    store = opened(path, most=3)
    for at in range(5):
        store.keep({str(at): at})
    assert [key for key, _ in rows(path)] == ["2", "3", "4"]


def test_a_spoilt_answer_is_none(opened: Opens, tmp_path: Path) -> None:
    path = tmp_path / "derived.sqlite3"
    store = opened(path)
    store.keep({"a": message("fit"), "b": message("not fit")})
    store.close()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(
            "UPDATE derived SET body = (SELECT body FROM derived WHERE key = 'b') WHERE key = 'a'"
        )
    assert opened(path).find(["a", "b"]) == {"b": message("not fit")}


def test_bytes_of_another_kind_with_a_right_sum_are_none(opened: Opens, tmp_path: Path) -> None:
    path = tmp_path / "derived.sqlite3"
    opened(path).keep({"a": 1})
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE derived SET body = ?, sum = ?", (b"no", module._sum("a", b"no")))
    assert opened(path).find(["a"]) == {}


@pytest.mark.parametrize(
    "content", [b"this is no database, and was none", b"SQLite format 3\0" + b"x" * 5000]
)
def test_a_file_that_is_no_such_file_is_done_without(opened: Opens, tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "derived.sqlite3"
    path.write_bytes(content)
    store = opened(path)
    store.keep({"a": 1})
    assert store.find(["a"]) == {}
    assert path.read_bytes() == content


def test_a_folder_that_is_not_there_is_done_without(opened: Opens, tmp_path: Path) -> None:
    store = opened(tmp_path / "nowhere" / "derived.sqlite3")
    store.keep({"a": 1})
    assert store.find(["a"]) == {}
    assert opened(None).find(["a"]) == {}


def test_while_another_program_writes_nothing_is_kept_and_later_it_is(opened: Opens, tmp_path: Path) -> None:
    path = tmp_path / "derived.sqlite3"
    store = opened(path)
    store.keep({"a": 1})
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    store.keep({"b": 2})
    assert store.find(["a", "b"]) == {"a": 1}
    other.execute("ROLLBACK")
    store.keep({"b": 2})
    assert store.find(["a", "b"]) == {"a": 1, "b": 2}
    other.close()


def test_many_threads_ask_and_keep_at_once(opened: Opens, tmp_path: Path) -> None:
    store, wrong = opened(tmp_path / "derived.sqlite3"), list[object]()

    def work(mine: int) -> None:
        for at in range(30):
            store.keep({f"{mine}.{at}": (mine, at)})
            if store.find([f"{mine}.{at}"]) != {f"{mine}.{at}": (mine, at)}:
                wrong.append((mine, at))

    threads = [Thread(target=work, args=(each,)) for each in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert not wrong


def test_another_program_is_another_hash(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    package = tmp_path / "lightoff"
    package.mkdir()
    (package / "__init__.py").write_text("")
    monkeypatch.setattr(module.lightoff, "__file__", str(package / "__init__.py"))
    seen = set()
    for text in ("", "a = 1", "a = 22"):
        (package / "one.py").write_text(text)
        module.program_hash.cache_clear()
        seen.add(module.program_hash())
    module.program_hash.cache_clear()
    assert len(seen) == 3
