"""How one number stands to one row, at every edge; each line found by a mutated judgement that got past."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from cases import limits

from lightoff.judging.assessment import Judgement
from lightoff.judging.compare import Doubted, against, crosses, settle, threshold, worst
from lightoff.terms.shelf import Comparison, Limit

STOP, OUTSIDE, NOT_PROVEN, WITHIN = Judgement


def row(comparison: Comparison, value: str | None = "10", *, tolerance: str | None = None) -> Limit:
    """Ten by count, so that a number is its own SI number."""
    return replace(
        limits().rows["trials_before_looking"],
        comparison=comparison,
        value=None if value is None else Decimal(value),
        tolerance=None if tolerance is None else Decimal(tolerance),
    )


EDGES: list[tuple[Comparison, str, str, Judgement]] = [
    # comparison with 10, reading, its uncertainty, judgement
    (Comparison.AT_MOST, "9", "0.9999", WITHIN),
    (Comparison.AT_MOST, "9", "1", WITHIN),
    (Comparison.AT_MOST, "9", "1.0001", NOT_PROVEN),
    (Comparison.AT_MOST, "10", "0", WITHIN),
    (Comparison.AT_MOST, "10", "0.0001", NOT_PROVEN),
    (Comparison.AT_MOST, "10.5", "0", OUTSIDE),
    (Comparison.AT_MOST, "11", "0.9999", OUTSIDE),
    (Comparison.AT_MOST, "11", "1", NOT_PROVEN),
    (Comparison.AT_MOST, "11", "1.0001", NOT_PROVEN),
    (Comparison.BELOW, "9", "0.9999", WITHIN),
    (Comparison.BELOW, "9", "1", NOT_PROVEN),
    (Comparison.BELOW, "9", "1.0001", NOT_PROVEN),
    (Comparison.BELOW, "10", "0", OUTSIDE),
    (Comparison.BELOW, "10", "0.0001", NOT_PROVEN),
    (Comparison.BELOW, "10.5", "0", OUTSIDE),
    (Comparison.BELOW, "11", "1", OUTSIDE),
    (Comparison.BELOW, "11", "1.0001", NOT_PROVEN),
    (Comparison.AT_LEAST, "11", "0.9999", WITHIN),
    (Comparison.AT_LEAST, "11", "1", WITHIN),
    (Comparison.AT_LEAST, "11", "1.0001", NOT_PROVEN),
    (Comparison.AT_LEAST, "10", "0", WITHIN),
    (Comparison.AT_LEAST, "10", "0.0001", NOT_PROVEN),
    (Comparison.AT_LEAST, "9.5", "0", OUTSIDE),
    (Comparison.AT_LEAST, "9", "0.9999", OUTSIDE),
    (Comparison.AT_LEAST, "9", "1", NOT_PROVEN),
]


@pytest.mark.parametrize(("comparison", "x", "u", "expected"), EDGES)
def test_a_doubted_number_against_ten(comparison: Comparison, x: str, u: str, expected: Judgement) -> None:
    assert against(row(comparison), Doubted(x=Fraction(x), u_squared=Fraction(u) ** 2)) is expected


def test_a_row_that_bounds_no_one_side_judges_nothing() -> None:
    number = Doubted(x=Fraction(10), u_squared=Fraction(0))
    for comparison in (Comparison.EQUALS_WITHIN, Comparison.ONE_OF):
        with pytest.raises(ValueError, match=r"^limit trials_before_looking does not bound one side$"):
            against(row(comparison), number)


@pytest.mark.parametrize(
    ("comparison", "tolerance", "within", "beyond"),
    [
        (Comparison.AT_MOST, None, ("9", "10"), ("10.0001", "11")),
        (Comparison.BELOW, None, ("9", "9.9999"), ("10", "11")),
        (Comparison.AT_LEAST, None, ("10", "11"), ("9", "9.9999")),
        (Comparison.EQUALS_WITHIN, "0.5", ("9.5", "10", "10.5"), ("9.4999", "10.5001")),
        (Comparison.EQUALS_WITHIN, None, ("10",), ("9.9999", "10.0001")),
    ],
)
def test_a_bare_number_crosses_ten(
    comparison: Comparison, tolerance: str | None, within: tuple[str, ...], beyond: tuple[str, ...]
) -> None:
    ten = row(comparison, tolerance=tolerance)
    assert not any(crosses(ten, Fraction(x)) for x in within)
    assert all(crosses(ten, Fraction(x)) for x in beyond)


def test_a_row_of_states_has_no_number_to_cross() -> None:
    with pytest.raises(ValueError, match=r"^limit trials_before_looking is not a number$"):
        crosses(row(Comparison.NONE_OF), Fraction(1))


def test_a_row_without_a_value_is_no_limit() -> None:
    with pytest.raises(ValueError, match=r"^limit trials_before_looking has no value$"):
        threshold(row(Comparison.AT_MOST, None))


def test_the_worst_of_nothing_is_not_proven() -> None:
    assert worst(()) is NOT_PROVEN
    for index, each in enumerate(Judgement):
        assert worst((WITHIN, each, WITHIN)) is each
        assert worst(list(Judgement)[index:]) is each


@pytest.mark.parametrize(
    ("candidates", "expected"),
    [
        ((STOP, STOP), STOP),
        ((STOP, OUTSIDE), OUTSIDE),
        ((OUTSIDE, STOP), OUTSIDE),
        ((STOP, NOT_PROVEN, OUTSIDE), NOT_PROVEN),
        ((STOP, WITHIN), NOT_PROVEN),
        ((WITHIN, WITHIN), NOT_PROVEN),
    ],
)
def test_in_conflict_the_mildest_counts_and_never_as_within(
    candidates: tuple[Judgement, ...], expected: Judgement
) -> None:
    assert settle(candidates, conflict=True) is expected
    assert settle(candidates, conflict=False) is min(candidates, key=list(Judgement).index)
