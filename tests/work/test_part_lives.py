"""The lives of a heater's parts on its calendar."""

from __future__ import annotations

from datetime import UTC, datetime
from itertools import pairwise

import pytest

from lightoff.ground.errors import NotFound
from lightoff.wear.lives import Clock
from lightoff.work.fleet import fleet
from lightoff.work.part_lives import lives_ahead, part_lives
from lightoff.work.units import units
from lightoff.work.workshop import Workshop

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def test_every_fitted_piece_has_its_place_and_its_days(demo_shop: Workshop) -> None:
    known = units(demo_shop, NOW)
    seen_earlier = 0
    for heater, unit in list(known.items())[:12]:
        lives = part_lives(demo_shop, heater, NOW)
        assert sorted(each.kind.key for each in lives) == sorted(each.part.kind for each in unit.fitted)
        for each in lives:
            spans = [*each.earlier, (each.since, NOW)]
            assert all(start <= end for start, end in spans)
            assert all(one[1] <= other[0] for one, other in pairwise(spans)), each
            seen_earlier += len(each.earlier)
            if each.ends is None:
                assert each.fitted.piece.age_on(Clock(each.kind.clock)) is None
            else:
                assert NOW < each.ends[0] <= each.ends[1] <= each.ends[2]
                assert each.left is not None
                assert each.left > 0
    assert seen_earlier > 20


def test_a_heater_that_is_not_there_is_not_found(demo_shop: Workshop) -> None:
    with pytest.raises(NotFound):
        part_lives(demo_shop, "nobody", NOW)


def test_what_is_worked_out_ahead_is_what_every_report_asks_for(demo_shop: Workshop) -> None:
    every = fleet(demo_shop, NOW)
    every._possible.clear()
    for work_out in lives_ahead(demo_shop, NOW):
        work_out()
    ahead = set(every._possible)
    for heater in every.units:
        part_lives(demo_shop, heater, NOW)
    assert set(every._possible) == ahead
    assert len(ahead) == 4 * len(demo_shop.shelf.part_types)
