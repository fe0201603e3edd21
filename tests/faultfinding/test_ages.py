"""How old a part is: it moves the ranking one way, within bounds, and says so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise, permutations

import numpy as np
import pytest
from making import SHELF, bank_of, conditions, evidence

from lightoff.faultfinding import Bank, Evidence, Finding, Suspect, find, posterior, telling
from lightoff.faultfinding.ages import MOST, TYPICAL_OF_LIFE, Age, ages_of
from lightoff.terms.part import FittedPart
from lightoff.terms.shelf import PartType
from lightoff.texts import Speaker
from lightoff.wear.lives import Clock
from lightoff.wear.posterior import known_life

SHARES = (0.0, 0.01, 0.1, 0.3, 0.5, 0.8, 1.0, 2.0, 5.0, 50.0)
"""Ages as shares of the part's life."""
SEALS = {
    "suction_air_leak",
    "nozzle_ring_leaking",
    "exhaust_leaking",
    "compressor_filter_head_cracked",
    "igniter_cracked",
}
"""What age brings about and work on it too."""
DIES = evidence(states={"owner_says": "lights then dies", "fuel_filter_look": "dark"})
EVERY = frozenset(SHELF.catalogue.classes)


def piece(kind: PartType, share: float) -> FittedPart:
    return FittedPart(kind=kind.key, **{kind.clock: Decimal(str(round(share * kind.life, 6)))})


def ages(*fitted: FittedPart) -> dict[str, Age]:
    return dict(ages_of(fitted, SHELF.part_types, SHELF.faults))


def aged(*shares: tuple[str, float]) -> Bank:
    told = ages(*(piece(SHELF.part_types[kind], share) for kind, share in shares))
    return bank_of("generic_9_kw", conditions(), ages=told)


@pytest.mark.parametrize("kind", SHELF.part_types.values(), ids=SHELF.part_types)
def test_the_older_the_likelier_and_never_beyond_the_bounds(kind: PartType) -> None:
    by_age = [ages(piece(kind, share)) for share in SHARES]
    for key in by_age[0]:
        ratios = [each[key].ratio for each in by_age]
        assert all(older >= younger for younger, older in pairwise(ratios))
        assert all(1.0 / MOST <= each <= MOST for each in ratios)
        assert by_age[SHARES.index(TYPICAL_OF_LIFE)][key].ratio == pytest.approx(1.0)
        assert ratios[-1] > 1.0 > ratios[0]


@pytest.mark.parametrize("share", [0.2, 0.45, 0.9, 1.5])
def test_it_is_the_ratio_of_the_hazards_that_wear_counts_with(share: float) -> None:
    """Against the survival that `wear` works with, by differences: another piece of code, the same law."""
    kind = SHELF.part_types["igniter"]
    law = known_life(clock=Clock.STARTS, life=kind.life, shape=kind.shape)

    def hazard(age: float) -> float:
        gone = law.log_survival_at(np.array([age - 0.5, age + 0.5])).reshape(-1)
        return float(gone[0] - gone[1])

    expected = hazard(share * kind.life) / hazard(TYPICAL_OF_LIFE * kind.life)
    assert ages(piece(kind, share))["igniter_weak"].ratio == pytest.approx(expected, rel=1e-5)


def test_without_an_age_everything_is_as_often_as_it_is_met() -> None:
    bare, blank = bank_of("generic_9_kw", conditions()), ages(FittedPart(kind="igniter"))
    whole = sum(fault.weight for key, fault in sorted(SHELF.faults.items()))
    assert blank == {}
    assert bare.weights == {key: fault.weight / whole for key, fault in SHELF.faults.items()}
    other_clock = FittedPart(kind="igniter", months=Decimal(200))
    assert ages(other_clock) == {}, "an igniter wears by starts"
    assert ages(FittedPart(kind="of another shop", months=Decimal(9))) == {}


def test_the_order_of_the_pieces_does_not_matter_and_the_oldest_tells() -> None:
    kinds = SHELF.part_types
    fitted = (
        piece(kinds["fuel_filter"], 0.1),
        piece(kinds["fuel_filter"], 2.0),
        piece(kinds["fuel_filter"], 40.0),
        piece(kinds["igniter"], 0.9),
    )
    told = [ages(*order) for order in permutations(fitted)]
    assert all(each == told[0] for each in told)
    assert told[0]["fuel_filter_restricted"].used == 40.0 * kinds["fuel_filter"].life


def test_what_work_alone_brings_about_is_left_to_what_was_touched_last() -> None:
    told = ages(*(piece(kind, 0.01) for kind in SHELF.part_types.values()))
    assert {key for key in told if SHELF.faults[key].after} == SEALS
    assert {"fuel_filter_restricted", "nozzle_worn", "igniter_weak", "fan_dead"} <= set(told)


def chances_by_work(bank: Bank, key: str) -> np.ndarray:
    """Chance among single faults of this one with each kind of work last, (states,)."""
    place = bank.keys.index(key) + 1
    return bank.weights[key] * bank.last_work(np.array([[place, 0]]))[0]


