"""Lives: how long one piece of a part type worked, on one clock, as far as anybody knows."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import StrEnum

import numpy as np

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Amount, Message, message
from lightoff.ground.values import dataclass
from lightoff.physics.uncertain import Array


class Clock(StrEnum):
    """What wears a part. Ages are counted in its unit: hours of running, starts, months fitted."""

    RUN_HOURS = "run_hours"
    STARTS = "starts"
    MONTHS = "months"


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """One piece of a part type on one clock.

    `entered` is the age at which it came under observation: nought for a piece fitted new and known since,
    its age of that day for one found already fitted. It is never left out: pieces that failed before
    could not be seen, and forgetting that makes parts last too long on paper.
    `left` is the age to which it is known to have worked. `right` is the age by which it had failed: the
    same as `left` where the age is known, above it where it was found failed, None while it has not failed.
    `cause` names what ended it; `count` stands for so many equal lives.
    Raises: Refusal for ages that cannot be.
    """

    clock: Clock
    left: float
    right: float | None = None
    entered: float = 0.0
    cause: str = ""
    piece: str = ""
    heater_type: str = ""
    count: int = 1

    def __post_init__(self) -> None:
        """Refuses ages that cannot be."""
        ages = (self.entered, self.left, self.left if self.right is None else self.right)
        if not all(math.isfinite(each) and each >= 0.0 for each in ages):
            raise Refusal(message("wear.age_not_possible", clock=word(self.clock)), field="left")
        if self.left < self.entered:
            raise Refusal(
                message("wear.ended_before_entry", entered=_shown(self.entered), left=_shown(self.left)),
                field="entered",
            )
        if self.right is not None and (self.right < self.left or self.right <= self.entered):
            raise Refusal(
                message("wear.failed_before_known_good", left=_shown(self.left), right=_shown(self.right)),
                field="right",
            )
        if self.count < 1:
            raise Refusal(message("wear.count_not_possible", count=self.count), field="count")

    @classmethod
    def failed_at(cls, age: float, *, clock: Clock, entered: float = 0.0, cause: str = "") -> Life:
        """A piece whose age at its failure is known."""
        return cls(clock=clock, left=age, right=age, entered=entered, cause=cause)

    @classmethod
    def good_at(cls, age: float, *, clock: Clock, entered: float = 0.0) -> Life:
        """A piece that still works, or was taken out working, at this age."""
        return cls(clock=clock, left=age, entered=entered)

    @classmethod
    def failed_between(
        cls, good_at: float, found_at: float, *, clock: Clock, entered: float = 0.0, cause: str = ""
    ) -> Life:
        """A piece seen working at one age and found failed at a later one."""
        return cls(clock=clock, left=good_at, right=found_at, entered=entered, cause=cause)

    @property
    def failed(self) -> bool:
        """Whether it has failed."""
        return self.right is not None

    @property
    def is_exact(self) -> bool:
        """Whether it failed at a known age."""
        return self.right == self.left


@dataclass(frozen=True, slots=True, kw_only=True)
class LifeTable:
    """Lives as columns, equal ones counted together; `right` is infinite where there is no failure.

    Arrays of shape (rows,).
    """

    clock: Clock
    entered: Array
    left: Array
    right: Array
    count: Array

    @property
    def failure_count(self) -> int:
        """How many have failed."""
        return int(self.count[np.isfinite(self.right)].sum())

    @property
    def life_count(self) -> int:
        """How many there are."""
        return int(self.count.sum())


def tabled(lives: Sequence[Life], *, clock: Clock | None = None) -> LifeTable:
    """Lives as columns; the order in which they come does not matter.

    Raises: Refusal where clocks are mixed, or where there is neither a life nor a `clock`.
    """
    clocks = {each.clock for each in lives} | ({clock} if clock else set())
    if not clocks:
        raise Refusal(message("wear.no_lives"))
    if len(clocks) > 1:
        raise Refusal(message("wear.clocks_mixed", clocks=tuple(_name(each) for each in sorted(clocks))))
    rows: Counter[tuple[float, float, float]] = Counter()
    for each in lives:
        rows[(each.entered, each.left, math.inf if each.right is None else each.right)] += each.count
    columns = np.array(sorted(rows), dtype=np.float64).reshape(-1, 3)
    counts = np.array([rows[each] for each in sorted(rows)], dtype=np.float64)
    return LifeTable(
        clock=clocks.pop(), entered=columns[:, 0], left=columns[:, 1], right=columns[:, 2], count=counts
    )


def together(tables: Sequence[LifeTable], clock: Clock) -> LifeTable:
    """Tables of one clock as one; equal lives of two tables stand in two rows."""
    every = [*tables, tabled((), clock=clock)]
    columns = {
        name: np.concatenate([getattr(each, name) for each in every])
        for name in ("entered", "left", "right", "count")
    }
    return LifeTable(clock=clock, **columns)


def of_cause(lives: Iterable[Life], cause: str) -> tuple[Life, ...]:
    """The lives as one cause sees them: whatever ended by another had not failed of this one till then.

    Valid for: causes that do not hasten each other.
    Basis: nist_handbook_2012 (section 8.1.10, competing risks).
    """
    return tuple(
        each if not each.failed or each.cause == cause else replace(each, right=None) for each in lives
    )


def word(clock: Clock) -> str:
    """The key of a clock's unit in words."""
    return f"@wear_clock.{clock.value}"


def _name(clock: Clock) -> Message:
    return Message(f"wear_clock.{clock.value}")


def _shown(age: float) -> Amount:
    return Amount(value=age, dimension="count")
