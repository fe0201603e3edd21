"""The book: what people entered, kept for good in one append-only table, with projections to look at."""

from lightoff.records.book import LARGEST_PHOTO_BYTES, Book, Kept
from lightoff.records.checking import Checkup
from lightoff.records.codec import PHOTO_MEDIA_TYPES, PLANNING, SHOP, body_of, field_of, noun_of
from lightoff.records.derived import Derived, program_hash
from lightoff.records.looking import HeaterLine, HistoryLine
from lightoff.records.pieces import News, VisitHead
from lightoff.records.replacing import in_place_of
from lightoff.records.shapes import LONGEST_TEXT, written_time
from lightoff.records.trouble import BookTrouble
from lightoff.terms.entry import Noun
from lightoff.terms.visit import Acceptance, Close

__all__ = [
    "LARGEST_PHOTO_BYTES",
    "LONGEST_TEXT",
    "PHOTO_MEDIA_TYPES",
    "PLANNING",
    "SHOP",
    "Acceptance",
    "Book",
    "BookTrouble",
    "Checkup",
    "Close",
    "Derived",
    "HeaterLine",
    "HistoryLine",
    "Kept",
    "News",
    "Noun",
    "VisitHead",
    "body_of",
    "field_of",
    "in_place_of",
    "noun_of",
    "program_hash",
    "written_time",
]
