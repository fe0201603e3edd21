"""The owner's report is two or three pages, photographs apart; four where much was looked for and found."""

from __future__ import annotations

import io
from collections import Counter

import pikepdf
from starlette.testclient import TestClient

from lightoff.work.workshop import Workshop

ASKED_OF = 16  # heaters, the last two closed visits of each


def test_nearly_all_reports_have_three_pages_at_most(client: TestClient, shop: Workshop) -> None:
    pages: Counter[int] = Counter()
    for line in shop.book.search(limit=ASKED_OF):
        closed = [each for each in shop.book.visits_of(line.heater.id) if each.closed_at and not each.photos]
        for visit in closed[-2:]:
            answer = client.get(f"/visits/{visit.id}/report.pdf")
            pages[len(pikepdf.open(io.BytesIO(answer.content)).pages)] += 1
    assert max(pages) <= 4
    assert min(pages) >= 2
    assert pages[4] <= 0.2 * pages.total(), pages
