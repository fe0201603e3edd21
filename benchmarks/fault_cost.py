"""What it costs to get a heater mended: fault finding against its rivals, on made-up heaters in trouble.

    python benchmarks/fault_cost.py [--worlds 6] [--cases 50] [--seed 1] [--policies ours,oracle,...]

Each policy starts with what the owner says, whether it lit and where the start stopped, and pays for what it
does: minutes of readings, trials and repairs, the price of parts in minutes, and once a visit what an opened
path owes. Of numbers that one instrument reads together the longest is paid. After failed starts nobody
starts it again before having looked into the chamber; a wet one is dried first. A repair mends what it is
meant for and nothing else; handing over always ends. Readings are those as found; what cannot be read on this
heater costs its minutes all the same. Only heaters whose owner complains are taken: of one that runs well
nobody asks what is wrong with it.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests" / "faultfinding"))
sys.path.insert(0, str(Path(__file__).parent))

import world
from fault_cases import SHELF, Street, streets
from fault_checklist import LOOKS, METERS, checklist

from lightoff.faultfinding import Bank, Evidence, Kind, Outcome, Posterior, posterior
from lightoff.faultfinding.bank import runs_well
from lightoff.faultfinding.cost import (
    CONFIRM_MINUTES,
    HAND_OVER_MINUTES,
    OPENING_MINUTES,
    SOUND_MINUTES,
    reading_minutes,
    reading_path,
    repair_key,
    swapped_in,
)
from lightoff.faultfinding.posterior import UNKNOWN_KEY
from lightoff.faultfinding.ranking import no_firing, ranked
from lightoff.plant.model import predict
from lightoff.plant.number import Number
from lightoff.plant.parameters import COLUMN
from lightoff.plant.quantities import COLUMN as QUANTITY_COLUMN
from lightoff.plant.quantities import QUANTITIES, compared

LEADS = 0.90
MOST_STEPS = 80
DRYING_MINUTES = 15.0
"""Draining, drying and airing a wet chamber. Judgement, no source."""
HEALTHY_WIDTH = 2.5
"""Standard deviations beside the healthy mean at which the checklist calls a number out of order."""
NOT_ASKED = frozenset({"last_work"})
"""What these cases do not tell."""


@dataclass
class Course:
    """One case under one policy, so far."""

    made: world.MadeCase
    street: Street
    number: int
    numbers: dict[str, Number] = field(default_factory=dict)
    states: dict[str, dict[str, float]] = field(default_factory=dict)
    trials: dict[str, Outcome] = field(default_factory=dict)
    repairs: dict[str, Outcome] = field(default_factory=dict)
    gone: set[str] = field(default_factory=lambda: set(NOT_ASKED))
    opened: set[str] = field(default_factory=set)
    minutes: float = 0.0
    tests: int = 0
    test_minutes: float = 0.0
    wrong_repairs: int = 0
    dried: bool = False
    ended: str = ""
    led_after: tuple[int, float] | None = None
    steps: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        for key in self.made.known:
            self._note(key)

    @property
    def evidence(self) -> Evidence:
        return Evidence(
            numbers=self.numbers,
            states=self.states,
            trials=self.trials,
            repairs=self.repairs,
            not_possible=frozenset(self.gone),
            dried=self.dried,
        )

    def read(self, key: str, along: Sequence[str] = ()) -> str | float | None:
        """Take one reading and what is read along; None where it cannot be had."""
        opening = self._open(reading_path(SHELF.catalogue, key))
        minutes = max(reading_minutes(SHELF.catalogue, each) for each in (key, *along))
        self._spend(minutes + opening, test=True)
        self.gone |= {each for each in along if not self._note(each)}
        self.steps.append(key)
        if key == "chamber_look" and self.made.states[key] == "wet":
            self._spend(DRYING_MINUTES)
            self.dried = True
        if not self._note(key):
            self.gone.add(key)
            return None
        return self.made.states[key] if key in self.states else self.made.numbers[key]

    def run_trial(self, key: str) -> None:
        """Run with something known to be good."""
        trial = SHELF.trials[key]
        self._before_a_start()
        self._spend(trial.minutes + self._open(trial.opens), test=True)
        self.steps.append(key)
        row = self.made.row.copy()
        for fault in self.repairs:
            if fault in self.made.severity:
                for parameter, shift in self.street.there.faults[fault].shifts.items():
                    row[COLUMN[parameter]] -= self.made.severity[fault] * shift
        row[[COLUMN[each] for each in trial.resets]] = 0.0
        with self.street.inside():
            seen = predict(self.street.engine.sheet, self.street.engine.conditions, row[None, :])
        dice = np.random.default_rng([self.number, sorted(SHELF.trials).index(key)])
        self.trials[key] = Outcome.CURED if dice.random() < runs_well(seen)[0] else Outcome.NO_CHANGE

    def mend(self, key: str) -> None:
        """Do one repair and start it."""
        faults = SHELF.faults
        fault = faults[key]
        self._before_a_start()
        swapped = any(
            outcome is Outcome.CURED and repair_key(fault) in swapped_in(SHELF.trials[trial], faults)
            for trial, outcome in self.trials.items()
        )
        spent = 0.0 if swapped else fault.minutes + self._open(fault.opens) + CONFIRM_MINUTES
        self._spend(spent + fault.parts_minutes)
        self.steps.append(f"repair {key}")
        self.repairs[key] = Outcome.NO_CHANGE
        mended = {repair_key(faults[each]) for each in self.repairs if each}
        left = [each for each in self.made.truth if repair_key(faults[each]) not in mended]
        if not any(repair_key(faults[each]) == repair_key(fault) for each in self.made.truth):
            self.wrong_repairs += 1
        if not left:
            self.ended = "mended"

    def show_sound(self) -> None:
        """Show the owner that it runs well."""
        self._spend(SOUND_MINUTES)
        self.steps.append("show sound")
        self.repairs[""] = Outcome.NO_CHANGE
        if not self.made.truth:
            self.ended = "shown sound"

    def hand_over(self) -> None:
        """To the maker's service."""
        self._spend(HAND_OVER_MINUTES)
        self.steps.append("hand over")
        self.ended = "handed over"

    def look_who_leads(self, found: Posterior) -> None:
        """Note when the one true cause first leads with nine tenths."""
        if self.led_after is None and len(self.made.truth) == 1:
            (truth,) = self.made.truth
            if found.of(truth) >= LEADS:
                self.led_after = (self.tests, self.test_minutes)

    def _note(self, key: str) -> bool:
        if key in self.made.states:
            states = SHELF.catalogue.entries[key].states
            self.states[key] = {state: float(state == self.made.states[key]) for state in states}
        elif key in self.made.numbers:
            self.numbers[key] = Number(value=self.made.numbers[key])
        else:
            return False
        return True

    def _before_a_start(self) -> None:
        if no_firing(self.evidence):
            if "chamber_look" not in self.states:
                self.read("chamber_look")
            if no_firing(self.evidence):
                self._spend(DRYING_MINUTES)
                self.dried = True

    def _open(self, path: str) -> float:
        owed = 0.0 if path in self.opened else OPENING_MINUTES[path]
        self.opened.add(path)
        return owed

    def _spend(self, minutes: float, *, test: bool = False) -> None:
        self.minutes += minutes
        if test:
            self.tests += 1
            self.test_minutes += minutes


