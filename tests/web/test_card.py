"""Which readings the visit's card asks for by itself."""

from lightoff.shelf import open_shelf
from lightoff.web.card import NOT_ON_THE_CARD, steps_of

CATALOGUE = open_shelf().catalogue


def test_what_only_fault_finding_asks_for_stays_off_the_card() -> None:
    asked = {slot.key for _, slots in steps_of(CATALOGUE) for slot in slots}
    apart = {key for key, entry in CATALOGUE.entries.items() if entry.area in NOT_ON_THE_CARD}
    assert len(apart) >= 40
    assert not asked & apart


def test_the_card_asks_for_everything_else() -> None:
    asked = {slot.key for _, slots in steps_of(CATALOGUE) for slot in slots}
    assert {key for key, entry in CATALOGUE.entries.items() if entry.area not in NOT_ON_THE_CARD} == asked
