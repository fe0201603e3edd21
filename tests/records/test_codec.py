"""Bodies: what goes in comes out, and nothing else goes in."""

# ruff: noqa: E501 the tables of sentences are easier to read in full lines

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal, Refusals
from lightoff.records import Acceptance, Close, Noun, body_of, noun_of
from lightoff.terms.people import Heater, Instrument, Owner, Shop, Span, Vehicle, VehicleKind
from lightoff.terms.visit import Event, EventKind, Photo, Place, Reading, Stage, Visit
from lightoff.texts.speaker import Speaker

say = Speaker().say
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)

_text = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"], include_characters="\n\t"), max_size=40
)
_name = _text.filter(lambda text: bool(text.strip()))
_number = st.decimals(min_value=-(10**9), max_value=10**9, places=4)
_share = st.floats(min_value=-1e9, max_value=1e9, allow_nan=False)
_time = st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2100, 1, 1), timezones=st.just(UTC))
_maybe_text = st.none() | _text
_place = st.builds(
    Place,
    name=_text,
    altitude_m=st.none() | _share,
    air_temperature_k=st.none() | _share,
    relative_humidity_fraction=st.none() | _share,
)
_span = st.builds(Span, key=_text, low=_number, high=_number, unit=_text)
_noun = st.one_of(
    st.builds(Owner, id=st.just("x"), name=_text, address=_text, telephone=_text, email=_text),
    st.builds(Vehicle, id=st.just("x"), owner=_name, name=_text, kind=st.sampled_from(VehicleKind)),
    st.builds(
        Heater, id=st.just("x"), vehicle=_name, name=_text, sheet=_text, fitted_on=st.none() | st.dates()
    ),
    st.builds(
        Instrument,
        id=st.just("x"),
        name=_text,
        kind=_text,
        calibrated_on=st.none() | st.dates(),
        spans=st.lists(_span, max_size=3).map(tuple),
        retired=st.booleans(),
    ),
    st.builds(Shop, name=_text, address=_text, units=_text, invented=st.booleans()),
    st.builds(
        Visit,
        id=st.just("x"),
        heater=_name,
        started_at=_time,
        closed_at=st.none(),
        work_done=st.lists(_text, max_size=3).map(tuple),
        service_complete=st.booleans(),
        utc_offset_minutes=st.none() | st.integers(-840, 840),
        place=_place,
        destination=st.none() | _place,
        readings=st.just(()),
        events=st.just(()),
        photos=st.just(()),
    ),
    st.builds(
        Reading,
        id=st.just("x"),
        heater=_name,
        key=_name,
        stage=st.sampled_from(Stage),
        taken_at=st.none() | _time,
        value=_number,
        unit=st.sampled_from(["%", "ppm", "degF", ""]),
        state=st.none(),
        test=_maybe_text,
        set_number=st.none() | st.integers(1, 9),
        basis=_maybe_text,
        instrument=_maybe_text,
        at_top=st.booleans(),
        confirmed=st.booleans(),
        typed_uncertainty=st.none() | _number,
        entered_at=st.none(),
        corrects=st.none(),
        accepted_by=st.none(),
        photo=_maybe_text,
    ),
    st.builds(Event, id=st.just("x"), heater=_name, kind=st.sampled_from(EventKind), at=_time, note=_text),
    st.builds(
        Photo,
        id=st.just("x"),
        heater=_name,
        taken_at=_time,
        sha256=_name,
        media_type=st.just("image/png"),
        reading_key=_maybe_text,
        stage=st.none() | st.sampled_from(Stage),
    ),
    st.builds(Close, id=st.just("x"), closed_at=_time),
    st.builds(Acceptance, id=st.just("x"), reading=_name),
)


def field_of(noun: Noun) -> str:
    return "accept" if isinstance(noun, Acceptance) else type(noun).__name__.lower()


