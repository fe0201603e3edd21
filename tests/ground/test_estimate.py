"""A number shown with its doubt."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.estimate import Estimate

values = st.floats(-1e6, 1e6)
widths = st.floats(0.0, 1e5)


@given(values, widths)
def test_a_half_width_is_kept(value: float, width: float) -> None:
    estimate = Estimate.from_half_width(value, width)
    assert estimate.half_width == pytest.approx(width, abs=1e-6)
    assert estimate.holds(value)
    assert estimate.low <= estimate.value <= estimate.high


def test_coverage_follows_the_factor() -> None:
    assert Estimate.from_half_width(1.0, 0.1).coverage == pytest.approx(0.9545, abs=5e-5)
    assert Estimate.from_half_width(1.0, 0.1, coverage_factor=3.0).coverage == pytest.approx(0.9973, abs=5e-5)
    assert Estimate.from_standard(1.0, 0.1).half_width == pytest.approx(0.2)
    assert Estimate.exact(3.0).coverage == 1.0


@given(values, widths, st.floats(-1e3, 1e3))
def test_another_unit_is_the_same_estimate(value: float, width: float, factor: float) -> None:
    scaled = Estimate.from_half_width(value, width).scaled(factor)
    assert scaled.low <= scaled.value <= scaled.high
    assert scaled.half_width == pytest.approx(abs(factor) * width, rel=1e-6, abs=1e-4)


def test_shifting_and_overlap() -> None:
    estimate = Estimate.from_half_width(1.0, 0.2).shifted(-1.0)
    assert (estimate.low, estimate.high) == pytest.approx((-0.2, 0.2))
    assert estimate.overlaps(Estimate.from_half_width(0.25, 0.1))
    assert not estimate.overlaps(Estimate.from_half_width(0.4, 0.1))


@pytest.mark.parametrize(("low", "high", "coverage"), [(1.1, 1.2, 0.9), (0.5, 0.9, 0.9), (0.5, 1.5, 1.5)])
def test_what_is_no_estimate_is_told(low: float, high: float, coverage: float) -> None:
    with pytest.raises(ValueError, match=r"must lie|cannot lie"):
        Estimate(value=1.0, low=low, high=high, coverage=coverage)
