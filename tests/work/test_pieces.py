"""Where each piece is and how much of its life is used."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from lightoff.terms.part import Move, MoveKind, Part
from lightoff.terms.visit import Reading, Stage
from lightoff.wear.lives import Clock
from lightoff.work.pieces import Piece, Where, pieces
from lightoff.work.running import MONTH, Running, running

START = datetime(2024, 6, 1, 9, tzinfo=UTC)
PART = Part(id="p", kind="igniter", heater="h")


def at(months: float) -> datetime:
    return START + months * MONTH


def move(kind: MoveKind, months: float, part: str = "p") -> Move:
    return Move(id=f"{months:06.2f}", heater="h", part=part, kind=kind, at=at(months))


def metered() -> Running:
    """A hundred hours a month, read every half year."""
    return running(
        Reading(
            id=str(month),
            heater="h",
            key="hour_meter",
            stage=Stage.AS_FOUND,
            taken_at=at(month),
            value=Decimal(1000 + 100 * month),
            unit="h",
        )
        for month in range(0, 37, 6)
    )


def piece(*moves: Move, part: Part = PART, now: float = 36, fitted_on: datetime | None = None) -> Piece:
    (found,) = pieces(
        [part],
        moves,
        metered(),
        now=at(now),
        seen_on=[at(month) for month in range(0, 37, 6)],
        fitted_on=fitted_on,
    )
    return found


def test_a_fitted_piece_wears_until_today() -> None:
    found = piece(move(MoveKind.FITTED, 12))
    assert (found.where, found.failed) == (Where.FITTED, False)
    assert found.used[Clock.RUN_HOURS].value == pytest.approx(2400.0)
    assert found.used[Clock.MONTHS].value == pytest.approx(24.0)
    life = found.life(Clock.RUN_HOURS, heater_type="t")
    assert life is not None
    assert (life.entered, life.right) == (0.0, None)


def test_a_working_piece_taken_out_is_a_spare_with_the_life_it_has_used_and_goes_on_when_refitted() -> None:
    spare = piece(move(MoveKind.FITTED, 0), move(MoveKind.KEPT, 12))
    assert spare.where is Where.SPARE
    assert spare.used[Clock.RUN_HOURS].value == pytest.approx(1200.0)
    again = piece(move(MoveKind.FITTED, 0), move(MoveKind.KEPT, 12), move(MoveKind.FITTED, 24))
    assert again.where is Where.FITTED
    assert again.used[Clock.RUN_HOURS].value == pytest.approx(1200.0 + 1200.0)


def test_what_failed_between_two_visits_was_good_at_the_first() -> None:
    found = piece(move(MoveKind.FITTED, 0), move(MoveKind.FAILED, 15))
    life = found.life(Clock.MONTHS, heater_type="t")
    assert life is not None
    assert (found.where, found.failed) == (Where.GONE, True)
    assert (life.left, life.right) == (pytest.approx(12.0), pytest.approx(15.0))


def test_what_was_thrown_away_by_plan_did_not_fail() -> None:
    life = piece(move(MoveKind.FITTED, 0), move(MoveKind.SCRAPPED, 12)).life(Clock.MONTHS, heater_type="t")
    assert life is not None
    assert life.right is None


def test_late_entry_is_never_forgotten() -> None:
    stamped = Part(id="p", kind="nozzle", heater="h", stamped_on=date(2023, 6, 2))
    found = piece(move(MoveKind.FOUND, 12), part=stamped)
    assert found.entered[Clock.MONTHS] == pytest.approx(24.0, abs=0.1)
    life = found.life(Clock.MONTHS, heater_type="t")
    assert life is not None
    assert life.entered == found.entered[Clock.MONTHS]
    assert life.left == pytest.approx(42.0, abs=0.1)  # seen last half a year ago


def test_found_without_a_date_is_of_unknown_age_and_teaches_nothing() -> None:
    found = piece(move(MoveKind.FOUND, 12))
    assert found.used == {}
    assert found.life(Clock.MONTHS, heater_type="t") is None
    bounded = piece(move(MoveKind.FOUND, 12), fitted_on=at(-12))
    assert bounded.entered[Clock.MONTHS] == pytest.approx(24.0)


def test_a_piece_with_no_moves_is_left_out() -> None:
    assert pieces([PART], [], metered(), now=at(3)) == ()
