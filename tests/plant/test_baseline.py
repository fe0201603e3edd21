"""What good visits teach of a unit, against Bayes' rule done in one go, and what holds it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.plant.baseline import LEAST, MOST, MOST_OF_LAW, Baseline, renewed, taught, unknown_unit
from lightoff.plant.parameters import COLUMN, PARAMETERS

COUNT = len(PARAMETERS)
FAN, SOOT, DAY, LAW = (COLUMN[key] for key in ("fan_speed", "jacket_soot", "battery_voltage", "co_floor"))


def look(**weights: float) -> np.ndarray:
    """One reading that feels these parameters."""
    row = np.zeros((1, COUNT))
    for key, weight in weights.items():
        row[0, COLUMN[key]] = weight
    return row


def learn(unit: Baseline, jacobian: np.ndarray, residual: float, noise: float = 0.5) -> Baseline:
    return taught(unit, jacobian=jacobian, residual=np.array([residual]), noise=np.array([noise]))


def test_one_reading_of_one_parameter_is_the_weighted_mean() -> None:
    unit = learn(unknown_unit(), look(fan_speed=1.0), 0.8)
    assert unit.mean[FAN] == pytest.approx(0.8 / (1.0 + 0.25))
    assert unit.covariance[FAN, FAN] == pytest.approx(0.25 / 1.25)
    assert unit.visits == 1


def test_two_visits_are_the_same_as_both_readings_at_once() -> None:
    one, other = look(fan_speed=1.0, jacket_soot=0.4), look(fan_speed=-0.3, jacket_soot=1.0)
    step = learn(learn(unknown_unit(), one, 0.6), other, -0.2)
    both = taught(
        unknown_unit(),
        jacobian=np.concatenate([one, other]),
        residual=np.array([0.6, -0.2]),
        noise=np.array([0.5, 0.5]),
    )
    assert step.mean == pytest.approx(both.mean)
    assert step.covariance == pytest.approx(both.covariance)


def test_what_is_of_the_day_is_not_learned() -> None:
    unit = learn(unknown_unit(), look(fan_speed=1.0, battery_voltage=1.0), 1.0)
    assert unit.mean[FAN] > 0.2
    assert unit.mean[DAY] == 0.0
    assert unit.covariance[DAY, DAY] == 1.0
    assert np.count_nonzero(unit.covariance[DAY]) == 1


def test_what_fan_and_law_make_together_is_known_though_neither_is() -> None:
    """Forgetting the law after each visit would forget the sum with it."""
    both = look(fan_speed=1.0, co_floor=1.0)
    unit = learn(unknown_unit(), both, 1.0, noise=0.2)
    assert unit.mean[LAW] == pytest.approx(unit.mean[FAN]) == pytest.approx(1.0 / 2.04)
    assert unit.covariance[FAN, FAN] > 0.4
    assert (both @ unit.covariance @ both.T)[0, 0] == pytest.approx(2.0 - 4.0 / 2.04)


@given(residual=st.floats(-50.0, 50.0), visits=st.integers(1, 12))
def test_a_unit_that_drifts_cannot_teach_that_drift_is_normal(residual: float, visits: int) -> None:
    unit = unknown_unit()
    for _ in range(visits):
        unit = learn(unit, look(fan_speed=1.0), residual, noise=0.05)
    assert np.all(np.abs(unit.mean) <= MOST)
    assert np.all(np.diag(unit.covariance) >= LEAST**2 - 1e-12)
    assert np.all(np.linalg.eigvalsh(unit.covariance) > 0.0)


def test_a_renewed_part_is_unknown_again_and_the_rest_stays() -> None:
    unit = learn(learn(unknown_unit(), look(fan_speed=1.0), 0.8), look(jacket_soot=1.0, fan_speed=0.5), 0.7)
    fresh = renewed(unit, "fan")
    assert fresh.mean[FAN] == 0.0
    assert fresh.covariance[FAN, FAN] == 1.0
    assert np.count_nonzero(fresh.covariance[FAN]) == 1
    assert fresh.mean[SOOT] == unit.mean[SOOT]
    assert fresh.covariance[SOOT, SOOT] == unit.covariance[SOOT, SOOT]
    assert fresh.visits == unit.visits


def test_what_is_held_at_its_bound_lets_what_is_tied_to_it_say_the_rest() -> None:
    """Fan and law together read far out: the fan stays among sound fans, the law takes what is left."""
    both = look(fan_speed=1.0, co_floor=1.0)
    unit = learn(unknown_unit(), both, 4.6, noise=0.1)
    assert unit.mean[FAN] == pytest.approx(MOST)
    assert unit.mean[LAW] > MOST
    assert (both @ unit.mean)[0] == pytest.approx(4.6, abs=0.15)
    far = learn(unknown_unit(), both, 40.0, noise=0.1)
    assert far.mean[FAN] <= MOST
    assert far.mean[LAW] <= MOST_OF_LAW
