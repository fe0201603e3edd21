"""How long the server takes for each page, at demo size and a hundred times.

    python benchmarks/pages.py [--times 100] [--asks 60] [--shop FOLDER] [--whole-only]

Starts `lightoff serve` on an invented shop, `times` as large as the demo shop (made anew in a temporary
folder, or kept in FOLDER for the next time), and asks for its pages from this process by one connection:
from the request sent to the last byte of the answer, so the time of the server with that of its sockets.

*Never judged*: every heater and visit is asked for once, in an order drawn at random, of a shop of which
nothing was worked out before. *After a start*: the same by a server that has just started. *Again*: the same
once more, as when one goes back and forth. *Drawn ahead*: of a shop of which nothing was worked out before,
twenty heaters and visits one after the other, as people come to them: a vehicle is searched for by its name
and some seconds later its page opened, for a card its heater's page some seconds before.
`floor` is the shortest answer that the same server gives (`/healthz`, which asks the book one question).
Three times in turn, each of a copy of the shop; for each page the run with the middle median counts.

Pages over the whole shop are asked for once each in four looks: with nothing worked out, by a server that has
just started, again, and after one entry; what is shown is the middle of three runs.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

from lightoff.ground.ids import time_ordered_id
from lightoff.records import body_of
from lightoff.terms.visit import Reading, Stage
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.workshop import DERIVED, INVENTED, open_shop

RUNS = 3
DICE = random.Random(1)
AIM_MS = 30.0
REPORT = "report (PDF)"
LOOKS = ("never judged", "after a start", "again", "drawn ahead")
TYPED: list[str] = []  # the entries of one reading that is typed again and again, in one copy of the shop


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """What is asked for: heaters and visits drawn from the shop, words of owners, the latest open visit."""

    heaters: list[str]
    visits: list[str]
    of_visits: list[str]  # the heater of each visit
    words: list[str]
    names: list[str]  # of the heaters' vehicles
    open_visit: str
    open_heater: str


def sampled(shop: Path, asks: int) -> Sample:
    """So many heaters and visits."""
    with open_shop(shop, create=False) as workshop:
        lines = workshop.book.search(limit=1_000_000)
        some = DICE.sample(lines, min(asks + 1, len(lines)))
        of_each = [[each.id for each in workshop.book.visits_of(line.heater.id)] for line in lines]
        every = [(visit, at) for at, visits in enumerate(of_each) for visit in visits]
        drawn = DICE.sample(every, min(asks + 1, len(every)))
        under_way = workshop.book.open_visits(1)[0]
        return Sample(
            heaters=[each.heater.id for each in some],
            visits=[visit for visit, _ in drawn],
            of_visits=[lines[at].heater.id for _, at in drawn],
            words=[each.owner.name.split()[0] for each in some],
            names=[each.vehicle.name for each in some],
            open_visit=under_way.id,
            open_heater=under_way.heater,
        )


@contextmanager
def copied(shop: Path) -> Iterator[Path]:
    """A copy of the shop, of which nothing is worked out: what one run types would wear it for the next."""
    TYPED.clear()
    with tempfile.TemporaryDirectory() as folder:
        yield shutil.copytree(shop, Path(folder) / "shop", ignore=shutil.ignore_patterns(f"{DERIVED}*"))


@contextmanager
def serving(shop: Path) -> Iterator[http.client.HTTPConnection]:
    """A connection to a server that has just started on this shop."""
    command = [str(Path(sys.executable).parent / "lightoff"), "serve", "--shop", str(shop), "--port", "0"]
    server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        assert server.stdout is not None
        found = None
        while found is None:
            line = server.stdout.readline()
            if not line:
                raise SystemExit("the server ended before it answered")
            found = re.search(r"http://([\d.]+):(\d+)", line)
        connection = http.client.HTTPConnection(found[1], int(found[2]), timeout=60)
        connection.request("GET", "/healthz")
        connection.getresponse().read()
        yield connection
    finally:
        server.terminate()
        server.wait()


class Browser:
    """Asks and takes the time."""

    def __init__(self, connection: http.client.HTTPConnection) -> None:
        self.connection = connection
        self.origin = {"origin": f"http://{connection.host}:{connection.port}"}

    def pause(self, seconds: float) -> None:
        """Let the server be; it may hang up meanwhile, and the next question calls anew."""
        time.sleep(seconds)
        self.connection.close()

    def ask_ms(self, address: str, sent: object = None) -> float:
        """Milliseconds until the last byte of a good answer."""
        body = None if sent is None else json.dumps(sent).encode()
        headers = self.origin | ({} if body is None else {"content-type": "application/json"})
        start = time.perf_counter()
        if self._status(address, body, headers) != 200:
            raise SystemExit(f"{address} gave no good answer")
        return 1e3 * (time.perf_counter() - start)

    def until_there_ms(self, address: str) -> float:
        """Milliseconds until a page that may have to be gathered first is there."""
        start = time.perf_counter()
        while (status := self._status(address, None, self.origin)) == 202:
            time.sleep(0.1)
        if status != 200:
            raise SystemExit(f"{address} answered {status}")
        return 1e3 * (time.perf_counter() - start)

    def _status(self, address: str, body: bytes | None, headers: dict[str, str]) -> int:
        self.connection.request("GET" if body is None else "POST", address, body=body, headers=headers)
        answer = self.connection.getresponse()
        answer.read()
        return answer.status


def draft(sample: Sample, number: int, *, corrects: str | None = None) -> dict[str, object]:
    """One reading as the capture script sends it; typed again it corrects itself."""
    at = datetime.now(tz=UTC)
    noun = Reading(id="", heater=sample.open_heater, key="hour_meter", stage=Stage.AS_FOUND, taken_at=at)
    body = body_of(noun)
    assert isinstance(body, dict)
    return {
        "id": time_ordered_id(at, os.urandom(10)),
        "subject": sample.open_visit,
        "field": "reading",
        "value": {**body, "value": str(1000 + number), "unit": "h"},
        "author": "bench",
        "at": at.isoformat(),
        "corrects": corrects,
    }


def questions(browser: Browser, sample: Sample, asks: int) -> dict[str, list[Callable[[], float]]]:
    """What is asked for, page by page."""

    def get(addresses: Sequence[str]) -> list[Callable[[], float]]:
        return [lambda address=address: browser.ask_ms(address) for address in addresses]  # type: ignore[misc]

    def keep(number: int) -> Callable[[], float]:
        def ask_ms() -> float:
            typed = draft(sample, number, corrects=TYPED[-1] if TYPED else None)
            TYPED.append(str(typed["id"]))
            return browser.ask_ms("/entries", [typed])

        return ask_ms

    def preview(number: int) -> Callable[[], float]:
        address = f"/visits/{sample.open_visit}/preview"
        return lambda: browser.ask_ms(address, [draft(sample, number)])

    return {
        "floor": get(["/healthz"] * asks),
        "list": get(["/"] * asks),
        "list, further on": get([f"/?after={each}" for each in sample.heaters]),
        "search": get([f"/?search={each}" for each in sample.words]),
        "heater": get([f"/heaters/{each}" for each in sample.heaters]),
        "visit card": get([f"/visits/{each}" for each in sample.visits]),
        "card under way": get([f"/visits/{sample.open_visit}"] * asks),
        "preview": [preview(number) for number in range(asks)],
        "one reading kept": [keep(number) for number in range(asks)],
        "hand-over": get([f"/visits/{each}/hand-over" for each in sample.visits]),
        REPORT: get([f"/visits/{each}/report.pdf" for each in sample.visits]),
        "settings": get(["/settings"] * asks),
        "new heater": get(["/heaters/new"] * asks),
    }


def measured(shop: Path, sample: Sample, asks: int) -> dict[str, tuple[list[float], ...]]:
    """By page the milliseconds of each of `LOOKS`.

    Hand-over and report follow the card of the same visits, as they do in the bay.
    """
    rest = replace(
        sample,
        heaters=sample.heaters[1:],
        names=sample.names[1:],
        visits=sample.visits[1:],
        of_visits=sample.of_visits[1:],
    )
    other = replace(sample, heaters=sample.heaters[:1], visits=sample.visits[:1])
    looks: list[dict[str, list[float]]] = []
    for is_first, comes, times in ((True, False, 1), (False, False, 2), (True, True, 1)):
        for each in shop.glob(f"{DERIVED}*") if is_first else ():
            each.unlink()
        with serving(shop) as connection:
            browser = Browser(connection)
            browser.ask_ms("/")
            for ask in (each[0] for each in questions(browser, other, 1).values()):
                ask()  # templates are read and compiled by the first page of a kind
            asked = questions(browser, rest, asks)
            if comes:
                looks.append(come_to(browser, rest, asked))
            else:
                looks += [
                    {name: [ask() for ask in each] for name, each in asked.items()} for _ in range(times)
                ]
    return {name: tuple(look[name] for look in looks) for name in asked}


def come_to(
    browser: Browser, sample: Sample, asked: dict[str, list[Callable[[], float]]]
) -> dict[str, list[float]]:
    """Pages of some heaters and visits, each a while after that from which it is opened; then the rest."""
    taken: dict[str, list[float]] = {name: [] for name in asked}
    for at in range(min(COME_TO, len(sample.heaters))):
        browser.ask_ms(f"/?search={quote(sample.names[at])}")
        browser.pause(AHEAD_S)
        taken["heater"].append(asked["heater"][at]())
        browser.ask_ms(f"/heaters/{sample.of_visits[at]}")
        browser.pause(AHEAD_S)
        for name in OF_A_VISIT:
            taken[name].append(asked[name][at]())
    for name, some in taken.items():
        if not some:
            some += [ask() for ask in asked[name][:COME_TO]]
    return taken


AHEAD_S = 6.0
"""Longer than what is opened from one page takes to be drawn ahead."""
COME_TO = 20
OF_A_VISIT = ("visit card", "hand-over", REPORT)
WHOLE = ("/due", "/wear", "/wear/igniter", "/spares", "/planning")
"""Pages over the whole shop; the first of them gathers it."""
KEEPING_S = 15.0
WHOLE_LOOKS = ("nothing worked out", "after a start", "again", "after one entry")


def whole_shop(shop: Path, sample: Sample) -> dict[str, tuple[float, ...]]:
    """By page over the whole shop the milliseconds until it is there, in the order of the list.

    A page that is still being gathered is asked for again, as a browser does, but every tenth of a second.
    """
    looks = []
    for first in (True, False):
        with serving(shop) as connection:
            browser = Browser(connection)
            looks.append({page: browser.until_there_ms(page) for page in WHOLE})
            if not first:
                looks.append({page: browser.until_there_ms(page) for page in WHOLE})
                typed = draft(sample, 0, corrects=TYPED[-1] if TYPED else None)
                TYPED.append(str(typed["id"]))
                browser.ask_ms("/entries", [typed])
                looks.append({page: browser.until_there_ms(page) for page in WHOLE})
            if first:
                time.sleep(KEEPING_S)  # what was worked out is kept beside the pages
    return {page: tuple(look[page] for look in looks) for page in WHOLE}


def p95(taken: Sequence[float]) -> float:
    """The 95th percentile."""
    return statistics.quantiles(taken, n=20, method="inclusive")[-1]


def main() -> None:
    """Make the shop where it is missing, measure, print a table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--times", type=int, default=1, help="how many times the demo shop")
    parser.add_argument("--asks", type=int, default=60, help="of each page, in each run")
    parser.add_argument("--shop", type=Path, help="keep the shop here; one that stands is taken as it is")
    parser.add_argument("--whole-only", action="store_true", help="only the pages over the whole shop")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        shop = asked.shop or Path(folder) / "shop"
        if not (shop / INVENTED).is_file():
            start = time.perf_counter()
            make_demo_shop(shop, datetime.now(tz=UTC), times=asked.times)
            print(f"shop made in {time.perf_counter() - start:.0f} s")
        with open_shop(shop, create=False) as workshop:
            heaters = workshop.book.search(limit=1_000_000)
        print(f"{len(heaters)} heaters, {sum(each.visit_count for each in heaters)} visits; ", end="")
        print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        sample = sampled(shop, asked.asks)
        whole, runs = [], []
        for _ in range(RUNS):
            with copied(shop) as own:
                whole.append(whole_shop(own, sample))
        for _ in () if asked.whole_only else range(RUNS):
            with copied(shop) as own:
                runs.append(measured(own, sample, asked.asks))
    print(f"| over the whole shop, s | {' | '.join(WHOLE_LOOKS)} |")
    print(f"|---|{'---|' * len(WHOLE_LOOKS)}")
    for page in WHOLE:
        middle = [statistics.median(run[page][look] for run in whole) for look in range(len(WHOLE_LOOKS))]
        print(f"| {page} | {' | '.join(f'{1e-3 * each:.2f}' for each in middle)} |", flush=True)
    if not runs:
        return
    print(f"| median / 95th percentile, ms | {' | '.join(LOOKS)} |")
    print(f"|---|{'---|' * len(LOOKS)}")
    for run in runs:  # the report has an aim of its own
        pages = [looks for name, looks in run.items() if name not in ("floor", REPORT)]
        run["any page but the report"] = tuple(
            [taken for looks in pages for taken in looks[at]] for at in range(len(LOOKS))
        )
    for name in runs[0]:
        cells = []
        for look in range(len(LOOKS)):
            middle = sorted((run[name][look] for run in runs), key=statistics.median)[RUNS // 2]
            high = p95(middle)
            told = f"{statistics.median(middle):.1f} / {high:.1f}"
            cells.append(told if high < AIM_MS else f"**{told}**")
        print(f"| {name} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
