"""Pages drawn ahead: only in quiet moments, and so that the first look finds what it needs."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import product
from threading import Event
from typing import TYPE_CHECKING, Any

import pytest
from starlette.responses import HTMLResponse
from starlette.testclient import TestClient

from lightoff.judging.assessment import Assessment
from lightoff.shelf import Shelf
from lightoff.terms.case import Case
from lightoff.web import heater as heaters
from lightoff.web import home
from lightoff.web.ahead import Ahead
from lightoff.web.app import create_app
from lightoff.web.page import Page
from lightoff.work import judged
from lightoff.work.fleet import fleet

if TYPE_CHECKING:
    from conftest import Bay


def waited(until: Callable[[], bool], *, for_s: float = 10.0) -> bool:
    end = time.monotonic() + for_s
    while not until() and time.monotonic() < end:
        time.sleep(0.01)
    return until()


def is_done(client: TestClient) -> bool:
    app: Any = client.app
    return bool(app.state.house.ahead.is_done)


@pytest.fixture
def eager(bay: Bay) -> Iterator[TestClient]:
    """A browser of an app that draws ahead at once."""
    app = create_app(bay.workshop, now=bay.clock, quiet_s=(0.0, 0.0))
    yield TestClient(app, base_url=str(bay.client.base_url))
    app.state.house.ahead.end()


def test_nothing_is_drawn_while_pages_are_asked_for() -> None:
    drawn, ahead = Event(), Ahead(quiet_s=0.3, long_quiet_s=0.3)
    with ahead.answering():
        ahead.begin("list", lambda: [drawn.set])
    for _ in range(20):
        with ahead.answering():
            time.sleep(0.03)
    assert not drawn.is_set()
    assert drawn.wait(10.0)


def test_nothing_is_drawn_while_one_long_page_is_under_way() -> None:
    drawn, ahead = Event(), Ahead(quiet_s=0.05, long_quiet_s=0.05)
    with ahead.answering():
        ahead.begin("list", lambda: [drawn.set])
        time.sleep(0.4)
        assert not drawn.is_set()
    assert drawn.wait(10.0)


def test_what_fails_holds_up_nothing_else() -> None:
    done = Event()

    def fails() -> None:
        raise ValueError

    ahead = Ahead(quiet_s=0.0, long_quiet_s=0.0)
    ahead.begin("list", lambda: [fails, done.set])
    assert done.wait(10.0)


def test_what_was_begun_last_is_drawn_first_and_each_once() -> None:
    drawn: list[str] = []
    ahead = Ahead(quiet_s=0.0, long_quiet_s=0.0)
    with ahead.answering():
        for name in ("list", "search", "list"):
            ahead.begin(
                name,
                lambda name=name: (lambda at=at: drawn.append(f"{name} {at}") for at in "ab"),
                lambda name=name: [lambda: drawn.append(f"beyond {name}")],
            )
    assert waited(lambda: ahead.is_done)
    assert drawn == ["search a", "search b", "list a", "list b", "beyond search", "beyond list"]
    ahead.begin("search", lambda: [lambda: drawn.append("again")])
    ahead.begin("heater", lambda: [lambda: drawn.append("later")])
    assert waited(lambda: ahead.is_done)
    assert drawn[6:] == ["later"]


def test_what_is_far_waits_till_nobody_has_asked_for_long() -> None:
    near, far, ahead = Event(), Event(), Ahead(quiet_s=0.0, long_quiet_s=0.4)
    ahead.begin("list", lambda: [near.set], lambda: [far.set])
    assert near.wait(10.0)
    for _ in range(20):
        with ahead.answering():
            time.sleep(0.03)
        assert not far.is_set()
    again = Event()
    ahead.begin("heater", lambda: [again.set])
    assert again.wait(0.3), "what is near is drawn while what is far still waits"
    assert far.wait(10.0)


def test_what_is_drawn_ahead_begins_nothing_itself() -> None:
    drawn: list[str] = []
    ahead = Ahead(quiet_s=0.0, long_quiet_s=0.0)

    def page() -> None:
        ahead.begin("what it leads to", lambda: [lambda: drawn.append("too far")])
        drawn.append("page")

    ahead.begin("list", lambda: [page])
    assert waited(lambda: ahead.is_done)
    assert drawn == ["page"]


def test_an_end_in_a_quiet_moment_is_no_wait() -> None:
    drawn, ahead = Event(), Ahead(quiet_s=60.0, long_quiet_s=60.0)
    ahead.begin("list", lambda: [drawn.set])
    started = time.monotonic()
    ahead.end()
    assert time.monotonic() - started < 30.0
    assert not drawn.is_set()


def test_after_the_list_a_heater_is_judged_before_anybody_opens_it(
    bay: Bay, visit: str, eager: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert visit
    bay.send(bay.reading("flue_o2", "4.8", "%"))
    judge, times = judged.assess_cases, []

    def counted(cases: Sequence[Case], shelf: Shelf, now: datetime) -> tuple[Assessment, ...]:
        times.append(len(cases))
        return judge(cases, shelf, now)

    monkeypatch.setattr(judged, "assess_cases", counted)
    eager.get("/")
    assert waited(lambda: is_done(eager))
    assert sum(times) > 0
    times.clear()
    assert eager.get(f"/heaters/{bay.ids['heater']}").status_code == 200
    assert sum(times) == 0


def test_what_is_drawn_ahead_is_what_is_opened_from_the_list(
    bay: Bay, visit: str, eager: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[tuple[str, str]] = []
    for room, name in ((heaters, "show_heater"), (heaters, "show_visit"), (heaters, "hand_over")):
        monkeypatch.setattr(room, name, lambda _, each, name=name: drawn.append((name, each)))
    for _ in range(2):
        assert eager.get("/").status_code == 200
    assert waited(lambda: is_done(eager))
    of_it = [("show_visit", visit), ("hand_over", visit)]
    assert drawn == [("show_heater", bay.ids["heater"]), *of_it]
    drawn.clear()
    eager.get("/?search=nobody+of+that+name")
    assert waited(lambda: is_done(eager))
    assert not drawn
    eager.get("/", params={"search": bay.workshop.book.line(bay.ids["heater"]).vehicle.name})
    assert waited(lambda: is_done(eager) and len(drawn) == 3)
    drawn.clear()
    for _ in range(2):
        assert eager.get(f"/heaters/{bay.ids['heater']}").status_code == 200
    assert waited(lambda: is_done(eager) and len(drawn) == 2)
    assert drawn == of_it


@pytest.fixture
def reader(eager: TestClient) -> TestClient:
    """A browser that has opened the list, and what was drawn ahead of that is drawn."""
    assert eager.get("/").status_code == 200
    assert waited(lambda: is_done(eager))
    return eager


@pytest.fixture
def drawings(bay: Bay, visit: str, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The templates of whole pages, one for each time that one is drawn."""
    assert visit
    drawn: list[str] = []
    show = Page.show

    def noted(page: Page, template: str, /, **context: Any) -> HTMLResponse:
        drawn.append(template)
        return show(page, template, **context)

    monkeypatch.setattr(Page, "show", noted)
    return drawn


