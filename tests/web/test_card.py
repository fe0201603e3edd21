"""Which readings the visit's card asks for by itself."""

from lightoff.shelf import open_shelf
from lightoff.texts import Speaker
from lightoff.web.card import NOT_ON_THE_CARD, steps_of, units_for

CATALOGUE = open_shelf().catalogue


def test_what_only_fault_finding_asks_for_stays_off_the_card() -> None:
    asked = {slot.key for _, slots in steps_of(CATALOGUE) for slot in slots}
    apart = {key for key, entry in CATALOGUE.entries.items() if entry.area in NOT_ON_THE_CARD}
    assert len(apart) >= 40
    assert not asked & apart


def test_the_card_asks_for_everything_else() -> None:
    asked = {slot.key for _, slots in steps_of(CATALOGUE) for slot in slots}
    assert {key for key, entry in CATALOGUE.entries.items() if entry.area not in NOT_ON_THE_CARD} == asked


def test_a_unit_is_offered_once() -> None:
    """Per cent of heat, of moisture and of a battery are one number: a list shows one of them."""
    for entry in CATALOGUE.entries.values():
        if entry.states:
            continue
        shown = [Speaker().symbol(unit) for unit in units_for(entry)]
        assert len(shown) == len(set(shown)), (entry.key, shown)
        assert entry.unit == units_for(entry)[0]
