"""The unknowns: kinds, spreads, and reading rows of shifts by name."""

from dataclasses import replace

import numpy as np
import pytest
from one_heater import PUMPED, SIPHONED, shifts

from lightoff.plant.parameters import (
    COLUMN,
    FEED_UNKNOWN_SPREAD,
    PARAMETERS,
    SPREADS,
    Kind,
    Shifts,
    normal_rows,
    spreads,
)
from lightoff.terms.shelf import Feed


def test_columns_and_spreads_go_with_the_parameters() -> None:
    assert list(COLUMN) == list(PARAMETERS)
    assert [PARAMETERS[key].spread for key in PARAMETERS] == list(SPREADS)
    assert np.all(SPREADS > 0.0)


def test_each_kind_is_read_in_its_own_way() -> None:
    read = Shifts(shifts({"fan_speed": np.log(2.0), "lift": -1.5, "fan_open": 1.7, "jacket_soot": -1e-4}, {}))
    assert read.factor("fan_speed") == pytest.approx([2.0, 1.0])
    assert read.amount("lift") == pytest.approx([-1.5, 0.0])
    assert read.share("fan_open") == pytest.approx([1.0, 0.0])
    assert read.layer("jacket_soot") == pytest.approx([0.0, 0.0])
    assert read.count == 2


@pytest.mark.parametrize("key", ["fan_speed", "lift", "fan_open"])
def test_a_parameter_read_as_another_kind_is_refused(key: str) -> None:
    read, kind = Shifts(shifts({})), PARAMETERS[key].kind
    ways = {Kind.LOG: read.factor, Kind.ADD: read.amount, Kind.SHARE: read.share}
    for other, way in ways.items():
        if other is not kind:
            with pytest.raises(TypeError, match=f"{key} is {kind}"):
                way(key)


def test_the_spread_of_the_feed_is_wide_where_the_sheet_does_not_know_it() -> None:
    for sheet in (PUMPED, SIPHONED):
        assert np.array_equal(spreads(sheet), SPREADS)
    wide = spreads(replace(PUMPED, feed=Feed.UNKNOWN))
    assert wide[COLUMN["feed_law"]] == FEED_UNKNOWN_SPREAD
    assert np.sum(wide != SPREADS) == 1


def test_a_parameter_that_came_later_leaves_what_was_drawn_before_as_it_was() -> None:
    """Whoever adds an unknown changes nothing in fixed tables and invented heaters but its own column."""
    rng, plain = (np.random.default_rng(7) for _ in range(2))
    rows = normal_rows(rng, 4, more=2)
    assert rows.shape == (4, len(PARAMETERS) + 2)
    later = COLUMN["ring_air"]
    assert later == len(PARAMETERS) - 1
    assert np.array_equal(np.delete(rows, later, axis=1), plain.normal(size=(4, len(PARAMETERS) + 1)))
    assert rng.random() == plain.random(), "and nothing in what is drawn afterwards"
    assert 0.0 < np.std(normal_rows(np.random.default_rng(7), 500)[:, later]) < 1.2
