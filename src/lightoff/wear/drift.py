"""Drift of a reading: how fast it goes, whether it changed, and when it reaches its limit.

What comes in are departures: readings less what the forward model expects there and then, so that altitude,
voltage, air and coolant are out of them and a visit in the mountains is no false alarm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from datetime import date, timedelta

import numpy as np

from lightoff.ground.errors import Declined, Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.wear.cusum import Cusum, cusum
from lightoff.wear.trend import Line

COVERAGE = 0.95
CLEAR_STEP = 4.0
"""How much less a step must leave over than a line, in weighted squares, since its place is chosen too (a
likelihood of 7 to 1). Basis: common practice, no source."""
_FURTHEST_DAYS = 3650.0  # ten years on, a trend says nothing
_DAYS_A_YEAR = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """A reading less what is expected there and then, in the SI unit of the reading.

    The mean of several lights or cycles of one day is one departure with the smaller standard uncertainty.
    """

    taken_on: date
    value: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """When a trend reaches its limit; each is None where that is never, or not within ten years.

    `earliest` and `latest` hold the day with the coverage of the trend, `line` is the likeliest.
    """

    earliest: date | None
    line: date | None
    latest: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """The trend of a reading since its last service or change, and what follows from it.

    `per_year` is the slope and `level` where the trend stands at the last reading, both in the SI unit of
    the reading. `change` are the CUSUM's sums, whose first reading is the second one kept; `changed_on` is
    the first reading after a step, and the trend begins with it. `is_scattered` tells that the readings
    scatter more than their uncertainties allow, and that the intervals are wider for it.
    """

    reading: str
    dimension: str
    first_on: date
    last_on: date
    reading_count: int
    per_year: Estimate
    level: Estimate
    reach: Reach | None
    change: Cusum
    changed_on: date | None
    is_scattered: bool
    line: Line = field(repr=False)

    @property
    def is_drifting(self) -> bool:
        """Whether the slope is told from nought."""
        return not self.per_year.holds(0.0)

    def expected_on(self, day: date) -> Estimate:
        """The trend on a day, for a drawing; far ahead its interval grows without end."""
        return self.line.at(float((day - self.first_on).days))

    def says(self, today: date) -> tuple[Message, ...]:
        """What the trend tells, in sentences; a day that has passed is told as passed."""
        what, count = self.reading, self.reading_count
        told = []
        if self.changed_on is not None:
            side = f"@wear_side.{self.change.side}"
            told.append(message("wear.changed", what=what, side=side, on=self.changed_on))
        if not math.isfinite(self.per_year.half_width):
            told.append(message("wear.drift_unknown", what=what))
        else:
            slope = Amount(
                value=self.per_year.value, dimension=self.dimension, half_width=self.per_year.half_width
            )
            key = "wear.drifts" if self.is_drifting else "wear.drift_not_told"
            told.append(message(key, what=what, slope=slope, count=count))
        if self.is_scattered:
            told.append(message("wear.drift_scattered", what=what))
        if self.reach is not None and math.isfinite(self.per_year.half_width):
            told.append(_when(what, self.reach, last_on=self.last_on, today=today))
        return tuple(told)


def drift(
    departures: Sequence[Departure],
    *,
    reading: str,
    dimension: str,
    serviced_on: date | None = None,
    limit: float | None = None,
    coverage: float = COVERAGE,
) -> Drift:
    """The trend of departures since the last service, or since a step that is found after it.

    Parameters: `departures` in any order; `reading` its name or a key of `texts/` with "@"; `dimension` as in
    `ground.units` ("temperature_difference" for a temperature); `limit` the departure that must not be
    passed, above nought for a reading that rises towards it, below for one that falls. Readings from
    `serviced_on` on count, and the CUSUM has its head start then. It sums each reading against the mean of
    those before it; where it calls a change and a step fits better than a line, the trend begins at the step.
    Raises: Refusal for an uncertainty not above nought or a limit of nought; Declined where nothing was read
    since the service.
    Basis: jcgm_100_2008 (a line by least squares), fieller_1954 (the day of the limit), lucas_crosier_1982.
    """
    for each in departures:
        if not (math.isfinite(each.value) and 0.0 < each.standard_uncertainty < math.inf):
            raise Refusal(message("wear.departure_not_possible", on=each.taken_on), field="departures")
    if limit is not None and not (math.isfinite(limit) and limit):
        raise Refusal(message("wear.limit_not_possible", what=reading), field="limit")
    kept = sorted(
        (each for each in departures if serviced_on is None or each.taken_on >= serviced_on),
        key=lambda each: (each.taken_on, each.value),
    )
    if not kept:
        raise Declined(message("wear.no_departures", what=reading))
    change = cusum(_against_those_before(kept), head_start=0.0 if serviced_on is None else 0.5)
    line = _line(kept, coverage)
    begins = 0 if change.alarm_at is None else _step(kept, line, up=change.side == "rise")
    if begins:
        line = _line(kept[begins:], coverage)
    first, last = kept[begins].taken_on, kept[-1].taken_on
    return Drift(
        reading=reading,
        dimension=dimension,
        first_on=first,
        last_on=last,
        reading_count=len(kept) - begins,
        per_year=line.per_day().scaled(_DAYS_A_YEAR),
        level=line.at(float((last - first).days)),
        reach=None if limit is None else _reach(kept[begins:], limit, coverage),
        change=change,
        changed_on=first if begins else None,
        is_scattered=line.is_scattered,
        line=line,
    )


def _line(kept: Sequence[Departure], coverage: float, *, sign: float = 1.0) -> Line:
    days = np.array([(each.taken_on - kept[0].taken_on).days for each in kept], dtype=np.float64)
    values = np.array([sign * each.value for each in kept])
    doubt = np.array([each.standard_uncertainty for each in kept])
    return Line.through(days, values, doubt, coverage=coverage)


def _against_those_before(kept: Sequence[Departure]) -> list[float]:
    """Each reading but the first, less the mean of those before it, over the standard deviation of that.

    Without a change these are independent of each other and of spread one, so that no target is needed.
    Basis: common practice, no source (a self-starting CUSUM with known uncertainties).
    """
    weight = kept[0].standard_uncertainty ** -2
    mean = kept[0].value
    scaled = []
    for each in kept[1:]:
        variance = each.standard_uncertainty**2
        scaled.append((each.value - mean) / math.sqrt(variance + 1.0 / weight))
        mean = (weight * mean + each.value / variance) / (weight + 1.0 / variance)
        weight += 1.0 / variance
    return scaled


def _step(kept: Sequence[Departure], line: Line, *, up: bool) -> int:
    """The first reading after the step that fits best of those that go the way which the sums called, nought
    where none does or a line fits about as well."""
    tried = ((at, *_two_levels(kept, at)) for at in range(1, len(kept)))
    there = [(misfit, at) for at, misfit, rise in tried if (rise > 0.0) is up]
    misfit, at = min(there, default=(math.inf, 0))
    return at if misfit < line.misfit - CLEAR_STEP else 0


def _two_levels(kept: Sequence[Departure], at: int) -> tuple[float, float]:
    """Weighted squares about one level before a reading and one from it on, summed; and the rise between."""
    total, means = 0.0, []
    for side in (kept[:at], kept[at:]):
        weights = [each.standard_uncertainty**-2 for each in side]
        mean = sum(w * each.value for w, each in zip(weights, side, strict=True)) / sum(weights)
        total += sum(w * (each.value - mean) ** 2 for w, each in zip(weights, side, strict=True))
        means.append(mean)
    return total, means[1] - means[0]


def _reach(kept: Sequence[Departure], limit: float, coverage: float) -> Reach:
    """By a line that rises towards the limit, whichever side it lies on."""
    last = kept[-1].taken_on
    after = float((last - kept[0].taken_on).days)
    days = _line(kept, coverage, sign=math.copysign(1.0, limit)).reaches(abs(limit), after=after)
    earliest, line, latest = (
        None if each is None or each - after > _FURTHEST_DAYS else last + timedelta(days=round(each - after))
        for each in days
    )
    return Reach(earliest=earliest, line=line, latest=latest)


def _when(what: str, reach: Reach, *, last_on: date, today: date) -> Message:
    """When the limit is met; of a day that has passed, that it may be met already."""
    if reach.earliest is None:
        return message("wear.reaches_not", what=what)
    if reach.line is not None and reach.line <= today:
        key = "reached" if reach.line <= last_on else "reached_since"
        return message(f"wear.{key}", what=what, at=reach.line)
    passed = "_by_now" if reach.earliest <= today else ""
    if reach.line is None:
        return message(f"wear.reaches_perhaps{passed}", what=what, earliest=reach.earliest)
    if reach.latest is None:
        return message(f"wear.reaches_open{passed}", what=what, at=reach.line, earliest=reach.earliest)
    days = {"at": reach.line, "earliest": reach.earliest, "latest": reach.latest}
    return message(f"wear.reaches{passed}", what=what, **days)
