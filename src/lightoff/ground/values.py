"""Dataclasses that are cheap to make: the house has some three hundred, a short command loads two hundred.

The standard library compiles comparison, hash and `repr` of each frozen dataclass as it is imported, a tenth
of a cold start. Here comparison and hash are compiled when a class is first asked for one of them, and `repr`
reads the fields. All else is the standard's own dataclass.
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
        """As `dataclasses.dataclass`; if frozen, comparison, hash and `repr` are not compiled at once."""
        if not frozen:
            return dataclasses.dataclass(**how)
        return lambda kind: _later(dataclasses.dataclass(frozen=True, eq=False, repr=False, **how)(kind))

    def _later(kind: type) -> type:
        """The class with comparison and hash that are made at their first use, and a `repr` that reads."""
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

        def equal(self: Any, other: object) -> bool:
            compile_both()
            return kind.__eq__(self, other)

        def hashed(self: Any) -> int:
            compile_both()
            return kind.__hash__(self)

        kind.__eq__, kind.__hash__ = equal, hashed
        kind.__repr__ = recursive_repr()(lambda self: pattern % values(self))
        return kind

    def _reader(names: list[str]) -> Callable[[Any], tuple[Any, ...]]:
        """What reads these fields at once, as a tuple."""
        if len(names) > 1:
            return attrgetter(*names)
        return lambda noun: tuple(getattr(noun, name) for name in names)
