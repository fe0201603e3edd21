"""What a page comes to, asked again and again from outside.

The browser's own waiting makes a script of a string within the page, which our pages forbid: where it has to
look twice, that is a fault in the console, and an answer that is still to come it takes for yes.
"""

from __future__ import annotations

import time
from typing import Any

from playwright.sync_api import Page

WITHIN_S = 10.0


def comes_true(page: Page, asked: str, told: Any = None, *, within_s: float = WITHIN_S) -> bool:
    """Whether a question to the page, a function of `told` in its script, is answered with yes in time."""
    until = time.monotonic() + within_s
    while not page.evaluate(asked, told):
        if time.monotonic() > until:
            return False
        page.wait_for_timeout(50)
    return True
