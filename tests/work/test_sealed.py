"""A closed visit keeps what it ended with: an edit of the shelf later never improves it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from lightoff.cli.commands import main
from lightoff.judging.assessment import Verdict
from lightoff.judging.content import sealed_content
from lightoff.shelf import Shelf
from lightoff.texts import Speaker
from lightoff.work.assess_case import assess_case
from lightoff.work.assess_visit import assess_visit
from lightoff.work.close_visit import close_visit
from lightoff.work.keep_visit_file import keep_visit_file
from lightoff.work.look_again import look_again
from lightoff.work.visit_file import read_visit_file
from lightoff.work.visit_file_writing import write_visit_file
from lightoff.work.workshop import Workshop, open_shop

STRICT = """
[[tighten]]
key = "co_air_free_fit"
value = "30"
"""
END = datetime(2025, 3, 12, 15, 40, tzinfo=UTC)
LATER = END + timedelta(days=300)


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    (tmp_path / "shop" / "shelf").mkdir(parents=True)
    (tmp_path / "shop" / "shelf" / "limits.toml").write_text(STRICT, encoding="utf-8")
    with open_shop(tmp_path / "shop") as opened:
        yield opened


@pytest.fixture
def visit(workshop: Workshop, with_probe: str, shelf: Shelf) -> str:
    """A visit of 49 ppm air-free, closed while the shop allowed 30."""
    text = with_probe.replace("closed_at = 2025-03-12T15:40:00\n", "")
    case = read_visit_file(text.encode(), "visit.toml", shelf)
    keep_visit_file(workshop, case)
    close_visit(workshop, case.visit.id, END, author="J. Aalto", randomness=bytes(range(10)))
    return case.visit.id


def test_what_was_crossed_stays_crossed_when_the_shop_takes_its_limit_back(
    workshop: Workshop, visit: str, shelf: Shelf
) -> None:
    case, before = assess_visit(workshop, visit, LATER)
    assert before.verdict.verdict is Verdict.NOT_FIT
    assert case.visit.sealed_verdict == "not fit"
    after = assess_case(case, shelf, LATER)
    assert after.verdict.verdict is Verdict.NOT_FIT
    gate = next(each for each in after.verdict.gates if each.gate == "as closed")
    assert gate.said.key == "judging.as_closed"
    bare = replace(case, visit=replace(case.visit, sealed_verdict="", sealed_content=""))
    assert assess_case(bare, shelf, LATER).verdict.verdict is Verdict.FIT, "it is the seal that holds it"


def test_a_seal_never_raises(workshop: Workshop, visit: str) -> None:
    case = workshop.book.case(visit)
    fit = replace(case, visit=replace(case.visit, sealed_verdict="fit as tested"))
    fit = replace(fit, visit=replace(fit.visit, sealed_content=sealed_content(fit)))
    assert assess_case(fit, workshop.shelf, LATER).verdict.verdict is Verdict.NOT_FIT
    junk = replace(case, visit=replace(case.visit, sealed_verdict="splendid"))
    assert assess_case(junk, workshop.shelf, LATER).verdict.verdict is Verdict.NOT_FIT


@pytest.mark.parametrize("sealed", ["stop", "not fit", "not proven"])
def test_each_sealed_verdict_holds_and_a_stop_names_what_it_stops(
    workshop: Workshop, visit: str, shelf: Shelf, sealed: str
) -> None:
    case = workshop.book.case(visit)
    case = replace(case, visit=replace(case.visit, sealed_verdict=sealed))
    found = assess_case(case, shelf, LATER)
    assert str(found.verdict.verdict) == sealed
    assert found.verdict.stops == (("do not fire",) if sealed == "stop" else ())
    said = " ".join(Speaker().say(each) for each in found.paragraph)
    assert "by the limits of then" in said
    assert ("Stop: Do not fire" in said) is (sealed == "stop")


def test_a_seal_speaks_of_the_readings_that_it_was_set_on(
    workshop: Workshop, visit: str, shelf: Shelf
) -> None:
    """A correction that somebody accepted is judged anew; a photograph or a note is no correction."""
    case = workshop.book.case(visit)
    noted = replace(case, visit=replace(case.visit, note="Seen again.", work_done=("Swept.",)))
    assert assess_case(noted, shelf, LATER).verdict.verdict is Verdict.NOT_FIT
    readings = case.visit.readings[:-1]
    corrected = replace(case, visit=replace(case.visit, readings=readings))
    gates = assess_case(corrected, shelf, LATER).verdict.gates
    assert "as closed" not in {each.gate for each in gates}


def test_a_visit_opened_again_is_judged_by_the_limits_of_today(
    workshop: Workshop, visit: str, shelf: Shelf
) -> None:
    close = next(each.entry for each in workshop.book.history(visit) if each.entry.field == "close")
    undone = workshop.book.undoing(close.id, id="018f0000-0000-7000-8000-000000000001", author="J", at=LATER)
    workshop.book.keep([undone])
    case = workshop.book.case(visit)
    assert (case.visit.closed_at, case.visit.sealed_verdict) == (None, "")
    assert assess_case(case, shelf, LATER).verdict.verdict is Verdict.FIT


def test_file_and_book_hold_the_seal(workshop: Workshop, visit: str, shelf: Shelf, tmp_path: Path) -> None:
    case = workshop.book.case(visit)
    told = read_visit_file(write_visit_file(case), "again.toml", shelf)
    assert told.visit.sealed_verdict == "not fit"
    assert sealed_content(told) == case.visit.sealed_content == sealed_content(case)
    assert assess_case(told, shelf, LATER).verdict.verdict is Verdict.NOT_FIT
    with open_shop(tmp_path / "other") as other:
        keep_visit_file(other, told)
        again = other.book.case(visit)
        assert again.visit.sealed_verdict == "not fit"
        other.book.rebuild()
        assert other.book.case(visit).visit == again.visit


def test_what_a_closed_visit_stopped_is_sealed_with_it(with_probe: str, shelf: Shelf, tmp_path: Path) -> None:
    text = with_probe.replace("closed_at = 2025-03-12T15:40:00\n", "")
    case = read_visit_file(text.encode(), "visit.toml", shelf)
    drips = [
        replace(r, state="dripping") if r.key == "fuel_joints_10_min" else r for r in case.visit.readings
    ]
    case = replace(case, visit=replace(case.visit, readings=tuple(drips)))
    with open_shop(tmp_path) as workshop:
        keep_visit_file(workshop, case)
        close_visit(workshop, case.visit.id, END, author="J. Aalto", randomness=bytes(range(10)))
        closed = workshop.book.case(case.visit.id)
        assert (closed.visit.sealed_verdict, closed.visit.sealed_stops) == ("stop", ("do not fire",))
    told = read_visit_file(write_visit_file(closed), "again.toml", shelf)
    assert told.visit.sealed_stops == ("do not fire",)
    with open_shop(tmp_path / "other") as other:
        keep_visit_file(other, told)
        assert other.book.case(told.visit.id).visit.sealed_stops == ("do not fire",)


def test_a_change_of_the_shelf_lists_the_visits_to_look_at_again(
    tmp_path: Path, with_probe: str, shelf: Shelf
) -> None:
    text = with_probe.replace("closed_at = 2025-03-12T15:40:00\n", "")
    case = read_visit_file(text.encode(), "visit.toml", shelf)
    folder = tmp_path / "later"
    with open_shop(folder) as workshop:
        keep_visit_file(workshop, case)
        close_visit(workshop, case.visit.id, END, author="J. Aalto", randomness=bytes(range(10)))
        assert look_again(workshop, LATER) == ()
    (folder / "shelf").mkdir(exist_ok=True)
    (folder / "shelf" / "limits.toml").write_text(STRICT, encoding="utf-8")
    with open_shop(folder) as workshop:
        (found,) = look_again(workshop, LATER)
        assert (found.then, found.today) == (Verdict.FIT, Verdict.NOT_FIT)
    said = CliRunner().invoke(main, ["doctor", "--shop", str(folder)])
    assert said.exit_code == 1
    assert "closed as fit as tested, and not fit by what is on the shelf today" in " ".join(
        said.output.split()
    )