@given(_noun)
def test_a_noun_comes_back_from_its_body(noun: Noun) -> None:
    body = json.loads(json.dumps(body_of(noun), allow_nan=False))
    assert noun_of(field_of(noun), "x", body) == noun


@given(_number)
def test_digits_stay_as_typed(value: Decimal) -> None:
    noun = Reading(id="x", heater="h", key="k", stage=Stage.AS_LEFT, taken_at=NOON, value=value, unit="%")
    back = noun_of("reading", "x", body_of(noun))
    assert isinstance(back, Reading)
    assert str(back.value) == format(value, "f")


def test_a_body_holds_what_differs_from_the_defaults() -> None:
    noun = Reading(
        id="x", heater="h", key="flue_o2", stage=Stage.AS_LEFT, taken_at=NOON, value=Decimal("4.80"), unit="%"
    )
    assert body_of(noun) == {
        "heater": "h",
        "key": "flue_o2",
        "stage": "as left",
        "taken_at": "2026-03-01T12:00:00Z",
        "value": "4.80",
        "unit": "%",
    }
    visit = Visit(
        id="v", heater="h", started_at=NOON, closed_at=NOON, readings=(noun,), place=Place(altitude_m=1e-7)
    )
    assert body_of(visit) == {
        "heater": "h",
        "started_at": "2026-03-01T12:00:00Z",
        "place": {"altitude_m": "0.0000001"},
    }


def test_other_zones_become_utc() -> None:
    event = noun_of("event", "x", {"heater": "h", "kind": "flame", "at": "2026-03-01T05:00:00-07:00"})
    assert event == Event(id="x", heater="h", kind=EventKind.FLAME, at=NOON)
    assert isinstance(event, Event)
    assert event.at.tzinfo is UTC
    away = replace(event, at=NOON.astimezone(timezone(timedelta(hours=5, minutes=30))))
    assert body_of(away) == {"heater": "h", "kind": "flame", "at": "2026-03-01T12:00:00Z"}


READING: dict[str, Any] = {
    "heater": "h",
    "key": "flue_o2",
    "stage": "as left",
    "taken_at": "2026-03-01T12:00:00Z",
    "value": "4.8",
    "unit": "%",
}


def refusals(field: str, body: Any) -> dict[str | None, str]:
    with pytest.raises(Refusal) as caught:
        noun_of(field, "x", body)
    told = caught.value.refusals if isinstance(caught.value, Refusals) else (caught.value,)
    return {each.field: say(each.message) for each in told}


NUMBER = "it must be a finite number sent as text, as typed"


