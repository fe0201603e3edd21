"""Pages over the whole shop: what takes long the first time is worked out beside, and the page says so."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Hashable
from concurrent.futures import Future, ThreadPoolExecutor
from datetime import datetime
from threading import Lock
from typing import Any, TypeVar

from starlette.responses import Response

from lightoff.ground.values import dataclass
from lightoff.web.page import Page
from lightoff.work.fleet import fleet, keep_known
from lightoff.work.who_needs_visit import judge_on
from lightoff.work.workshop import Workshop

Answer = TypeVar("Answer")

PATIENCE_S = 2.5
"""What takes longer than this shows that it is under way, in the place of a page that seems to hang."""
AGAIN_S = 2
FIRST_S_A_HEATER = 0.004
"""About how long the first reckoning of a shop takes, measured at 6,400 heaters; for the bar alone."""
MOST_AFTER = 40
"""Last visits judged while a page is read: some three seconds beside other pages. Judgement."""
_AT_ONCE = 500  # heaters of which what was worked out is kept before the page is shown
_log = logging.getLogger("lightoff.web")


@dataclass(frozen=True, slots=True)
class _Begun:
    future: Future[Any]
    at_s: float


class Gathering:
    """Work under way, by what it is; the same is never begun twice at once."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._begun: dict[Hashable, _Begun] = {}
        self._threads: ThreadPoolExecutor | None = None
        self._going_on: Future[None] | None = None

    def answer(self, page: Page, name: Hashable, work: Callable[[], Answer]) -> Answer | Response:
        """What the work answers; a page that says how far it is where that takes longer than a moment.

        Raises what the work raises.
        """
        with self._lock:
            begun = self._begun.get(name)
            if begun is None:
                begun = self._begun[name] = _Begun(self._submit(work), time.monotonic())
        try:
            found: Answer = begun.future.result(timeout=PATIENCE_S)
        except TimeoutError:
            if not begun.future.done():
                return _under_way(page, time.monotonic() - begun.at_s)
            raise  # the work itself raised it
        finally:
            if begun.future.done():
                with self._lock:
                    if self._begun.get(name) is begun:
                        del self._begun[name]
        self._keep(page)
        return found

    def _submit(self, work: Callable[[], Answer]) -> Future[Answer]:
        if self._threads is None:
            self._threads = ThreadPoolExecutor(max_workers=2, thread_name_prefix="gathering")
        return self._threads.submit(work)

    def _keep(self, page: Page) -> None:
        """Keep what was worked out for the next start; of a large shop while the page is read."""
        workshop, now = page.house.workshop, page.now
        every = fleet(workshop, now)
        if len(every.units) <= _AT_ONCE:
            every.keep(workshop)
        else:
            with self._lock:
                if self._going_on is None or self._going_on.done():
                    self._going_on = self._submit(lambda: _gone_on(workshop, now))


def keep_at_end(workshop: Workshop) -> None:
    """Keep what was worked out of the shop for the next start, when nobody asks any more."""
    try:
        keep_known(workshop)
    except Exception:  # noqa: BLE001 nothing of it is a record, and the program ends anyhow
        _log.warning("what was worked out of the shop was not kept", exc_info=True)


def _gone_on(workshop: Workshop, now: datetime) -> None:
    """Judge some of the last visits that wait for it, and keep all that was worked out."""
    try:
        judge_on(workshop, now, most=MOST_AFTER)
        fleet(workshop, now).keep(workshop)
    except Exception:  # noqa: BLE001 nothing of it is a record, and the page is shown already
        _log.warning("what was worked out of the shop was not kept", exc_info=True)


def _under_way(page: Page, so_far_s: float) -> Response:
    heaters = len(page.book.listed())
    expected_s = max(FIRST_S_A_HEATER * heaters, 1.0)
    shown = page.show(
        "under_way.html",
        status=202,
        heaters=heaters,
        so_far=round(so_far_s),
        share=min(round(100.0 * so_far_s / expected_s), 99),
    )
    shown.headers["retry-after"] = str(AGAIN_S)
    return shown


_gathering = Gathering()


def gathered(page: Page, work: Callable[[], Answer]) -> Answer | Response:
    """What a page over the whole shop is made of, by its address; or the page that says it is under way."""
    name = (page.house.workshop.book.name, str(page.request.url))
    return _gathering.answer(page, name, work)
