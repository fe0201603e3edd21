"""The hash of a visit knows every field of everything in it, and no order of entry."""

from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from lightoff.judging.content import visit_hash
from lightoff.terms.part import Move, MoveKind, Outcome, StepDone
from lightoff.terms.visit import Event, EventKind, Photo, Place, Reading, Stage, Visit

AT = datetime(2026, 11, 27, 9, 30, 0, 250_000, tzinfo=UTC)
PARTS: dict[str, Any] = {
    "readings": Reading(
        id="r", heater="h", key="flue_o2", stage=Stage.AS_FOUND, taken_at=AT, value=Decimal("4.8")
    ),
    "events": Event(id="e", heater="h", kind=EventKind.FLAME, at=AT),
    "photos": Photo(id="p", heater="h", taken_at=AT, sha256="0" * 64, media_type="image/png"),
    "moves": Move(id="m", heater="h", part="x", kind=MoveKind.FITTED, at=AT, price=Decimal("12.50")),
    "steps": StepDone(id="s", heater="h", step="nozzle", outcome=Outcome.DONE, at=AT),
}
VISIT = Visit(
    id="v",
    heater="h",
    started_at=AT,
    place=Place(name="yard", altitude_m=5.0),
    **{name: (part,) for name, part in PARTS.items()},
)


def another(value: object) -> object:
    """Something else that could stand in its place."""
    match value:
        case bool():
            return not value
        case Stage() | EventKind() | MoveKind() | Outcome():
            return next(each for each in type(value) if each is not value)
        case str():
            return f"{value}|"
        case datetime():
            return value + timedelta(microseconds=1)
        case Decimal():
            return Decimal(f"{value}0")  # equal, and typed otherwise
        case int() | float():
            return value + 1
        case tuple():
            return (*value, "more")
        case _ if is_dataclass(value):
            name = fields(value)[0].name
            return replace(value, **{name: another(getattr(value, name))})
        case _:
            return "said"


@pytest.mark.parametrize("name", [each.name for each in fields(Visit) if each.name not in PARTS])
def test_every_field_of_a_visit_counts(name: str) -> None:
    changed = replace(VISIT, **{name: another(getattr(VISIT, name))})
    assert visit_hash(changed) != visit_hash(VISIT)


@pytest.mark.parametrize(
    ("among", "name"), [(among, each.name) for among, part in PARTS.items() for each in fields(part)]
)
def test_every_field_of_its_parts_counts(among: str, name: str) -> None:
    part = PARTS[among]
    changed = replace(VISIT, **{among: (replace(part, **{name: another(getattr(part, name))}),)})
    assert visit_hash(changed) != visit_hash(VISIT)


def test_a_number_is_not_the_text_that_it_is_written_with() -> None:
    noted = [replace(PARTS["readings"], value=Decimal("4.8"), state=None)]
    noted.append(replace(PARTS["readings"], value="4.8", state=None))
    noted.append(replace(PARTS["readings"], value=None, state="4.8"))
    assert len({visit_hash(replace(VISIT, readings=(each,))) for each in noted}) == 3


def test_order_of_entry_does_not_count() -> None:
    two = (PARTS["readings"], replace(PARTS["readings"], id="q"))
    hashes = {visit_hash(replace(VISIT, readings=each)) for each in (two, two[::-1])}
    assert len(hashes) == 1


def test_letters_that_no_encoding_holds_are_hashed_too() -> None:
    assert visit_hash(replace(VISIT, note="\ud800")) != visit_hash(VISIT)