@pytest.mark.parametrize(
    ("part", "value", "sentence"),
    [
        ("value", 4.8, f"“value” is 4.8; {NUMBER}"),
        ("value", 5, f"“value” is 5; {NUMBER}"),
        ("value", True, f"“value” is True; {NUMBER}"),
        ("value", "NaN", f"“value” is “NaN”; {NUMBER}"),
        ("value", "Infinity", f"“value” is “Infinity”; {NUMBER}"),
        ("value", "1e400", f"“value” is “1e400”; {NUMBER}"),
        ("value", "4,8", f"“value” is “4,8”; {NUMBER}"),
        ("value", "1 000", f"“value” is “1 000”; {NUMBER}"),
        ("value", "٤", f"“value” is “٤”; {NUMBER}"),
        ("value", "4.8\n", f"“value” is “4.8\n”; {NUMBER}"),
        ("value", "", f"“value” is “”; {NUMBER}"),
        ("value", "9" * 21, f"“value” is “{'9' * 21}”; {NUMBER}"),
        ("value", math.inf, f"“value” is inf; {NUMBER}"),
        ("value", ["4.8"], f"“value” is ['4.8']; {NUMBER}"),
        ("value", "@reading.flue_o2", f"“value” is “@reading.flue_o2”; {NUMBER}"),
        ("typed_uncertainty", "nan", f"“typed_uncertainty” is “nan”; {NUMBER}"),
        ("unit", "furlong", "“furlong” is not a unit this program knows. Write one of: %"),
        ("taken_at", "2026-03-01T12:00:00", "“taken_at” is “2026-03-01T12:00:00”; it must be a time with its zone"),
        ("taken_at", "2026-02-30T12:00:00Z", "“taken_at” is “2026-02-30T12:00:00Z”; it must be a time"),
        ("taken_at", "yesterday", "“taken_at” is “yesterday”; it must be a time with its zone"),
        ("taken_at", 1772366400, "“taken_at” is 1772366400; it must be a time with its zone"),
        ("taken_at", "0001-01-01T00:00:00+14:00", "“taken_at” is “0001-01-01T00:00:00+14:00”; the year must lie"),
        ("stage", "as left ", "“stage” is “as left ”; it must be one of: as found, as left."),
        ("stage", None, "“stage” is None; it must be one of: as found, as left."),
        ("heater", " ", "“heater” is blank; name what it belongs to."),
        ("heater", None, "“heater” is None; it must be text."),
        ("note", "x" * 10_001, "“note” is 10,001 characters long; it must be at most 10,000. Shorten it"),
        ("note", "a\x00b", "“note” holds a control character that cannot be kept."),
        ("note", "\ud800", "“note” holds a control character that cannot be kept."),
        ("at_top", "yes", "“at_top” is “yes”; it must be true or false."),
        ("at_top", 1, "“at_top” is 1; it must be true or false."),
        ("set_number", True, "“set_number” is True; it must be a whole number."),
        ("set_number", "1", "“set_number” is “1”; it must be a whole number."),
        ("set_number", 10, "“set_number” is 10; the set of readings must be numbered from 1 to 9."),
        ("set_number", 10**40, f"“set_number” is {10**40}; it must be a whole number."),
        ("state", "grey", "A reading has both a number (“value”) and a state. Send one of them."),
        ("entered_at", "2026-03-01T12:00:00Z", "The part “entered_at” is not known in a reading. Its parts are: heater, key,"),
        ("accepted_by", "me", "The part “accepted_by” is not known in a reading."),
        ("id", "x", "The part “id” is not known in a reading."),
        ("@verdict.fit", "x", "The part “@verdict.fit” is not known in a reading."),
    ],
)  # fmt: skip
def test_a_reading_is_read_strictly(part: str, value: object, sentence: str) -> None:
    told = refusals("reading", READING | {part: value})
    assert len(told) == 1
    assert next(iter(told.values())).startswith(sentence)
    assert next(iter(told)) == ("value" if part == "state" else part)


def test_a_number_too_long_to_print_is_refused_all_the_same() -> None:
    told = refusals("reading", READING | {"set_number": 10**5000})
    assert told == {"set_number": "“set_number” is something huge; it must be a whole number."}


def test_an_empty_reading_says_nothing() -> None:
    del (body := dict(READING))["value"]
    told = refusals("reading", body)
    assert told["value"].startswith("A reading has no number (“value”), no state, and not “at_top”.")
    assert isinstance(noun_of("reading", "x", body | {"at_top": True}), Reading)
    assert isinstance(noun_of("reading", "x", body | {"state": "grey"}), Reading)


def test_every_fault_is_told_at_once() -> None:
    told = refusals("reading", {"key": "", "value": "NaN", "colour": "red"})
    assert told.keys() == {"heater", "key", "stage", "taken_at", "value", "colour"}


