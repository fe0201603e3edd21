"""The order in which entries arrive, and how often, changes nothing."""

from __future__ import annotations

import random
import tempfile
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lightoff.records import Book, Kept
from lightoff.records.checking import digest
from lightoff.records.tables import PROJECTIONS
from lightoff.terms.entry import Entry


def _story(pen: Any, dice: random.Random) -> list[Entry]:
    """A day in a shop: households, visits, readings, and corrections of all of them."""
    told = [*pen.household(1), *pen.household(2)]
    told += [pen.visit("visit-1"), pen.visit("visit-2", heater="heater-2"), pen.reading("1"), pen.close()]
    for number in range(dice.randrange(4, 14)):
        pen.now = pen.now.replace(second=dice.randrange(0, 3))  # clocks of two devices disagree
        chosen = dice.choice(told)
        match dice.randrange(7):
            case 0 | 1 if chosen.field == "reading":
                told.append(pen.reading(f"2.{number}", visit=chosen.subject, corrects=chosen.id))
            case 0 | 1 | 2:
                told.append(pen.reading(f"3.{number}", visit=f"visit-{dice.randrange(1, 4)}"))
            case 3:
                told.append(pen.withdrawal(chosen))
            case 4:
                told.append(pen.entry(chosen.field, chosen.value, subject=chosen.subject, corrects=chosen.id))
            case 5:
                told.append(
                    pen.visit("visit-1", heater=f"heater-{dice.randrange(1, 3)}", corrects=told[6].id)
                )
            case 6:
                late = dice.choice(told).id
                told.append(pen.entry("accept", {"reading": late}, subject="visit-1", author=f"a{number}"))
    return told


def _state(book: Book) -> Any:
    with book._opened.reader.begin() as connection:
        projected = {table.name: digest(connection, table) for table in PROJECTIONS}
    visits = [book.visits_of(heater) for heater in ("heater-1", "heater-2")]
    return projected, visits, book.history("visit-1"), book.search()


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**9), st.randoms(use_true_random=False))
def test_any_order_and_any_repetition_give_the_same_book(
    new_pen: Any, seed: int, dice: random.Random
) -> None:
    story = _story(new_pen(dice=random.Random(seed)), random.Random(seed))
    shuffled = story + dice.choices(story, k=5)
    dice.shuffle(shuffled)
    with (
        tempfile.TemporaryDirectory() as folder,
        Book.open(Path(folder) / "a") as straight,
        Book.open(Path(folder) / "b") as crooked,
    ):
        straight.keep(story)
        start = 0
        while start < len(shuffled):
            size = dice.randrange(1, 5)
            answers = crooked.keep(shuffled[start : start + size], each_by_itself=True)
            assert all(isinstance(each, Kept) for each in answers)
            start += size
        assert _state(crooked) == _state(straight)
        assert crooked.check().differing == (), "a rebuild finds nothing to change"