def ours(judge: Bank, course: Course) -> None:
    """The engine's own first step, again and again."""
    while not course.ended and len(course.steps) < MOST_STEPS:
        evidence = course.evidence
        found = posterior(judge, evidence)
        course.look_who_leads(found)
        steps = ranked(judge, evidence, found, classes=frozenset(judge.catalogue.classes))
        step = next(
            (each for each in steps if not (each.kind is Kind.SHOW_SOUND and "" in course.repairs)), None
        )
        if step is None or step.kind is Kind.HAND_OVER:
            course.hand_over()
        elif step.kind is Kind.READING:
            course.read(step.key, step.along)
        elif step.kind is Kind.TRIAL:
            course.run_trial(step.key)
        elif step.kind is Kind.REPAIR:
            course.mend(step.key)
        else:
            course.show_sound()
    if not course.ended:
        course.hand_over()


def likeliest_first(judge: Bank, course: Course) -> None:
    """Repairs by chance, judged again after each; hand over once they have cost as much as that."""
    while not course.ended:
        found = posterior(judge, course.evidence)
        course.look_who_leads(found)
        done = {repair_key(judge.faults[each]) for each in course.repairs if each}
        chances = {
            key: chance
            for key, chance in found.faults().items()
            if key == UNKNOWN_KEY or repair_key(judge.faults[key]) not in done
        }
        if "" not in course.repairs:
            chances[""] = found.sound
        best = min(chances, key=lambda key: (-chances[key], key))
        if best == UNKNOWN_KEY or course.minutes > HAND_OVER_MINUTES:
            course.hand_over()
        elif best:
            course.mend(best)
        else:
            course.show_sound()


def by_checklist(judge: Bank, course: Course, *, follow: bool = True) -> None:
    """The fixed checklist; then show it sound, then hand over. `follow` asks the judge who leads."""
    complaint = course.made.states["owner_says"]
    taken: set[str] = set()
    for check in checklist(complaint):
        if course.ended or course.minutes > HAND_OVER_MINUTES:
            break
        if follow and course.led_after is None and len(course.made.truth) == 1:
            course.look_who_leads(posterior(judge, course.evidence))
        points_to = _points_to(judge, check, course.read(check))
        if points_to and repair_key(judge.faults[points_to]) not in taken:
            taken.add(repair_key(judge.faults[points_to]))
            course.mend(points_to)
    if not course.ended and not course.wrong_repairs:
        course.show_sound()
    if not course.ended:
        course.hand_over()


