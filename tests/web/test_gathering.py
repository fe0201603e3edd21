"""What takes long over the whole shop says so and comes by itself; what fails is told, and begun again."""

from __future__ import annotations

import re
import threading
from typing import TYPE_CHECKING, Any

import pytest

from lightoff.web import due, gathering

if TYPE_CHECKING:
    from conftest import Bay


def test_a_page_that_takes_long_says_so_and_comes_by_itself(
    bay: Bay, monkeypatch: pytest.MonkeyPatch
) -> None:
    may_end, begun, asked = threading.Event(), [], due.who_needs_visit

    def slow(*words: Any, **more: Any) -> Any:
        begun.append(1)
        assert may_end.wait(20)
        return asked(*words, **more)

    monkeypatch.setattr(gathering, "PATIENCE_S", 0.05)
    monkeypatch.setattr(due, "who_needs_visit", slow)
    first = bay.client.get("/due")
    again = bay.client.get("/due")
    assert (first.status_code, again.status_code) == (202, 202)
    assert "under_way.js" in first.text
    assert first.headers["retry-after"] == "2"
    assert re.search(r'<progress id="far" max="100" value="\d+">', first.text)
    assert "Heaters: 1." in first.text
    assert len(begun) == 1  # it is not begun twice
    may_end.set()
    monkeypatch.setattr(gathering, "PATIENCE_S", 20)
    assert bay.client.get("/due").status_code == 200
    assert len(begun) == 1  # and what it found is what is shown
    assert bay.client.get("/due").status_code == 200
    assert len(begun) == 2


def test_what_fails_is_told_and_begun_anew(bay: Bay, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any, **__: Any) -> Any:
        raise TimeoutError("the disk")

    monkeypatch.setattr(due, "who_needs_visit", broken)
    assert bay.client.get("/due").status_code >= 400
    monkeypatch.undo()
    assert bay.client.get("/due").status_code == 200


def test_what_was_worked_out_is_kept_for_the_next_start(bay: Bay) -> None:
    assert bay.client.get("/wear").status_code == 200
    kept = bay.workshop.derived._path
    assert kept is not None
    assert kept.stat().st_size > 0


def test_what_cannot_be_kept_at_the_end_is_no_trouble(bay: Bay, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: object) -> None:
        raise OSError("no room left on the disk")

    monkeypatch.setattr(gathering, "keep_known", full)
    gathering.keep_at_end(bay.workshop)