@pytest.mark.parametrize(
    ("kind", "key"), [("fuel_filter_seal", "suction_air_leak"), ("nozzle_ring", "nozzle_ring_leaking")]
)
def test_age_moves_what_wear_brings_about_and_leaves_what_work_does(kind: str, key: str) -> None:
    usual, *others = (chances_by_work(aged((kind, share)), key) for share in (0.5, 0.05, 3.0))
    plain = chances_by_work(bank_of("generic_9_kw", conditions()), key)
    assert usual == pytest.approx(plain, rel=1e-12)
    states = [each.replace(" ", "_") for each in SHELF.catalogue.entries["last_work"].states]
    touched = np.array([each in SHELF.faults[key].after for each in states])
    factor = SHELF.faults[key].after_factor
    for told, ratio in zip(others, (1.0 / MOST, MOST), strict=True):
        moved = told / usual / (told[0] / usual[0])  # all weights together add up to one again
        assert moved[~touched] == pytest.approx(1.0)
        # Of `factor` such faults after such work one is wear's, the others are the work's, whatever the age.
        assert moved[touched] == pytest.approx((ratio + factor - 1.0) / factor / ratio)


def test_a_new_seal_does_not_clear_a_joint_that_was_just_made() -> None:
    renewed = evidence(states={"owner_says": "lights then dies", "last_work": "fuel filter"})
    long_ago = evidence(states={"owner_says": "lights then dies", "last_work": "nothing"})

    def leaks(share: float, told: Evidence) -> float:
        return posterior(aged(("fuel_filter_seal", share)), told, pairs=False).of("suction_air_leak")

    assert leaks(0.02, long_ago) < 0.5 * leaks(0.5, long_ago) < leaks(0.5, long_ago) < leaks(2.0, long_ago)
    assert leaks(0.02, renewed) > 0.7 * leaks(0.5, renewed)


def test_age_moves_the_chances_and_never_settles_them() -> None:
    def chance(found: Finding, key: str) -> float:
        return found.posterior.of(key)

    found = [find(aged(("fuel_filter", share)), DIES, classes=EVERY) for share in (0.02, 0.5, 3.0)]
    young, usual, old = (chance(each, "fuel_filter_restricted") for each in found)
    assert young < usual < old
    odds = [each / (1.0 - each) for each in (young, usual, old)]
    # A ratio of weights within the bounds moves the odds by no more.
    assert odds[2] / odds[1] <= MOST * 1.05
    assert odds[1] / odds[0] <= MOST * 1.05
    bare = find(bank_of("generic_9_kw", conditions()), DIES, classes=EVERY)
    assert chance(bare, "fuel_filter_restricted") == pytest.approx(usual, rel=1e-9)


def sentences(suspects: Sequence[Suspect], key: str) -> tuple[str, str]:
    (suspect,) = (each for each in suspects if each.fault == key)
    say = Speaker().say
    return (
        " ".join(map(say, telling.speaks_for(suspect, DIES))),
        " ".join(map(say, telling.speaks_against(suspect, DIES))),
    )


def test_an_age_that_moves_it_is_told_on_its_side() -> None:
    old = find(aged(("fuel_filter", 2.0)), DIES, classes=EVERY).suspects
    speaks_for, against = sentences(old, "fuel_filter_restricted")
    assert "uel filter: about 1,400 run hours old; such parts are taken to last about 700." in speaks_for
    assert "old;" not in against
    young = find(aged(("fuel_filter", 0.1)), DIES, classes=EVERY).suspects
    speaks_for, against = sentences(young, "fuel_filter_restricted")
    assert "uel filter: about 70 run hours old; such parts are taken to last about 700." in against
    assert "old;" not in speaks_for
    usual = find(aged(("fuel_filter", 0.6)), DIES, classes=EVERY).suspects
    assert not any("old;" in each for each in sentences(usual, "fuel_filter_restricted"))


@pytest.mark.parametrize(
    ("clock", "used", "life", "words"),
    [
        ("months", 96.0, 60.0, "about 8 years old; such parts are taken to last about 5."),
        ("months", 5.0, 36.0, "about 5 months old; such parts are taken to last about 36."),
        ("starts", 6200.0, 4000.0, "about 6,200 starts old; such parts are taken to last about 4,000."),
    ],
)
def test_an_age_is_told_in_its_own_unit(clock: str, used: float, life: float, words: str) -> None:
    age = Age(part="igniter", clock=clock, used=used, life=life, ratio=3.0)
    suspect = Suspect(fault="x", chance=0.5, low=0.4, high=0.6, speaks_for=(), speaks_against=(), age=age)
    (said,) = telling.speaks_for(suspect, DIES)
    assert Speaker().say(said).endswith(words)
    assert Speaker().say(telling.speaks_against(suspect, DIES)[0]) == "Nothing that was read."
    mute = replace(suspect, age=replace(age, ratio=1.2))
    assert "old;" not in Speaker().say(telling.speaks_for(mute, DIES)[0])
