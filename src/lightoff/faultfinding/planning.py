"""The plan of least expected minutes, counted without knowing any heater.

A *cause* is what may be wrong, with the repairs that mend it. What an outcome leaves to do is priced by a
plan that goes from suspect to suspect, each mended outright or looked at first and mended if it is seen, by
falling chance over what it costs to have asked in vain; a path that must be opened is paid once by all that
lies behind it; handing over ends it where that is cheaper. For one fault, independent repairs and a check
after each this order is exact (kadane_1977; one level of openings: ottosen_2010; pairs of look and repair:
heckerman_1995). With two faults, or repairs that mend several, it is not (a case that loses 15 % stands in
the tests). So each step is judged by what every outcome of it would leave, and the best few with one more
step behind every outcome (langseth_2003).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array

Places: TypeAlias = NDArray[np.intp]
NO_PATH = -1
LOOKED_TWICE, FOLLOWERS = 4, 12
"""How many steps are judged again with one more behind each outcome, of how many that one is the best; where
there are no more than these, all are."""
LEAST_FOUND = 0.6
"""A look that finds its fault more seldom than this is no proof of it."""
_NOTHING, _LEAST_MASS, _NEVER = 1e-9, 1e-30, 1e30


@dataclass(frozen=True, kw_only=True)
class Repairs:
    """What can be mended, and at which price.

    `mends`: for each cause the faults it consists of, each as the repairs of which any one mends it; None
    where nothing does. `costs` (a,) minutes above zero with the start that confirms; `paths` (a,) the path a
    repair opens or NO_PATH; `owed` (p,) what each path still owes; `hand_over` what always ends it.
    """

    mends: Sequence[Sequence[Sequence[int]] | None]
    costs: Array
    paths: Places
    owed: Array
    hand_over: float

    @cached_property
    def alone(self) -> Array:
        """1 where this repair alone is what a cause needs, (h, a)."""
        table = np.zeros((len(self.mends), len(self.costs)))
        for at, faults in enumerate(self.mends):
            if faults is not None and len(faults) == len(faults[0]) == 1:
                table[at, faults[0][0]] = 1.0
        return table

    @cached_property
    def cured(self) -> Array:
        """1 where this repair alone leaves nothing of a cause, (h, a)."""
        table = self.alone.copy()
        for at in self.compound[0]:
            table[at, list(set.intersection(*(set(ways) for ways in self.mends[at] or ())))] = 1.0
        return table

    @cached_property
    def share(self) -> Array:
        """How much of a cause each repair takes away, for ordering them, (h, a)."""
        table = np.zeros((len(self.mends), len(self.costs)))
        for at, faults in enumerate(self.mends):
            for ways in faults or ():
                for way in ways:
                    table[at, way] += 1.0 / len(faults or ())
        return table

    @cached_property
    def compound(self) -> tuple[Places, Places]:
        """Causes that take two repairs, or any of several: which, (k,), and the repairs that mend each of
        their faults, (ways, faults, k)."""
        rows = [
            at
            for at, faults in enumerate(self.mends)
            if faults is not None and not len(faults) == len(faults[0]) == 1
        ]
        most = max((len(self.mends[at] or ()) for at in rows), default=1)
        ways = max((len(each) for at in rows for each in self.mends[at] or ()), default=1)
        table = np.zeros((ways, most, len(rows)), dtype=np.intp)
        for place, at in enumerate(rows):
            faults = list(self.mends[at] or ())
            for member, each in enumerate([*faults, *[faults[0]] * (most - len(faults))]):
                table[:, member, place] = [*each, *[each[0]] * (ways - len(each))]
        return np.array(rows, dtype=np.intp), table

    @cached_property
    def behind(self) -> tuple[Places, ...]:
        """The repairs behind each path."""
        return tuple(np.flatnonzero(self.paths == path) for path in range(len(self.owed)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A step with the chance of each outcome under each cause, `likelihood` (h, o).

    `cost` minutes without what its path owes. `ends`: outcomes that leave nothing to do. `costs_after` (o, a)
    what repairs cost after each outcome, where it changes that. A `locked` option can only follow one that
    `unlocks` it.
    """

    key: str
    cost: float
    likelihood: Array
    path: int = NO_PATH
    ends: tuple[int, ...] = ()
    costs_after: Array | None = None
    locked: bool = False
    unlocks: frozenset[str] = frozenset()

    @property
    def goes_on(self) -> list[int]:
        """The outcomes that leave something to do."""
        return [at for at in range(self.likelihood.shape[1]) if at not in self.ends]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ways:
    """How each repair is gone about in a plan: outright, or after a look that proves it.

    `vain` (n or 1, a) minutes when it was not the cause, `more` (n or 1, a) those on top when it was;
    `outright` (n or 1, a) what it costs without the look, never chosen where there is none; `paths` (a,)
    opened in any case; `found` (a,) chance that the way finds its cause.
    """

    vain: Array
    more: Array
    outright: Array
    paths: Places
    found: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """`mending` minutes of the best plan of repairs alone, `first` of it (NO_PATH: hand over at once).

    `minutes` (options,) expected until it is mended if each comes next; `once` without a step behind.
    """

    mending: float
    first: int
    minutes: Array
    once: Array


