"""Pieces, what happened to them, bins and the steps of the order of work, in every kind of book."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from lightoff.ground.errors import Refusal
from lightoff.records import SHOP, Book
from lightoff.terms.part import Bin, Move, MoveKind, Outcome, Part, StepDone
from lightoff.terms.people import Planning
from lightoff.texts import Speaker

AT = datetime(2026, 3, 1, 10, tzinfo=UTC)
IGNITER = Part(id="part-1", kind="igniter", heater="heater-1", stamped_on=date(2024, 5, 1), serial="A 7")


def move(pen: Any, kind: MoveKind, *, part: str = "part-1", **more: Any) -> Any:
    noun = Move(id="", heater="heater-1", part=part, kind=kind, at=pen.now, **more)
    return pen.entry("move", noun, subject="visit-1")


def step(pen: Any, key: str, outcome: Outcome, *, corrects: str | None = None, **more: Any) -> Any:
    noun = StepDone(id="", heater="heater-1", step=key, outcome=outcome, at=pen.now, **more)
    return pen.entry("step", noun, subject="visit-1", corrects=corrects)


def test_a_piece_and_its_moves_come_back_as_written(book: Book, pen: Any) -> None:
    found = move(pen, MoveKind.FOUND)
    kept = move(pen, MoveKind.KEPT, why="new one fitted", condition="clean, 9.1 A", price=Decimal("12.50"))
    book.keep([*pen.household(), pen.visit(), pen.entry("part", IGNITER, subject="part-1"), found, kept])
    assert book.parts("heater-1") == book.parts() == (IGNITER,)
    first, second = book.moves("heater-1")
    assert (first.id, first.kind) == (found.id, MoveKind.FOUND)
    assert (second.why, second.price, second.condition) == (
        "new one fitted", Decimal("12.50"), "clean, 9.1 A"
    )  # fmt: skip
    assert book.visit("visit-1").moves == book.moves() == (first, second)
    assert book.moves("heater-2") == book.parts("heater-2") == ()


def test_a_move_taken_back_never_happened(book: Book, pen: Any) -> None:
    scrapped = move(pen, MoveKind.SCRAPPED)
    book.keep([*pen.household(), pen.visit(), scrapped])
    book.keep([pen.withdrawal(scrapped)])
    assert book.moves() == ()
    assert book.check().is_sound


def test_a_bin_is_what_was_counted_last(book: Book, pen: Any) -> None:
    one = Bin(id="bin-1", kind="nozzle_ring", place="van", counted=3, counted_at=AT, minimum=2)
    book.keep([pen.entry("bin", one, subject="bin-1")])
    (stands,) = book.standing("bin", "bin-1")
    more = Bin(id="bin-1", kind="nozzle_ring", place="van", counted=9, counted_at=AT, price=Decimal("4.2"))
    book.keep([pen.entry("bin", more, subject="bin-1", corrects=stands.id)])
    assert book.bins() == (more,)


def test_what_the_shop_reckons_with_is_the_judgement_until_it_is_set(book: Book, pen: Any) -> None:
    assert book.planning() == Planning()
    own = Planning(hour_rate=Decimal("84.5"), spring_month=4, service_hours=1200)
    book.keep([pen.entry("planning", own, subject=SHOP)])
    assert book.planning() == own
    book.rebuild()
    assert book.planning() == own
    assert book.check().is_sound


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("spring_month", 13, "“spring_month” is 13; it must lie from 1 to 12."),
        ("hour_rate", "-1", "“hour_rate” is -1; it must lie from 0 to 1000000."),
        ("usual_price", "0", "“usual_price” is 0; it must lie from 0.01 to 1000000."),
    ],
)
def test_what_no_shop_reckons_with_is_refused(book: Book, pen: Any, name: str, value: Any, said: str) -> None:
    with pytest.raises(Refusal) as caught:
        book.keep([replace(pen.entry("planning", Planning(), subject=SHOP), value={name: value})])
    assert Speaker().say(caught.value.message) == said
    assert book.planning() == Planning()


def test_of_a_step_its_last_word_counts_and_the_others_are_history(book: Book, pen: Any) -> None:
    skipped = step(pen, "sight_tube", Outcome.NOT_DONE, reason="no light")
    book.keep([*pen.household(), pen.visit(), skipped])
    assert [(each.step, each.reason) for each in book.visit("visit-1").steps] == [("sight_tube", "no light")]
    book.keep([step(pen, "sight_tube", Outcome.DONE), step(pen, "dry_joints", Outcome.DONE)])
    told = {each.step: each.outcome for each in book.visit("visit-1").steps}
    assert told == {"sight_tube": Outcome.DONE, "dry_joints": Outcome.DONE}


def test_a_rebuild_finds_them_all_again(book: Book, pen: Any) -> None:
    entries = [*pen.household(), pen.visit(), pen.entry("part", IGNITER, subject="part-1")]
    book.keep([*entries, move(pen, MoveKind.FITTED, bin="bin-1"), step(pen, "prove", Outcome.DONE)])
    before = (book.parts(), book.moves(), book.bins(), book.visit("visit-1"))
    book.rebuild()
    assert (book.parts(), book.moves(), book.bins(), book.visit("visit-1")) == before


@pytest.mark.parametrize(
    ("field", "body"),
    [
        ("part", {"heater": "heater-1"}),
        ("part", {"heater": " ", "kind": "igniter"}),
        ("move", {"heater": "heater-1", "part": "part-1", "kind": "eaten", "at": "2026-03-01T10:00:00Z"}),
        ("step", {"heater": "heater-1", "step": "", "outcome": "done", "at": "2026-03-01T10:00:00Z"}),
        ("bin", {"kind": "nozzle", "place": "van", "counted": "three", "counted_at": "2026-03-01T10:00:00Z"}),
    ],
)
def test_nonsense_is_refused_and_nothing_is_kept(book: Book, pen: Any, field: str, body: Any) -> None:
    with pytest.raises(Refusal):
        book.keep([pen.entry(field, body, subject="visit-1")])
    assert book.entries("visit-1") == ()


def test_news_name_the_heaters_that_were_spoken_of_since(book: Book, pen: Any) -> None:
    everything = book.news()
    assert everything.heaters is None or everything.mark == 0
    book.keep([*pen.household(), pen.visit(), pen.entry("part", IGNITER, subject="part-1")])
    first = book.news()
    assert book.news(first.mark).heaters == frozenset()
    book.keep([move(pen, MoveKind.FITTED)])
    since = book.news(first.mark)
    assert since.mark != first.mark
    # A database that does not number its rows says that it may have been any heater.
    assert since.heaters in (frozenset({"heater-1"}), None)
    (owner,) = book.owners()
    (said,) = book.standing("owner", owner.id)
    renamed = replace(owner, telephone="555")
    book.keep([pen.entry("owner", renamed, subject=owner.id, corrects=said.id)])
    of_owner = book.news(since.mark)
    assert of_owner.heaters in (frozenset({"heater-1"}), None)
    since = of_owner
    corrected = replace(IGNITER, heater="heater-2")
    (stands,) = book.standing("part", "part-1")
    book.keep([pen.entry("part", corrected, subject="part-1", corrects=stands.id)])
    assert book.news(since.mark).heaters is None


def test_what_was_said_so_far_stands_till_something_new_is_said_by_whoever(
    book: Book, address: str, pen: Any
) -> None:
    book.keep(pen.household())
    first = book.said_so_far()
    assert book.said_so_far() == first
    with Book.open(address) as other:
        other.keep([pen.visit()])
    second = book.said_so_far()
    assert second != first
    book.keep([pen.reading()])
    assert book.said_so_far() not in {first, second}


def test_whatever_is_said_of_a_heater_is_told_by_how_much_was_said_of_it(book: Book, pen: Any) -> None:
    book.keep([*pen.household(), pen.visit(), pen.entry("part", IGNITER, subject="part-1")])
    first, other = book.said_of("heater-1"), book.said_of("heater-2")
    assert first == {("heater-1", 1), ("visit-1", 1), ("part-1", 1)}
    book.keep([move(pen, MoveKind.FOUND)])
    assert book.said_of("heater-1") == {("heater-1", 1), ("visit-1", 2), ("part-1", 1)}
    (stands,) = book.standing("part", "part-1")
    moved = replace(IGNITER, heater="heater-2")
    book.keep([pen.entry("part", moved, subject="part-1", corrects=stands.id)])
    assert book.said_of("heater-1") == {("heater-1", 1), ("visit-1", 2)}, "the piece belongs to another"
    assert book.said_of("heater-2") == other | {("part-1", 2)}


def test_heads_of_visits_come_without_what_was_read(book: Book, pen: Any) -> None:
    book.keep([*pen.household(), pen.visit()])
    (head,) = book.visit_heads("heater-1")
    assert (head.id, head.heater, head.closed_at) == ("visit-1", "heater-1", None)
    assert book.visit_heads() == (head,)
    assert book.visit_heads("heater-9") == ()
