"""Dataclasses that are cheap to make: the house has some three hundred, a short command loads two hundred.

The standard library compiles comparison, hash and `repr` of each frozen dataclass anew when it is imported,
a tenth of a cold start. Here each reads its fields instead. All else is the standard's own dataclass.
"""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:
    import dataclasses

    def dataclass(*, frozen: bool = False, **how: Any) -> Callable[[type], type]:
        """As `dataclasses.dataclass`; if frozen, comparison, hash and `repr` are not compiled."""
        if not frozen:
            return dataclasses.dataclass(**how)
        return lambda kind: _read(dataclasses.dataclass(frozen=True, eq=False, repr=False, **how)(kind))

    def _read(kind: type) -> type:
        """The class with comparison, hash and `repr` that read its fields."""
        fields = dataclasses.fields(kind)
        compared = _reader([each.name for each in fields if each.compare])
        shown = [each.name for each in fields if each.repr]
        shown_values = _reader(shown)
        pattern = f"{kind.__qualname__}({', '.join(f'{name}=%r' for name in shown)})"

        def equal(self: Any, other: object) -> bool:
            return compared(self) == compared(other) if other.__class__ is self.__class__ else NotImplemented

        kind.__eq__ = equal
        kind.__hash__ = lambda self: hash(compared(self))
        kind.__repr__ = recursive_repr()(lambda self: pattern % shown_values(self))
        return kind

    def _reader(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
        """What reads these fields at once, as a tuple."""
        if len(names) > 1:
            return attrgetter(*names)
        return lambda noun: tuple(getattr(noun, name) for name in names)
