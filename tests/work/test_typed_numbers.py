"""Numbers as people type them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.errors import Refusal
from lightoff.ground.message import AsWritten
from lightoff.texts import Speaker
from lightoff.work import typed_numbers


@pytest.mark.parametrize(
    ("typed", "number"),
    [("4.8", "4.8"), ("4,8", "4.8"), (" 38 ", "38"), ("-5", "-5"), ("\u22125,5", "-5.5"), ("0,345", "0.345")],
)
def test_reads_one_separator_and_keeps_the_figures(typed: str, number: str) -> None:
    assert str(typed_numbers.number(typed)) == number


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("", "Nothing is written here."),
        ("1,500", "“1,500” can be read in two ways. Write 1500 or 1.500."),
        ("1.234,5", "“1.234,5” has more than one separator."),
        ("1 500", "“1 500” has more than one separator."),
        ("NaN", "“NaN” is not a number that an instrument shows."),
        ("-inf", "“-inf” is not a number that an instrument shows."),
        ("1e400", "“1e400” has an exponent."),
        ("----", "“----” is not a number. If the instrument showed dashes"),
        ("4.8 %", "“4.8 %” is not a number."),
        ("4.", "“4.” is not a number."),
        ("٤", "“٤” is not a number."),
        ("9" * 21, "is not a number."),
    ],
)
def test_refuses_the_rest_with_a_sentence(typed: str, sentence: str) -> None:
    with pytest.raises(Refusal) as refused:
        typed_numbers.number(typed, field="flue_co")
    assert sentence in Speaker().say(refused.value.message)
    assert refused.value.field == "flue_co"


@given(st.decimals(min_value=-10_000, max_value=10_000, allow_nan=False, places=2))
def test_what_is_shown_reads_back(value: Decimal) -> None:
    text = format(value, "f")
    assert typed_numbers.number(text) == value
    assert typed_numbers.number(text.replace(".", ",")) == value


@given(st.text(max_size=60))
def test_any_text_is_a_number_or_a_refusal(text: str) -> None:
    try:
        assert typed_numbers.number(text).is_finite()
    except Refusal as refused:
        assert Speaker().say(refused.message)


def test_a_unit_behind_the_number_counts() -> None:
    assert typed_numbers.number_and_unit("236 °C", unit="degF") == AsWritten(value=Decimal(236), unit="degC")
    assert typed_numbers.number_and_unit("236", unit="degF") == AsWritten(value=Decimal(236), unit="degF")


def test_an_unknown_unit_is_told_with_the_nearest() -> None:
    with pytest.raises(Refusal) as refused:
        typed_numbers.unit_named("degCC")
    assert "Did you mean degC?" in Speaker().say(refused.value.message)


@pytest.mark.parametrize("typed", ["degX", "deg", "°X"])
def test_a_unit_that_could_be_two_is_answered_with_what_is_possible(typed: str) -> None:
    with pytest.raises(Refusal) as refused:
        typed_numbers.number_and_unit(f"236 {typed}", unit="degC")
    said = Speaker().say(refused.value.message)
    assert f"“{typed}” is not a unit this program knows. Write one of: degC, degF, K." in said


def test_without_a_kind_every_unit_is_possible() -> None:
    with pytest.raises(Refusal) as refused:
        typed_numbers.unit_named("degX")
    said = Speaker().say(refused.value.message)
    assert "Did you mean" not in said
    assert "degC, degF, K" in said


def test_a_near_unit_of_another_kind_is_not_offered() -> None:
    with pytest.raises(Refusal) as refused:
        typed_numbers.number_and_unit("5 kPaa", unit="degC")
    assert "Write one of: degC, degF, K." in Speaker().say(refused.value.message)