def repair_option(repairs: Repairs, at: int, key: str) -> Option:
    """A repair as a step: it runs well, or there is no change and it is done."""
    cured = repairs.cured[:, at]
    done = np.where(np.arange(len(repairs.costs)) == at, _NOTHING, repairs.costs)
    return Option(
        key=key,
        cost=float(repairs.costs[at]),
        likelihood=np.stack([cured, 1.0 - cured], axis=1),
        path=int(repairs.paths[at]),
        ends=(0,),
        costs_after=np.stack([repairs.costs, done]),
    )


def outlook(repairs: Repairs, chances: Array, options: Sequence[Option]) -> Outlook:
    """What each option promises. `chances` (h,) of the causes, adding up to one."""
    minutes, first = mending(repairs, chances[:, None])
    if not options:
        return Outlook(mending=float(minutes[0]), first=int(first[0]), minutes=np.zeros(0), once=np.zeros(0))
    ways = ways_of(repairs, chances, options)
    rows = _Rows.of(repairs, options)
    once = rows.after(repairs, ways, chances[:, None], repairs.costs[None, :], repairs.owed)[0, 1:]
    locked = np.array([each.locked for each in options])
    judged = np.where(locked, np.inf, once)
    order, by_price = (np.argsort(each, kind="stable") for each in (judged, once))
    # What opens the way to other steps cannot be judged without them.
    most = LOOKED_TWICE if len(options) > FOLLOWERS else len(options)
    again = [*order[:most], *(at for at in order[most:] if options[at].unlocks)]
    for at in (int(each) for each in again if not locked[each]):
        free = [each for each in by_price if not locked[each] or options[each].key in options[at].unlocks]
        behind = [options[each] for each in free[:FOLLOWERS] if each != at]
        if behind:
            judged[at] = _twice(repairs, ways, chances, options[at], behind)
    return Outlook(
        mending=float(minutes[0]), first=int(first[0]), minutes=judged, once=np.where(locked, np.inf, once)
    )


def outright(repairs: Repairs) -> Ways:
    """Every repair done without a look."""
    return Ways(
        vain=repairs.costs[None, :],
        more=np.zeros((1, repairs.costs.size)),
        outright=np.full((1, repairs.costs.size), _NEVER),
        paths=repairs.paths,
        found=np.ones(repairs.costs.size),
    )


def ways_of(repairs: Repairs, chances: Array, options: Sequence[Option]) -> Ways:
    """The cheaper way for each repair: outright, or after the look that proves it best."""
    plain = outright(repairs)
    looks = [each for each in options if not each.ends and not each.locked]
    if not looks:
        return plain
    price = np.concatenate([
        np.full(each.likelihood.shape[1], each.cost + (repairs.owed[each.path] if each.path >= 0 else 0.0))
        for each in looks
    ])  # fmt: skip
    likelihood = np.concatenate([each.likelihood for each in looks], axis=1)
    mass = chances @ repairs.alone
    joint = (chances[:, None] * likelihood).T
    hit = joint @ repairs.alone
    found = hit / np.maximum(mass, _LEAST_MASS)
    alarm = (joint.sum(axis=1)[:, None] - hit) / np.maximum(1.0 - mass, _LEAST_MASS)
    whole = repairs.costs + np.append(repairs.owed, 0.0)[repairs.paths]
    vain = price[:, None] + alarm * whole
    # What the look misses ends with the maker's service.
    score = vain + mass * (price[:, None] + (1.0 - found) * repairs.hand_over)
    score[found < LEAST_FOUND] = np.inf
    best = np.argmin(score, axis=0)
    every = np.arange(whole.size)
    looked = score[best, every] < whole * (1.0 - mass)
    spent = np.maximum(vain[best, every], _NOTHING)
    return Ways(
        vain=np.where(looked, spent, repairs.costs)[None, :],
        more=np.where(looked, whole + price[best] - spent, 0.0)[None, :],
        outright=np.where(looked, whole, _NEVER)[None, :],
        paths=np.where(looked, NO_PATH, repairs.paths),
        found=np.where(looked, found[best, every], 1.0),
    )


