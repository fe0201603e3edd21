"""A piece of a page that is drawn once, with marks, and filled for each visit with what is its own."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from markupsafe import Markup, escape

_MARK = re.compile("\ue000([a-z_]+)\ue000")


def mark(name: str) -> Markup:
    """What stands in a drawing for the value of this name: letters that nobody types."""
    return Markup(f"\ue000{name}\ue000")


def cut(drawn: str) -> tuple[str, ...]:
    """The drawing in pieces, between them the names of what fills it."""
    return tuple(_MARK.split(drawn))


def filled(drawing: Sequence[str], said: Mapping[str, str]) -> Markup:
    """The drawing with what is said in the place of each mark, escaped."""
    pieces = [*drawing]
    pieces[1::2] = [escape(said[name]) if said[name] else "" for name in drawing[1::2]]
    return Markup("".join(pieces))
