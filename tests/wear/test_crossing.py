"""The crossing: found to either side, and none where there is none within reach."""

import pytest

from lightoff.wear.crossing import crossing


def test_a_crossing_is_found_to_either_side_and_none_beyond_reach() -> None:
    assert crossing(lambda x: 4.0 - x * x, start=0.5, step=-0.1, reach=9.0) == pytest.approx(-2.0)
    assert crossing(lambda x: 4.0 - x * x, start=0.5, step=0.1, reach=9.0) == pytest.approx(2.0)
    assert crossing(lambda x: 4.0 - x * x, start=0.5, step=0.1, reach=1.0) is None
