"""Chances as people say them: never certain, never none, unless they are."""

import pytest

from lightoff.ground.estimate import Estimate
from lightoff.texts import Speaker
from lightoff.wear.saying import plain_share, share, whole


@pytest.mark.parametrize(
    ("three", "said"),
    [
        ((0.62, 0.41, 0.79), "about 6 in 10 (4 to 8)"),
        ((0.62, 0.05, 0.79), "about 62 in 100 (5 to 79)"),
        ((0.5, 0.5, 0.5), "about 5 in 10"),
        ((0.997, 0.91, 0.9999), "about 99 in 100 (91 to 99)"),
        ((0.02, 0.001, 0.04), "about 2 in 100 (1 to 4)"),
        ((0.002, 0.001, 0.004), "fewer than 1 in 100"),
        ((0.998, 0.995, 0.9999), "more than 99 in 100"),
    ],
)
def test_a_chance_in_words(three: tuple[float, float, float], said: str) -> None:
    value, low, high = three
    assert Speaker().say(share(Estimate(value=value, low=low, high=high, coverage=0.9))) == said


def test_certain_and_none() -> None:
    assert Speaker().say(plain_share(0.0)) == "fewer than 1 in 100"
    assert Speaker().say(plain_share(1.0)) == "more than 99 in 100"


def test_a_round_number_and_none() -> None:
    assert Speaker().text("wear.renew_at", age=whole(1234.0), clock="", saving=whole(float("inf"))) == (
        "Renewed at about 1,200 , it costs no bound % less in the long run than waiting for failures."
    )
