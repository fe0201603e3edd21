"""Edits of the looks at the fuel joints, and of the moments around them, to compare both implementations."""

from random import Random

from cases import AS_FOUND, AS_LEFT, TEST, Draft, at, good, sheet
from mutators import Mutator, change, dispute_state, grouped, late, second_test, shift, stranger, twice

from lightoff.terms.visit import EventKind

LOOKS = ("fuel_joints_1_min", "fuel_joints_10_min")
SEEN = ("dry", "damp", "dripping", "dripping", "odd")


def moved(draft: Draft, rnd: Random) -> None:
    minute = rnd.choice((58.5, 60.5, 61.2, 61.5, 61.7, 66.2, 70.4, 70.5, 70.7, 74.1, 83.2, 99.9, None))
    change(draft, rnd, LOOKS, taken_at=None if minute is None else at(minute))


def seen(draft: Draft, rnd: Random) -> None:
    change(draft, rnd, LOOKS, state=rnd.choice(SEEN))


def beside(draft: Draft, rnd: Random) -> None:
    minute = rnd.choice((None, 9.3, 40, 61.5, 65.5, 70.5, 78, 97, 130))
    where = {"stage": rnd.choice((AS_FOUND, AS_LEFT)), "test": rnd.choice((None, "found", "test-2", TEST))}
    draft.add(rnd.choice(LOOKS), minute, rnd.choice(SEEN), **where)


def moment(draft: Draft, rnd: Random) -> None:
    minute = rnd.choice((55.1, 60.5, 61, 61.5, 62.2, 64.4, 68.1, 70.5, 71.1, 79.9, 98.2))
    draft.happen(rnd.choice(list(EventKind)), minute, heater=rnd.choice(("heater-1", "heater-1", "heater-2")))


def other_moments(draft: Draft, rnd: Random) -> None:
    draft.events, minute = [], 50.0
    for _ in range(rnd.randint(1, 6)):
        minute += rnd.choice((0, 0.5, 1, 3, 9.5, 10, 12))
        draft.happen(rnd.choice([EventKind.FLAME, EventKind.FLAME, *EventKind]), minute)


def longer(draft: Draft, rnd: Random) -> None:
    draft.sheet = sheet(
        ran_before_joints_1=rnd.choice(("0", "3", "12")), ran_before_joints_10=rnd.choice(("9", "11", "60"))
    )


MUTATORS: tuple[Mutator, ...] = (
    moved, seen, beside, moment, other_moments, longer,
    grouped, late, twice, second_test, shift, stranger, dispute_state,
)  # fmt: skip


def looked_at(rnd: Random) -> tuple[Draft, tuple[str, ...]]:
    """A good case whose looks, or the moments around them, were edited; and the names of the edits."""
    draft = good()
    chosen = [rnd.choice(MUTATORS) for _ in range(rnd.choice((1, 1, 2, 2, 3, 4, 6)))]
    for mutate in chosen:
        try:
            mutate(draft, rnd)
        except TypeError:
            continue  # a look that another edit left without a time cannot be shifted
    return draft, tuple(mutate.__name__ for mutate in chosen)
