"""What the server takes for each page of the demo shop, without the network and the browser.

    python benchmarks/pages.py [--times 60] [--size 100]

Prints median and 95th percentile in milliseconds. Pages are asked for through the application itself, one
heater and visit after the other, so that nothing is asked for twice in a row.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import cycle
from pathlib import Path

from fastapi.testclient import TestClient

from lightoff.web.app import create_app
from lightoff.work.make_demo_shop import make_demo_shop
from lightoff.work.workshop import open_shop


def measured(ask: Callable[[], object], times: int) -> tuple[float, float]:
    """Median and 95th percentile of so many calls, milliseconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        ask()
        taken.append(1e3 * (time.perf_counter() - start))
    return statistics.median(taken), sorted(taken)[round(0.95 * (times - 1))]


def main() -> None:
    """Make the demo shop, ask for its pages, print a line for each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=60)
    parser.add_argument("--size", type=int, default=1, help="so many times the demo shop")
    asked = parser.parse_args()
    times = asked.times
    with tempfile.TemporaryDirectory() as folder:
        now = datetime.now(tz=UTC)
        workshop = open_shop(make_demo_shop(Path(folder) / "shop", now, times=asked.size))
        with TestClient(create_app(workshop), base_url="http://127.0.0.1") as client:
            heaters = [each.heater.id for each in workshop.book.search(limit=200)]
            visits = [each.id for heater in heaters for each in workshop.book.visits_of(heater)]
            one_heater, one_visit = cycle(heaters), cycle(visits)

            def page(address: Callable[[], str]) -> Callable[[], object]:
                def ask() -> object:
                    answer = client.get(address())
                    if answer.status_code != 200:
                        raise SystemExit(f"{answer.url} answered {answer.status_code}")
                    return answer

                return ask

            pages = {
                "list": lambda: "/",
                "search": lambda: "/?q=mira",
                "heater": lambda: f"/heaters/{next(one_heater)}",
                "visit": lambda: f"/visits/{next(one_visit)}",
                "hand-over": lambda: f"/visits/{next(one_visit)}/hand-over",
                "settings": lambda: "/settings",
            }
            for name, address in pages.items():
                client.get(address())
                median, high = measured(page(address), times)
                print(f"{name:<10} {median:7.1f} {high:7.1f}")
        workshop.close()


if __name__ == "__main__":
    main()