def _twice(repairs: Repairs, ways: Ways, chances: Array, option: Option, behind: Sequence[Option]) -> float:
    """Expected minutes of an option with the best of those `behind` it after each outcome, or none."""
    joint = chances[:, None] * option.likelihood
    costs = repairs.costs[None, :] if option.costs_after is None else option.costs_after
    owed = repairs.owed.copy()
    paid = option.cost
    if option.path != NO_PATH:
        paid, owed[option.path] = paid + float(owed[option.path]), 0.0
    # What ends it, or never comes, leaves nothing to do.
    mass = joint.sum(axis=0)
    on = [at for at in option.goes_on if mass[at] > 0.0]
    if not on:
        return paid
    costs = costs if option.costs_after is None else costs[on]
    best = _Rows.of(repairs, behind).after(repairs, ways, joint[:, on], costs, owed).min(axis=1)
    return paid + float(mass[on] @ best)


def _left(repairs: Repairs, ways: Ways, chances: Array, costs: Array, owed: Array) -> Array:
    """What is left to do at each row of `chances` (n, h), (n,): with looks or without, as is cheaper."""
    shares = chances @ repairs.share
    plain, _ = _mending(repairs, chances, shares, replace(outright(repairs), vain=costs), owed)
    if np.all(ways.paths == repairs.paths) and np.all(ways.vain == repairs.costs):
        return plain
    looked, _ = _mending(repairs, chances, shares, _at_costs(repairs, ways, costs), owed)
    return np.minimum(plain, looked)


def _at_costs(repairs: Repairs, ways: Ways, costs: Array) -> Ways:
    """The same ways where some repairs have become cheaper, `costs` (n or 1, a)."""
    vain = np.minimum(ways.vain, costs)
    cheaper = repairs.costs - costs
    return replace(
        ways,
        vain=vain,
        more=np.maximum(ways.vain + ways.more - cheaper - vain, 0.0),
        outright=ways.outright - cheaper,
    )


@dataclass(frozen=True, slots=True)
class _Rows:
    """The outcomes of all options after which something is left to do, side by side; before them, as if it
    were one, no step at all: (h, r)."""

    likelihood: Array
    starts: Places  # (options,)
    costs: Array  # (options,)
    paths: Places  # (options,)
    opens: Places  # (r,)
    costs_after: Array  # (r, a)

    @classmethod
    def of(cls, repairs: Repairs, options: Sequence[Option]) -> _Rows:
        going = [each.goes_on for each in options]
        counts = [len(each) for each in going]
        starts = np.cumsum([1, *counts[:-1]])
        paths = np.array([each.path for each in options], dtype=np.intp)
        likelihood = [np.ones((len(repairs.mends), 1))]
        after = np.repeat(repairs.costs[None, :], 1 + sum(counts), axis=0)
        for each, on, start in zip(options, going, starts, strict=True):
            likelihood.append(each.likelihood[:, on] if each.ends else each.likelihood)
            if each.costs_after is not None:
                after[start : start + len(on)] = each.costs_after[on]
        return cls(
            likelihood=np.concatenate(likelihood, axis=1),
            starts=starts,
            costs=np.array([each.cost for each in options]),
            paths=paths,
            opens=np.repeat(np.append(NO_PATH, paths), [1, *counts]),
            costs_after=after,
        )

    def after(self, repairs: Repairs, ways: Ways, joint: Array, costs: Array, owed: Array) -> Array:
        """Expected minutes of no step and of each option, with what then is left, by column of joint weights,
        (n, 1 + options)."""
        branches, many = joint.shape[1], len(self.opens)
        weights = (joint[:, :, None] * self.likelihood[:, None, :]).reshape(len(joint), -1)
        mass = weights.sum(axis=0).reshape(branches, many)
        mass[:, 0] = joint.sum(axis=0)  # as summed elsewhere, to the last digit
        row_costs = np.minimum(costs[:, None, :], self.costs_after[None, :, :])
        row_costs = np.broadcast_to(row_costs, (branches, many, costs.shape[1])).reshape(branches * many, -1)
        left = np.repeat(owed[None, :], many, axis=0)
        opening = np.flatnonzero(self.opens != NO_PATH)
        left[opening, self.opens[opening]] = 0.0
        chances = (weights / np.maximum(mass.ravel(), _LEAST_MASS)).T
        minutes = _left(repairs, ways, chances, row_costs, np.tile(left, (branches, 1)))
        minutes = minutes.reshape(branches, many)
        behind = np.add.reduceat(mass * minutes, self.starts, axis=1)
        behind /= np.maximum(mass[:, :1], _LEAST_MASS)
        behind += self.costs + np.append(owed, 0.0)[self.paths]
        return np.concatenate([minutes[:, :1], behind], axis=1)