def test_who_opens_what_was_drawn_ahead_gets_the_very_same_page(
    bay: Bay, drawings: list[str], reader: TestClient
) -> None:
    for template, path in (
        ("handover.html", f"/visits/{bay.ids['visit']}/hand-over"),
        ("visit.html", f"/visits/{bay.ids['visit']}"),
        ("heater.html", f"/heaters/{bay.ids['heater']}"),
    ):
        ready = reader.get(path)
        assert drawings.count(template) == 1, "drawn ahead and not again"
        anew = bay.client.get(path)
        assert drawings.count(template) == 2
        assert (ready.text, ready.headers) == (anew.text, anew.headers)


@pytest.mark.parametrize(
    "what", ["an entry", "a minute", "the clock turned back", "the shelf", "other units"]
)
def test_a_page_drawn_ahead_is_drawn_anew_after(
    what: str, bay: Bay, drawings: list[str], reader: TestClient
) -> None:
    path = f"/visits/{bay.ids['visit']}"
    before = reader.get(path).text
    assert drawings.count("visit.html") == 1
    match what:
        case "an entry":
            bay.send(bay.reading("flue_co", "812", "ppm"))
        case "a minute":
            bay.clock.later(seconds=61)
        case "the clock turned back":
            bay.clock.later(seconds=-1)
        case "the shelf":
            bay.workshop.reread_shelf()
        case _:
            reader.cookies.set("lightoff_units", "us")
    after = reader.get(path)
    assert drawings.count("visit.html") == 2
    assert ("812" in after.text, "812" in before) == (what == "an entry", False)


def test_a_page_that_was_drawn_ahead_leads_on_when_it_is_opened(
    bay: Bay, drawings: list[str], eager: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(home, "NEAR_AHEAD", 0)
    monkeypatch.setattr(home, "_far", lambda *_: iter(()))
    eager.get("/")
    assert waited(lambda: is_done(eager))
    assert drawings == ["home.html", "heater.html"]
    eager.get(f"/heaters/{bay.ids['heater']}")
    assert waited(lambda: is_done(eager) and len(drawings) == 4)
    assert drawings[2:] == ["visit.html", "handover.html"]


def test_after_a_report_the_lives_of_all_heater_types_are_worked_out(
    bay: Bay, eager: TestClient, visit: str
) -> None:
    every = fleet(bay.workshop, bay.clock())
    every._possible.clear()
    assert eager.get(f"/visits/{visit}/report.pdf").status_code == 200
    assert waited(lambda: is_done(eager))
    sheets = {each.heater.sheet for each in every.units.values()}
    assert set(every._possible) == set(product(bay.workshop.shelf.part_types, sheets))
