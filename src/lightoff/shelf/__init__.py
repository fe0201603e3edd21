"""What people may edit, as TOML, read into frozen objects with a hash that judgements carry.

A shop's own folder may add fuels, sheets and readings, and may tighten a limit; it can never loosen one.
"""

from lightoff.shelf.files import Table
from lightoff.shelf.nouns import SHEET_NUMBERS, SHEET_TEXTS, sheet_of
from lightoff.shelf.shelf import REPAIR, Shelf, open_shelf

__all__ = ["REPAIR", "SHEET_NUMBERS", "SHEET_TEXTS", "Shelf", "Table", "open_shelf", "sheet_of"]
