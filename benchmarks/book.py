"""How fast the book is: written at once, kept one by one, looked through, at demo size and larger.

    python benchmarks/book.py [--times 100] [--folder FOLDER]

Prints one line for each measure: median and 95th percentile in milliseconds. The shop is made up on the
spot: 60 heaters, 300 visits and 45 readings a visit, `times` as many; it is no demo shop.
"""

from __future__ import annotations

import argparse
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from lightoff.ground.ids import time_ordered_id
from lightoff.records import Book, Close, Noun, body_of
from lightoff.terms.entry import Entry
from lightoff.terms.people import Heater, Owner, Vehicle, VehicleKind
from lightoff.terms.visit import Reading, Stage, Visit

HEATERS, VISITS_EACH, READINGS_EACH = 60, 5, 45
START = datetime(2024, 3, 1, 9, tzinfo=UTC)
DICE = random.Random(1)


def entry(field: str, noun: Noun, *, subject: str, at: datetime) -> Entry:
    entry_id = time_ordered_id(at, DICE.randbytes(10))
    return Entry(id=entry_id, subject=subject, field=field, value=body_of(noun), author="bench", at=at)


def household(number: int) -> Iterator[Entry]:
    owner, vehicle, heater = f"o{number}", f"v{number}", f"h{number}"
    yield entry("owner", Owner(id=owner, name=f"Owner {number}"), subject=owner, at=START)
    coach = Vehicle(id=vehicle, owner=owner, name=f"Coach {number}", kind=VehicleKind.COACH)
    yield entry("vehicle", coach, subject=vehicle, at=START)
    unit = Heater(id=heater, vehicle=vehicle, name="front", sheet="generic_9_kw", serial=f"S{number}")
    yield entry("heater", unit, subject=heater, at=START)
    for visit_number in range(VISITS_EACH):
        at = START + timedelta(days=60 * visit_number, minutes=number)
        yield from visit(f"{heater}-{visit_number}", heater, at)


def visit(visit_id: str, heater: str, at: datetime) -> Iterator[Entry]:
    yield entry("visit", Visit(id=visit_id, heater=heater, started_at=at), subject=visit_id, at=at)
    for number in range(READINGS_EACH):
        taken_at = at + timedelta(seconds=30 * number)
        value = Decimal(DICE.randrange(300, 600)).scaleb(-2)
        yield entry("reading", reading(heater, value, taken_at), subject=visit_id, at=taken_at)
    closed_at = at + timedelta(hours=2)
    yield entry("close", Close(id="", closed_at=closed_at), subject=visit_id, at=closed_at)


def reading(heater: str, value: Decimal, at: datetime) -> Reading:
    return Reading(
        id="",
        heater=heater,
        key="flue_o2",
        stage=Stage.AS_LEFT,
        taken_at=at,
        value=value,
        unit="%",
        basis="dry",
    )


def measured(name: str, act: Callable[[int], object], *, repeats: int = 200) -> None:
    spans_ms = []
    for number in range(repeats):
        start = time.perf_counter()
        act(number)
        spans_ms.append(1000 * (time.perf_counter() - start))
    p95 = statistics.quantiles(spans_ms, n=20)[-1]
    print(
        f"{name:42} {statistics.median(spans_ms):8.2f} ms  {p95:8.2f} ms at the 95th percentile", flush=True
    )


def fill(book: Book, times: int) -> None:
    entries = 0
    start = time.perf_counter()
    for first in range(0, HEATERS * times, HEATERS):
        share = [each for number in range(first, first + HEATERS) for each in household(number)]
        made = time.perf_counter()
        book.keep(share)
        entries += len(share)
        if first == 0:
            print(
                f"demo size, {entries} entries kept at once: {time.perf_counter() - made:.2f} s", flush=True
            )
    print(f"{entries} entries made and kept: {time.perf_counter() - start:.1f} s", flush=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=1)
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.folder) as folder:
        path = Path(folder) / "bench.book"
        with Book.open(path) as book:
            fill(book, asked.times)
        print(f"file: {path.stat().st_size / 1e6:.0f} MB")
        heaters = HEATERS * asked.times
        with Book.open(path) as book:
            measured("list, first page", lambda _: book.search())
            last = book.search()[-1].heater.id
            measured("list, second page", lambda _: book.search(after=last))
            measured("search, one heater found", lambda n: book.search(f"coach {n % heaters} "))
            measured("search, nothing found", lambda n: book.search(f"nobody{n}"))
            measured("a heater's visits", lambda n: book.visits_of(f"h{n * 37 % heaters}"))
            measured("a visit's case", lambda n: book.case(f"h{n * 37 % heaters}-4"))
            measured("a visit's history", lambda n: book.history(f"h{n * 37 % heaters}-4"))
            late = START + timedelta(days=900)
            measured(
                "one reading kept (autosave)",
                lambda n: book.keep(
                    [entry("reading", reading("h1", Decimal(n), late), subject="h1-4", at=late)]
                ),
                repeats=100,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