@pytest.mark.parametrize(
    ("field", "body", "told_field", "sentence"),
    [
        ("reading", [], "value", "The value of a reading must be a table of its parts, or nothing to withdraw it."),
        ("boat", {}, "field", "“field” is “boat”; it must be one of: owner, vehicle, heater"),
        ("owner", {}, "name", "“name” is missing; the owner needs it. Add it."),
        ("vehicle", {"owner": "o", "name": "n", "kind": "tank"}, "kind",
         "“kind” is “tank”; it must be one of: coach, boat, cabin, workshop."),
        ("heater", {"vehicle": "v", "name": "n", "sheet": "s", "fitted_on": "1.3.2026"}, "fitted_on",
         "“fitted_on” is “1.3.2026”; it must be a date such as 2026-03-01."),
        ("heater", {"vehicle": "v", "name": "n", "sheet": "s", "fitted_on": "2026-02-30"}, "fitted_on",
         "“fitted_on” is “2026-02-30”; it must be a date such as 2026-03-01."),
        ("instrument", {"name": "n", "kind": "k", "spans": {}}, "spans", "“spans” is {}; it must be a list."),
        ("instrument", {"name": "n", "kind": "k", "spans": [{"key": "k", "low": "0", "high": "inf", "unit": "%"}]},
         "spans.0.high", f"“spans.0.high” is “inf”; {NUMBER}"),
        ("instrument", {"name": "n", "kind": "k", "spans": [{"key": "k", "low": "0", "unit": "%"}]},
         "spans.0.high", "“spans.0.high” is missing; the spans.0 needs it. Add it."),
        ("instrument", {"name": "n", "kind": "k", "spans": [{}] * 1001}, "spans",
         "“spans” has 1,001 items; it may have at most 1,000. Leave some out."),
        ("visit", {"heater": "h", "started_at": "2026-03-01T12:00:00Z", "place": "here"}, "place",
         "“place” is “here”; it must be a table of its parts."),
        ("visit", {"heater": "h", "started_at": "2026-03-01T12:00:00Z", "place": {"altitude_m": "1e400"}},
         "place.altitude_m", f"“place.altitude_m” is “1e400”; {NUMBER}"),
        ("visit", {"heater": "h", "started_at": "2026-03-01T12:00:00Z", "place": {"height": "1"}},
         "place.height", "The part “place.height” is not known in a place. Its parts are: name, altitude_m"),
        ("visit", {"heater": "h", "started_at": "2026-03-01T12:00:00Z", "closed_at": None}, "closed_at",
         "The part “closed_at” is not known in a visit."),
        ("photo", {"heater": "h", "taken_at": "2026-03-01T12:00:00Z", "sha256": "a", "media_type": "text/html"},
         "media_type", "The picture is “text/html”; it must be one of: image/jpeg, image/png, image/webp"),
        ("accept", {"reading": ""}, "reading", "“reading” is blank; name what it belongs to."),
        *(
            (
                "visit",
                {"heater": "h", "started_at": "2026-03-01T05:00:00Z", "utc_offset_minutes": ahead},
                "utc_offset_minutes",
                f"“utc_offset_minutes” is {ahead}; it must lie from -899 to 899.",
            )
            for ahead in (900, -900, 1_000_000)
        ),
    ],
)  # fmt: skip
def test_other_nouns_are_read_strictly(field: str, body: Any, told_field: str, sentence: str) -> None:
    told = refusals(field, body)
    assert told.keys() == {told_field}
    assert told[told_field].startswith(sentence)


_junk = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(sorted(READING)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)


@given(st.sampled_from(sorted(READING)), _junk)
def test_junk_is_refused_with_a_sentence_or_kept_as_what_it_is(part: str, junk: Any) -> None:
    try:
        noun = noun_of("reading", "x", READING | {part: junk})
    except Refusal as refusal:
        sentences = [say(each.message) for each in getattr(refusal, "refusals", (refusal,))]
    else:
        sentences = []
        told = body_of(noun)
        assert isinstance(told, dict)
        if part == "taken_at":
            assert isinstance(noun, Reading)
            assert noun.taken_at is None or noun.taken_at.tzinfo is UTC
        else:
            assert told.get(part, junk) in (junk, None)
    assert all(sentences)


def test_days_are_days() -> None:
    heater = Heater(id="x", vehicle="v", name="n", sheet="s", fitted_on=date(2020, 2, 29))
    assert body_of(heater) == {"vehicle": "v", "name": "n", "sheet": "s", "fitted_on": "2020-02-29"}
