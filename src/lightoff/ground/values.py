"""Dataclasses that are cheap to make: the house has some three hundred, a short command loads two hundred.

The standard library compiles `__init__`, comparison, hash, `repr` and what keeps it frozen for each frozen
dataclass as it is imported, a fifth of a cold start. Here `__init__`, comparison and hash are compiled when a
class is first asked for one of them, `repr` reads the fields, and what keeps them frozen is one for all. All
else is the standard's own dataclass. A field is no `InitVar`.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:
    import dataclasses

    def dataclass(*, frozen: bool = False, **how: Any) -> Callable[[type], type]:
        """As `dataclasses.dataclass`; if frozen, its methods are not compiled at once."""
        if not frozen:
            return dataclasses.dataclass(**how)
        return lambda kind: _later(dataclasses.dataclass(init=False, eq=False, repr=False, **how)(kind))

    def _later(kind: type) -> type:
        """The class with methods that are made at their first use, a `repr` that reads, and frozen."""
        fields = dataclasses.fields(kind)
        compared = [each.name for each in fields if each.compare]
        shown = [each.name for each in fields if each.repr]
        values = _reader(shown)
        pattern = f"{kind.__qualname__}({', '.join(f'{name}=%r' for name in shown)})"

        def compile_both() -> None:
            says = {"__doc__": "Told, as else its signature would be looked up to tell."}
            twin = dataclasses.make_dataclass(
                "Twin", compared, init=False, repr=False, unsafe_hash=True, namespace=says
            )
            kind.__eq__, kind.__hash__ = twin.__eq__, twin.__hash__

        def made(self: Any, *given: Any, **named: Any) -> None:
            kind.__init__ = _init_of(kind)
            kind.__init__(self, *given, **named)

        def equal(self: Any, other: object) -> bool:
            compile_both()
            return kind.__eq__(self, other)

        def hashed(self: Any) -> int:
            compile_both()
            return kind.__hash__(self)

        kind.__init__, kind.__eq__, kind.__hash__ = made, equal, hashed
        kind.__repr__ = recursive_repr()(lambda self: pattern % values(self))
        kind.__setattr__, kind.__delattr__ = _keep, _keep
        if "__slots__" in vars(kind):
            kind.__getstate__, kind.__setstate__ = _state, _set_state
        return kind

    def _init_of(kind: type) -> Callable[..., None]:
        """What makes one, compiled: it puts each value where it stays, past what keeps it frozen."""
        known: dict[str, Any] = {"_fresh": object(), "_put": object.__setattr__}
        by_place, by_name, body = list[str](), list[str](), list[str]()
        for each in dataclasses.fields(kind):
            name, default, value = each.name, "", each.name
            if each.default is not dataclasses.MISSING:
                known[f"_default_{name}"] = each.default
                default = f"_default_{name}"
            elif each.default_factory is not dataclasses.MISSING:
                known[f"_make_{name}"] = each.default_factory
                default, value = "_fresh", f"_make_{name}() if {name} is _fresh else {name}"
            if each.init:
                (by_name if each.kw_only else by_place).append(f"{name}={default}" if default else name)
            elif default:
                value = f"_make_{name}()" if default == "_fresh" else default
            else:
                continue  # `__post_init__` puts it
            slot = getattr(kind, name, None)
            if hasattr(slot, "__set__"):  # in two thirds of the time
                known[f"_put_{name}"] = slot.__set__
                body.append(f" _put_{name}(self, {value})")
            else:
                body.append(f" _put(self, {name!r}, {value})")
        if hasattr(kind, "__post_init__"):
            body.append(" self.__post_init__()")
        given = ", ".join(["self", *by_place, *(["*", *by_name] if by_name else [])])
        exec("\n".join([f"def __init__({given}):", *(body or [" pass"])]), known)
        known["__init__"].__qualname__ = f"{kind.__qualname__}.__init__"
        return known["__init__"]

    def _keep(self: Any, name: str, *_: Any) -> NoReturn:
        raise dataclasses.FrozenInstanceError(
            f"cannot change {name!r} of {type(self).__name__}: it is frozen"
        )

    def _state(self: Any) -> list[Any]:
        return [getattr(self, each.name) for each in dataclasses.fields(self)]

    def _set_state(self: Any, state: list[Any]) -> None:
        for each, value in zip(dataclasses.fields(self), state, strict=True):
            object.__setattr__(self, each.name, value)

    def _reader(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
        """What reads these fields at once, as a tuple."""
        if len(names) > 1:
            return attrgetter(*names)
        return lambda noun: tuple(getattr(noun, name) for name in names)
