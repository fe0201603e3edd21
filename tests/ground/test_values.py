"""Our dataclasses against the standard library's own: they compare, hash and show alike."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lightoff.ground.values import dataclass

NAMES = ("first", "second", "third")
VALUES = st.one_of(st.integers(-2, 2), st.sampled_from(("", "a", None, True, 1.0, float("nan"))))


def made_by(decorator: Callable[..., Any], names: tuple[str, ...], *, unseen: frozenset[str]) -> type:
    """A class of one name, made by either decorator; the unseen fields enter neither `==` nor `repr`."""
    body: dict[str, Any] = {"__annotations__": dict.fromkeys(names, "object"), "__qualname__": "Noun"}
    for name in unseen & set(names):
        body[name] = dataclasses.field(compare=False, repr=False)
    kind: type = decorator(frozen=True, slots=True, kw_only=True)(type("Noun", (), body))
    return kind


@given(
    count=st.integers(0, 3),
    unseen=st.frozensets(st.sampled_from(NAMES)),
    one=st.lists(VALUES, min_size=3, max_size=3),
    other=st.lists(VALUES, min_size=3, max_size=3),
)
def test_compares_hashes_and_shows_as_the_standard_ones(
    count: int, unseen: frozenset[str], one: list[Any], other: list[Any]
) -> None:
    names = NAMES[:count]
    found = []
    for decorator in (dataclass, dataclasses.dataclass):
        kind = made_by(decorator, names, unseen=unseen)
        left, right = (kind(**dict(zip(names, values, strict=False))) for values in (one, other))
        found.append((left == right, left != right, left == one, hash(left), repr(left)))
    assert found[0] == found[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noun:
    """A noun that may hold others, itself too."""

    name: str
    inside: list[object] = dataclasses.field(default_factory=list, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrower(Noun):
    """A kind of noun with nothing of its own."""


def test_stays_frozen() -> None:
    noun = Noun(name="a")
    with pytest.raises(dataclasses.FrozenInstanceError):
        noun.name = "b"  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        del noun.name
    assert noun == Noun(name="a")


def test_nouns_of_two_classes_differ_whatever_they_hold() -> None:
    assert Narrower(name="a") == Narrower(name="a")
    assert Noun(name="a") != Narrower(name="a")


def test_one_that_holds_itself_can_be_shown() -> None:
    noun = Noun(name="a")
    noun.inside.append(noun)
    assert repr(noun) == "Noun(name='a', inside=[...])"


def test_is_replaced_and_pickled_as_a_dataclass() -> None:
    noun = Noun(name="a", inside=[1])
    assert dataclasses.replace(noun, name="b") == Noun(name="b")
    assert pickle.loads(pickle.dumps(noun)).inside == [1]


def shaped_by(decorator: Callable[..., Any], *, slots: bool, kw_only: bool) -> type:
    """A class with every sort of field, made by either decorator."""

    class Shaped:
        first: int
        second: str = "b"
        third: list[int] = dataclasses.field(default_factory=list)
        fourth: int = dataclasses.field(init=False, default=4)
        fifth: list[int] = dataclasses.field(init=False, default_factory=lambda: [5])
        sixth: int = dataclasses.field(init=False)

        def __post_init__(self) -> None:
            object.__setattr__(self, "sixth", 2 * self.first)

    kind: type = decorator(frozen=True, slots=slots, kw_only=kw_only)(Shaped)
    return kind


GIVEN = st.dictionaries(
    st.sampled_from(("first", "second", "third", "fourth", "sixth", "other")), st.integers(0, 3)
)


@given(
    by_place=st.lists(st.integers(0, 3), max_size=4), by_name=GIVEN, slots=st.booleans(), named=st.booleans()
)
def test_is_made_as_the_standard_ones(
    by_place: list[int], by_name: dict[str, int], slots: bool, named: bool
) -> None:
    found: list[object] = []
    for decorator in (dataclass, dataclasses.dataclass):
        kind = shaped_by(decorator, slots=slots, kw_only=named)
        try:
            noun = kind(*by_place, **by_name)
        except TypeError as refused:
            found.append(str(refused).rpartition(".")[2])
        else:
            found.append(dataclasses.asdict(noun))
            again = kind(*by_place, **by_name)
            assert noun.fifth is not again.fifth, "each has a list of its own"
    assert found[0] == found[1]


@pytest.mark.parametrize("slots", [True, False])
def test_nothing_can_be_put_into_one(slots: bool) -> None:
    noun = shaped_by(dataclass, slots=slots, kw_only=False)(1)
    for name in ("first", "fourth", "another"):
        with pytest.raises(dataclasses.FrozenInstanceError, match=name):
            setattr(noun, name, 2)
        with pytest.raises(dataclasses.FrozenInstanceError, match=name):
            delattr(noun, name)
    assert dataclasses.asdict(copy.deepcopy(noun)) == dataclasses.asdict(noun)


def test_one_that_is_not_frozen_is_the_standard_one() -> None:
    @dataclass(slots=True)
    class Loose:
        """Held while something is put together."""

        count: int = 0

    loose = Loose()
    loose.count = 1
    assert loose == Loose(1)
    with pytest.raises(TypeError):
        hash(loose)
