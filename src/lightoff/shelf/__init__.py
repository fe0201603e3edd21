"""What people may edit, as TOML, read into frozen objects with a hash that judgements carry.

A shop's own folder may add fuels, sheets, readings, part types, steps and procedures, and may tighten a
limit; it can never loosen one, and never leaves out a required step.
"""

from lightoff.shelf.files import Table
from lightoff.shelf.nouns import SHEET_NUMBERS, SHEET_SAID, SHEET_SERVICE, SHEET_TEXTS, sheet_of
from lightoff.shelf.opening import open_shelf
from lightoff.shelf.shelf import REPAIR, Shelf

__all__ = [
    "REPAIR",
    "SHEET_NUMBERS",
    "SHEET_SAID",
    "SHEET_SERVICE",
    "SHEET_TEXTS",
    "Shelf",
    "Table",
    "open_shelf",
    "sheet_of",
]
