"""A reading over the years: ticks at their days, hatch on the side of the limit, words that keep apart."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pictures
from hypothesis import given
from hypothesis import strategies as st

from lightoff.drawing import PAPER, DriftPicture, DriftPoint, TimeAxis, drifting
from lightoff.ground.estimate import Estimate
from lightoff.texts import Speaker

TODAY = date(2026, 11, 25)
FIRST = date(2023, 11, 25)


def about(value: float, half: float = 0.4) -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, coverage=0.95)


def shown(values: list[float], *, rises: bool = False, **more: object) -> DriftPicture:
    step = (TODAY - FIRST) / max(len(values), 1)
    points = tuple(
        DriftPoint(on=FIRST + step * at, value=about(value), counts=at > 0 or len(values) == 1)
        for at, value in enumerate(values)
    )
    return DriftPicture(
        points=points, low=8.2, high=9.8, rises=rises, dimension="current", today=TODAY, **more
    )  # type: ignore[arg-type]


def drawn(picture: DriftPicture, *, width: float = 660.0) -> str:
    axis = TimeAxis(
        start=datetime(2023, 9, 1, tzinfo=UTC),
        end=datetime(2028, 9, 1, tzinfo=UTC),
        width=width,
        left=52.0,
        right=width - 10.0,
    )
    return drifting(
        picture, Speaker(), axis=axis, title="Igniter current", description="5 readings", palette=PAPER
    )


@given(st.lists(st.floats(5.0, 12.0), min_size=1, max_size=9), st.booleans(), st.sampled_from([334.0, 660.0]))
def test_words_keep_apart_and_inside(values: list[float], rises: bool, width: float) -> None:
    reach = (TODAY + timedelta(days=100), TODAY + timedelta(days=300), TODAY + timedelta(days=600))
    picture = shown(
        values,
        rises=rises,
        reach=reach,
        began=FIRST + timedelta(days=60),
        trend=lambda day: about(9.0 - 0.001 * (day - FIRST).days),
    )
    found = drawn(picture, width=width)
    assert not pictures.overlapping(found)
    assert not pictures.outside(found)
    assert pictures.smallest_text(found) >= 13


def test_the_day_of_the_limit_is_marked_on_the_side_that_wear_moves_it_to() -> None:
    at = TODAY + timedelta(days=300)
    reach = (TODAY + timedelta(days=100), at, None)
    trend = lambda day: about(9.0 - 0.0005 * (day - FIRST).days)  # noqa: E731
    texts = {each.text for each in pictures.labels(drawn(shown([9.0, 8.8], reach=reach, trend=trend)))}
    assert "Sep 27" in texts
    limits = {}
    for rises in (False, True):
        lines = [
            each
            for each in pictures.parsed(drawn(shown([9.0, 8.8], rises=rises))).iter(f"{pictures.SVG}line")
            if each.get("y1") == each.get("y2") and each.get("stroke-width") == "2"
        ]
        limits[rises] = float(lines[-1].get("y1", "0"))
    assert limits[True] < limits[False]


def test_a_limit_that_is_passed_already_has_no_day_to_come() -> None:
    reach = (TODAY - timedelta(days=700), TODAY - timedelta(days=690), None)
    texts = [each.text for each in pictures.labels(drawn(shown([9.0, 7.0], reach=reach)))]
    assert not [each for each in texts if each.startswith(("Dec", "Jan"))]
    assert "7.0" in texts


def test_readings_before_the_renewal_are_drawn_thin() -> None:
    ticks = [
        each
        for each in pictures.parsed(drawn(shown([9.0, 8.9, 8.8]))).iter(f"{pictures.SVG}line")
        if each.get("y1") == each.get("y2")
    ]
    widths = [each.get("stroke-width") for each in ticks]
    assert widths.count("3") == 1
    assert widths.count("5.5") == 2
