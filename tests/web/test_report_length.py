"""The owner's report is two or three pages, photographs too; four where much was looked for and found."""

from __future__ import annotations

import io
from collections import Counter

import pikepdf
from starlette.testclient import TestClient

from lightoff.terms.visit import Visit
from lightoff.work.workshop import Workshop

ASKED_OF = 12  # heaters, the last two closed visits of each


def test_nearly_all_reports_have_three_pages_at_most(client: TestClient, shop: Workshop) -> None:
    pages: Counter[int] = Counter()
    for line in shop.book.search(limit=ASKED_OF):
        closed = [each for each in shop.book.visits_of(line.heater.id) if each.closed_at]
        pages.update(page_count(client, visit) for visit in closed[-2:])
    assert max(pages) <= 4
    assert min(pages) >= 2
    assert pages[4] <= 0.1 * pages.total(), pages


def test_a_visit_with_photographs_of_meter_nozzle_and_smoke_paper_has_three_pages(
    client: TestClient, shop: Workshop
) -> None:
    visits = (each for heater in shop.book.heaters() for each in shop.book.visits_of(heater.id))
    shown = [each for each in visits if each.closed_at and len(each.photos) >= 5]
    assert shown
    assert all(page_count(client, each) <= 3 for each in shown)


def page_count(client: TestClient, visit: Visit) -> int:
    answer = client.get(f"/visits/{visit.id}/report.pdf")
    return len(pikepdf.open(io.BytesIO(answer.content)).pages)
