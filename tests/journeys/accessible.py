"""What axe-core finds on a page: WCAG 2.2 AA and its best practice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from playwright.sync_api import Page

AXE = next((Path(__file__).parents[1] / "vendor").glob("axe-core-*/axe.min.js"))
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def violations(page: Page) -> list[str]:
    """What axe-core finds: rule, and the first element."""
    # At the end of the page, where its foot lies under what it covers elsewhere: a link half beneath it is
    # scrolled free, and how far down a page a link lies is no matter of its size.
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found: dict[str, Any] = page.evaluate(
        "tags => axe.run(document, {runOnly: {type: 'tag', values: tags}})", TAGS
    )
    return [
        f"{page.url}: {each['id']}: {node['html'][:160]} {node['failureSummary'][:200]}"
        for each in found["violations"]
        for node in each["nodes"][:3]
    ]
