"""The voice: numbers, units, lists, nested sentences."""

from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest

from lightoff.ground.message import Amount, AsWritten, DayOf, message
from lightoff.texts import Speaker
from lightoff.texts.speaker import LANGUAGES, templates


@pytest.mark.parametrize(("system", "expected"), [("metric", "236 ± 2 °C"), ("us", "457 ± 4 °F")])
def test_temperature_with_doubt(system: str, expected: str) -> None:
    amount = Amount(value=509.15, dimension="temperature", half_width=2.36)
    assert Speaker(units=system).amount(amount).replace("\u00a0", " ") == expected


def test_a_true_minus_and_no_minus_zero() -> None:
    assert Speaker().number(263.15, "temperature") == "\u221210"
    assert Speaker().number(273.05, "temperature") == "0"


def test_halves_go_to_even_so_that_sums_do_not_drift() -> None:
    assert Speaker().number(0.0005, "gas_fraction") == "0.0"
    assert Speaker().number(0.0015, "gas_fraction") == "0.2"


@pytest.mark.parametrize(
    ("ohm", "said"),
    [(0.546, "0.55"), (99.994, "99.99"), (838.76, "838.8"), (3498.86, "3,499"), (1_500_000.0, "1,500,000")],
)
def test_a_large_number_is_shown_no_finer_than_anybody_reads_it(ohm: float, said: str) -> None:
    assert Speaker().number(ohm, "resistance") == said


@pytest.mark.parametrize(
    ("value", "dimension", "said"),
    [(0.021, "voltage", "21 mV"), (0.52, "voltage", "0.5 V"), (0.0, "voltage", "0.0 V"),
     (-0.08, "voltage", "\u221280 mV"), (94.0, "pressure", "94 Pa"), (2600.0, "pressure", "2.6 kPa")],
)  # fmt: skip
def test_what_one_decimal_would_lose_is_told_in_a_finer_unit(value: float, dimension: str, said: str) -> None:
    assert Speaker().amount(Amount(value=value, dimension=dimension)).replace("\u00a0", " ") == said
    doubtful = Speaker().amount(Amount(value=value, dimension=dimension, half_width=100.0))
    assert "mV" not in doubtful, "a number stays with its doubt"


def test_as_written_is_shown_unchanged() -> None:
    assert Speaker(units="us").as_written(AsWritten(value=Decimal("4.80"), unit="%")) == "4.80\u00a0%"


def test_lists_join_in_words() -> None:
    three = tuple(message(f"judging.group_{name}") for name in ("gas", "smoke", "supply"))
    said = Speaker().say(message("judging.measured", what=three))
    assert said == "Measured: combustion gas, smoke and supply with the igniter on."


def test_states_come_apart_so_that_a_page_can_set_their_glyph() -> None:
    parts = Speaker().parts(message("judging.closing_fit", state="@verdict.fit as tested"))
    assert [part.kind for part in parts] == ["state", "text"]
    assert parts[0].text == "Fit as tested"


def test_dates_and_times() -> None:
    speaker = Speaker()
    assert speaker.day(date(2026, 11, 25)) == "25 November 2026"
    assert speaker.clock(datetime(2026, 11, 25, 14, 32, tzinfo=UTC)) == "14:32"


def test_a_missing_text_is_an_error_and_not_a_blank() -> None:
    with pytest.raises(KeyError, match=r"no text for 'judging.no_such'"):
        Speaker().say(message("judging.no_such"))


def test_braces_in_what_people_type_are_left_alone() -> None:
    said = Speaker().text("error.unit_unknown", unit="{possible}", possible="%")
    assert said.startswith("“{possible}” is not a unit")


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_template_is_empty(language: str) -> None:
    # Units that are counts have no symbol on purpose.
    empty = {key for key, text in templates(language).items() if not text.strip()}
    assert empty <= {"unit.smoke no.", "unit.count"}


@pytest.mark.parametrize(
    ("ahead", "day"), [(0, "27 November 2026"), (-8, "26 November 2026"), (13, "27 November 2026")]
)
def test_the_day_of_a_moment_is_that_of_whom_it_is_told_to(ahead: int, day: str) -> None:
    """And fits the time of day beside it."""
    moment = datetime(2026, 11, 27, 5, 52, tzinfo=UTC)
    here = Speaker(zone=timezone(timedelta(hours=ahead)))
    said = here.say(message("conflict.when", day=DayOf(moment), clock=moment))
    assert day in said
    assert f"{(5 + ahead) % 24:02}:52" in said