def mending(
    repairs: Repairs, weights: Array, ways: Ways | None = None, owed: Array | None = None
) -> tuple[Array, Places]:
    """Expected minutes of going from suspect to suspect, for each column of joint weights (h, n), per unit of
    its mass. `owed` (n or 1, p) where it differs. Returns (n,) minutes and (n,) the first repair, NO_PATH for
    handing over at once; without `ways` every repair is done outright.
    """
    ways = outright(repairs) if ways is None else ways
    owed = repairs.owed[None, :] if owed is None else owed
    chances = (weights / np.maximum(weights.sum(axis=0), _LEAST_MASS)).T
    return _mending(repairs, chances, chances @ repairs.share, ways, owed)


def _mending(
    repairs: Repairs, chances: Array, shares: Array, ways: Ways, owed: Array
) -> tuple[Array, Places]:
    """The same, by `chances` (n, h) of the causes and `shares` (n, a) that each repair takes away."""
    count, many = shares.shape
    order = np.argsort(-_worth(shares, ways, owed), axis=1)
    # From here on by place in the plan, (a, n): numpy adds up whole rows several times as fast. Places in the
    # tables are laid out as one row: by one index it takes three times as fast as by two.
    every = np.arange(count)
    in_order = order.T + every * many
    places = np.empty(order.shape, dtype=np.int16)  # of small whole numbers the least is found faster
    places.reshape(-1)[in_order] = np.arange(many, dtype=np.int16)[:, None]
    spent = np.broadcast_to(ways.vain, order.shape).take(in_order)
    for path in range(owed.shape[1]):
        behind = np.flatnonzero(ways.paths == path)
        if behind.size:
            spent[places[:, behind].min(axis=1), every] += owed[:, path]
    done = (chances @ (repairs.alone * ways.found)).take(in_order)
    which, alternatives = repairs.compound
    if which.size:
        when = places[:, alternatives].min(axis=1).max(axis=1).astype(np.intp)
        proven = ways.found[alternatives].max(axis=0).prod(axis=0)
        weights = (chances[:, which] * proven).ravel()
        at = (when * count + every[:, None]).ravel()
        done += np.bincount(at, weights, minlength=done.size).reshape(done.shape)
    left = np.ones((many + 1, count))
    np.maximum(1.0 - _added_up(done), 0.0, out=left[1:])
    paid = spent * left[:-1]
    if ways.more.any():
        paid += (ways.more * (chances @ (repairs.share > 0.0))).take(in_order)
        # Where it is all but sure, nobody looks first.
        sure = np.broadcast_to(ways.outright, order.shape).take(in_order)
        paid = np.minimum(paid, sure * left[:-1])
    total = left * repairs.hand_over
    total[1:] += _added_up(paid)
    stop = np.argmin(total, axis=0)
    return total[stop, every], np.where(stop > 0, order[:, 0], NO_PATH)


def _worth(shares: Array, ways: Ways, owed: Array) -> Array:
    """Chance over cost of each repair, (n, a); of those behind a closed path, that of the best bundle."""
    worth = np.asarray(shares * ways.found / ways.vain)
    vain, starts = np.broadcast_to(ways.vain, worth.shape), np.arange(len(worth)) * worth.shape[1]
    for path in range(owed.shape[1]):
        behind, price = np.flatnonzero(ways.paths == path), owed[:, path]
        if not behind.size or not price.any():
            continue
        inner = np.argsort(-worth[:, behind], axis=1).T
        in_order = behind[inner] + starts
        chance, spent = (_added_up(each.take(in_order)) for each in (shares, vain))
        ratio = chance / (spent + price)
        last = np.where(price > 0.0, ratio.argmax(axis=0), -1)
        place = np.arange(behind.size)[:, None]
        bundle = ratio.max(axis=0) * (1.0 - _NOTHING * place)
        worth.reshape(-1)[in_order] = np.where(place <= last, bundle, worth.take(in_order))
    return worth


def _added_up(rows: Array) -> Array:
    """The rows, each with all before it, in place."""
    for at in range(1, len(rows)):
        rows[at] += rows[at - 1]
    return rows