def _points_to(judge: Bank, check: str, found: str | float | None) -> str:
    if found is None:
        return ""
    if isinstance(found, str):
        return LOOKS[check].get(found, "")
    at = QUANTITY_COLUMN[check]
    row = np.zeros(len(QUANTITIES))
    row[at] = found
    nodes = judge.singles
    spread = np.hypot(nodes.widths[0, at], QUANTITIES[check].slack)
    off = (compared(row)[at] - nodes.mean[0, 0, at]) / spread
    side = "low" if off < -HEALTHY_WIDTH else "high" if off > HEALTHY_WIDTH else ""
    return METERS[check].get(side, "")


def mean(values: Iterable[float]) -> float:
    """Their mean, not a number where there are none."""
    every = list(values)
    return statistics.fmean(every) if every else float("nan")


def summary(courses: list[Course]) -> dict[str, float]:
    """The figures of one policy."""
    singles = [each for each in courses if len(each.made.truth) == 1]
    led = [each.led_after for each in singles if each.led_after]
    cost = np.array([each.minutes for each in courses])
    return {
        "cost": float(cost.mean()),
        "standard error": float(cost.std() / np.sqrt(len(cost))),
        "median": float(np.median(cost)),
        "singles": mean(each.minutes for each in singles),
        "doubles": mean(each.minutes for each in courses if len(each.made.truth) == 2),
        "none": mean(each.minutes for each in courses if not each.made.truth),
        "handed over": mean(each.ended == "handed over" for each in courses),
        "wrong repairs": mean(each.wrong_repairs for each in courses),
        "tests": mean(each.tests for each in courses),
        "test minutes": mean(each.test_minutes for each in courses),
        "led": len(led) / max(len(singles), 1),
        "tests until led": statistics.median(each[0] for each in led) if led else float("nan"),
        "minutes until led": statistics.median(each[1] for each in led) if led else float("nan"),
    }


POLICIES: Mapping[str, Callable[[Bank, Course], None]] = {
    "ours": ours,
    "oracle": ours,
    "likeliest first": likeliest_first,
    "checklist": by_checklist,
}


def main() -> int:
    """Print the figures of each policy."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--worlds", type=int, default=6)
    parser.add_argument("--cases", type=int, default=50, help="with a complaint, in each world")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--policies", default=",".join(POLICIES))
    parser.add_argument("--out", type=Path, help="courses as JSON lines")
    asked = parser.parse_args()
    courses: dict[str, list[Course]] = {name: [] for name in asked.policies.split(",")}
    took = dict.fromkeys(courses, 0.0)
    for street in streets(asked.worlds, 1, seed=asked.seed):
        made = complaints(street, asked.cases, seed=asked.seed)
        for name, gone in courses.items():
            knows = name == "oracle"
            judge = street.oracle if knows else street.engine
            with street.inside() if knows else nullcontext():
                _ = judge.singles, judge.pairs, judge.slopes
                began = time.perf_counter()
                for at, each in enumerate(made):
                    course = Course(made=each, street=street, number=at)
                    POLICIES[name](judge, course)
                    gone.append(course)
            took[name] += time.perf_counter() - began
        print(
            street.name, {name: round(summary(gone)["cost"], 1) for name, gone in courses.items()}, flush=True
        )
    for name, gone in courses.items():
        print(f"{name}, {len(gone)} cases ({took[name]:.0f} s)")
        for key, value in summary(gone).items():
            print(f"    {key:18} {value:8.2f}")
        if asked.out:
            write(asked.out, name, gone)
    return 0


def complaints(street: Street, count: int, *, seed: int) -> list[world.MadeCase]:
    """Cases of a world whose owner complains, nothing read but his words, the light-off and its end."""
    made = world.cases(
        4 * count,
        seed=seed + 100,
        there=street.there,
        shelf=SHELF,
        sheet=street.engine.sheet,
        conditions=street.engine.conditions,
        known_share=0.0,
    )
    return [each for each in made if each.states["owner_says"] != "runs well"][:count]


def write(path: Path, name: str, courses: list[Course]) -> None:
    """One line a case: what was wrong, what was done, what it cost."""
    with path.open("a", encoding="utf-8") as file:
        for each in courses:
            line = {
                "policy": name,
                "world": each.street.name,
                "case": each.number,
                "truth": sorted(each.made.truth),
                "minutes": each.minutes,
                "ended": each.ended,
                "steps": each.steps,
            }
            file.write(json.dumps(line) + "\n")


if __name__ == "__main__":
    sys.exit(main())
