"""What to do with a fitted part: renew it now, at the next opening, carry a spare, or leave it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields
from enum import StrEnum

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.estimate import Estimate
from lightoff.ground.message import Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array
from lightoff.wear.lives import word
from lightoff.wear.posterior import LifePosterior, Use, likeliest
from lightoff.wear.replacement import MOST_SEASONS, costs_per_season, further_use
from lightoff.wear.saying import plain_share, share, whole

CLOSE = 0.05
"""Below this share of the cost of renewing, two ways cost the same. Basis: common practice, no source."""


class Action(StrEnum):
    """What may be done with a fitted part."""

    RENEW_NOW = "renew_now"
    RENEW_AT_NEXT_OPENING = "renew_at_next_opening"
    CARRY_A_SPARE = "carry_a_spare"
    LEAVE = "leave"


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What renewing and failing cost, in one money. All can be set; `part` has no default.

    Basis of the defaults: common practice, no source: a judgement, in units of which an hour of work costs
    about a hundred. `fitting` is the work with the housing open; `opening` is opening and closing it, saved
    where it is open anyway; `trip` is a journey made for this alone; `failure` is what a failure in the
    season costs beside part, fitting, opening and trip (a hurried call, a cold night); `second_trip` is what
    a piece that is not at hand adds to it; `spare_share` is what a spare costs a season, a part of its price.
    Raises: Refusal for a cost below nought, or a part that costs nothing.
    """

    part: float
    fitting: float = 50.0
    opening: float = 60.0
    trip: float = 120.0
    failure: float = 150.0
    second_trip: float = 150.0
    spare_share: float = 0.10

    def __post_init__(self) -> None:
        """Refuses costs that cannot be."""
        for each in fields(self):
            cost = getattr(self, each.name)
            if not (math.isfinite(cost) and cost >= 0.0) or (each.name == "part" and cost == 0.0):
                raise Refusal(message("wear.cost_not_possible"), field=each.name)

    def renewal(self, *, is_open: bool, is_on_site: bool) -> float:
        """A planned renewal, with opening and journey where they are made for it alone."""
        return (
            self.part + self.fitting + (0.0 if is_open else self.opening) + (0.0 if is_on_site else self.trip)
        )

    def failing(self, *, has_spare: bool) -> float:
        """A failure in the season, mended."""
        return (
            self.part
            + self.fitting
            + self.opening
            + self.trip
            + self.failure
            + (0.0 if has_spare else self.second_trip)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do with one fitted part and why.

    `costs` are what each way costs on average against a part renewed for nothing today, the life that is
    still in the part counted: only their differences mean something. `agreeing` is the share of possible
    lives for which the same way is the cheapest. `renew_after_seasons` is when the chosen way renews
    it, None beyond all seasons looked at.
    """

    part: str
    action: Action
    costs: Mapping[Action, float]
    chance_to_last: Estimate
    agreeing: float
    is_close: bool
    saving: float
    next_best: Action
    renew_after_seasons: int | None
    renewal_cost: float
    failure_cost: float
    season: Use
    basis: tuple[Message, ...]

    def says(self) -> tuple[Message, ...]:
        """The advice and its reasons, in sentences; `part` is a key of `texts/` or a name."""
        use, clock = whole(self.season.expected), word(self.season.clock)
        close = "wear.why_close" if self.is_close else "wear.why"
        return (
            message(f"wear.do_{self.action.value}", part=self.part),
            message("wear.chance_to_last", share=share(self.chance_to_last), use=use, clock=clock),
            message("wear.what_it_costs", renewal=whole(self.renewal_cost), failure=whole(self.failure_cost)),
            message(close, saving=whole(self.saving), other=f"@wear_action.{self.next_best.value}"),
            message("wear.agreeing", share=plain_share(self.agreeing)),
            *self._later(),
            *self.basis,
        )

    def _later(self) -> tuple[Message, ...]:
        """When the part is renewed by plan, where that is not said already."""
        if self.action not in (Action.CARRY_A_SPARE, Action.LEAVE) or self.renew_after_seasons is None:
            return ()
        return (message("wear.renew_later", seasons=self.renew_after_seasons),)


def advise(
    lives: LifePosterior,
    *,
    part: str,
    age: float | Estimate,
    season: Use,
    costs: Costs,
    is_open: bool,
    is_on_site: bool = True,
    has_spare: bool = False,
    between_visits: Use | None = None,
) -> Advice:
    """The way that costs least on average over all lives that are still possible.

    Each way is followed until the part is renewed, by plan at a visit after a season, or by its failure; time
    won counts at what a part of this type costs per season in the long run, renewed at its best visit.
    Parameters: `lives` hold the piece itself as still good at `age`; `part` is its name, or a key of
    `texts/` with "@"; `season` the use till the next visit, its expected amount for the costs, its
    spread, and that of an estimated `age`, for the chance; `between_visits` the use from one visit to the
    next after that, as in the season where it is not given; `is_open` whether the housing is open now,
    `is_on_site` whether somebody is there. At the next visits the housing is taken to be open anyway. With
    `has_spare` a piece is carried already: it costs nothing more, spares the second trip whatever is done,
    and is not among the ways.
    Raises: Refusal as `LifePosterior.chance_to_last`.
    Valid for: seasons alike. Costs in money leave out what money does not measure: a caution is never
    traded for it.
    Basis: barlow_proschan_1965 (renewal theory: stop where going on costs more than the long run's rate).
    """
    so_far = likeliest(age)
    lives.check(so_far, season)
    planned = costs.renewal(is_open=True, is_on_site=True)
    usual = between_visits or season
    lives.check(so_far, usual)
    rate = _long_run(lives, usual, planned, costs, has_spare=has_spare)
    ages = so_far + season.expected + usual.expected * np.arange(float(MOST_SEASONS))
    failed, used = further_use(lives, np.concatenate([[so_far], ages]))
    seasons = used / usual.expected

    def followed(*, spare: bool, holding: float) -> Array:
        """Cost of each possible life, by the visit at which the part is renewed: (points, seasons)."""
        failing = costs.failing(has_spare=spare)
        return failing * failed + planned * (1.0 - failed) + (holding - rate) * seasons

    bare = followed(spare=has_spare, holding=0.0)
    spared = followed(spare=True, holding=costs.spare_share * costs.part)
    later = 1 + int(np.argmin(lives.weights @ bare[:, 1:]))
    spare_till = int(np.argmin(lives.weights @ spared))
    now = costs.renewal(is_open=is_open, is_on_site=is_on_site)
    each = {
        Action.RENEW_NOW: np.full(lives.weights.size, now),
        Action.RENEW_AT_NEXT_OPENING: bare[:, 0],
        Action.CARRY_A_SPARE: spared[:, spare_till],
        Action.LEAVE: bare[:, later],
    }
    if has_spare:
        del each[Action.CARRY_A_SPARE]
    mean = {action: float(lives.weights @ cost) for action, cost in each.items()}
    action, next_best, *_ = sorted(mean, key=lambda at: mean[at])
    cheapest = np.min(list(each.values()), axis=0)
    ends = {Action.RENEW_NOW: -1, Action.RENEW_AT_NEXT_OPENING: 0, Action.CARRY_A_SPARE: spare_till}
    end = ends.get(action, later)
    saving = mean[next_best] - mean[action]
    return Advice(
        part=part,
        action=action,
        costs=mean,
        chance_to_last=lives.chance_to_last(age=age, use=season),
        agreeing=float(lives.weights @ (each[action] <= cheapest + 1e-9)),
        is_close=saving < CLOSE * planned,
        saving=saving,
        next_best=next_best,
        renew_after_seasons=None if end == MOST_SEASONS - 1 else end + 1,
        renewal_cost=now,
        failure_cost=costs.failing(has_spare=has_spare),
        season=season,
        basis=lives.says(),
    )


def _long_run(lives: LifePosterior, season: Use, planned: float, costs: Costs, *, has_spare: bool) -> float:
    """The least cost per season of having such a part, with or without a spare carried."""
    failing = [costs.failing(has_spare=spare) for spare in (True, False)]
    spared, bare = (
        float(each.min())
        for each in costs_per_season(lives, season, planned_cost=planned, failure_costs=failing)
    )
    return spared if has_spare else min(bare, spared + costs.spare_share * costs.part)
