"""What is known of a case: numbers read, states seen, things tried."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from lightoff.ground.values import dataclass
from lightoff.plant.number import Number


class Outcome(StrEnum):
    """How a trial or a repair ended."""

    CURED = "runs well"
    NO_CHANGE = "no change"
    NOT_DONE = "could not do"


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Everything known, by catalogue key. `states` gives each state its weight: one state at 1 where sure.

    `trials` and `repairs` by key of the trial or fault. `not_possible` names readings and trials that cannot
    be had here; `read_again` those that were read again or insisted on, `told_twice` those that were told in
    two ways: states weigh alike, numbers are left out; `starts_tried` how often it tried since it last ran
    well, by itself too, None where nobody knows; `dried` that a chamber found wet has been drained, dried and
    aired since. Order does not matter: two evidences with the same content are equal.
    """

    numbers: Mapping[str, Number]
    states: Mapping[str, Mapping[str, float]]
    trials: Mapping[str, Outcome]
    repairs: Mapping[str, Outcome]
    not_possible: frozenset[str] = frozenset()
    read_again: frozenset[str] = frozenset()
    told_twice: frozenset[str] = frozenset()
    starts_without_flame: float = 0.0
    starts_tried: float | None = None
    dried: bool = False

    @property
    def known(self) -> frozenset[str]:
        """Keys of all readings and trials that need not be taken again."""
        return frozenset(self.numbers) | frozenset(self.states) | frozenset(self.trials)

    def without(self, key: str) -> Evidence:
        """The same, had one reading not been taken."""
        return Evidence(
            numbers={at: each for at, each in self.numbers.items() if at != key},
            states={at: each for at, each in self.states.items() if at != key},
            trials={at: each for at, each in self.trials.items() if at != key},
            repairs=self.repairs,
            not_possible=self.not_possible,
            read_again=self.read_again,
            told_twice=self.told_twice,
            starts_without_flame=self.starts_without_flame,
            starts_tried=self.starts_tried,
            dried=self.dried,
        )
