"""Pages of the handbook that are made from data: limits, sources, checks. No number is copied by hand."""

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from pathlib import Path
from typing import Any

from lightoff.ground.sources import SOURCES
from lightoff.shelf import open_shelf
from lightoff.terms.shelf import Limit
from lightoff.texts import Speaker, limit_words

CHECK_HEAD = ("quantity", "expected", "got", "error", "allowed", "unit")


def write_all(root: Path, folder: Path) -> None:
    """Write every made page into `folder`, for the handwritten pages to include."""
    folder.mkdir(exist_ok=True)
    record = root / "build" / "checks.json"
    rows = json.loads(record.read_text(encoding="utf-8")) if record.is_file() else []
    pages = {
        "limits.md": limits_table(open_shelf().limits.rows.values()),
        "sources.md": sources_table(),
        "checks.md": checks_page(rows),
    }
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8")


def limits_table(limits: Iterable[Limit]) -> str:
    """Every limit by its kind of gate: what must hold, what follows where it does not, and its source."""
    rows, speaker = list(limits), Speaker()
    parts = []
    for gate in dict.fromkeys(row.gate for row in rows):
        lines = [
            [
                f"{_called(row.quantity, speaker)}{_kinds(row)}",
                limit_words(row, speaker),
                row.effect + (f": {row.stops}" if row.stops else ""),
                _source(row),
                f"`{row.key}`",
            ]
            for row in rows
            if row.gate == gate
        ]
        parts.append(f"### {gate.capitalize()} gates\n")
        parts.append(_table(["what", "must be", "otherwise", "where it comes from", "row"], lines))
    return "\n".join(parts)


def _called(quantity: str, speaker: Speaker) -> str:
    """The quantity as the pages call it, or its key in words."""
    tables = ("figure", "reading", "gate")
    key = next((f"{table}.{quantity}" for table in tables if speaker.has(f"{table}.{quantity}")), None)
    words = speaker.text(key) if key else quantity.replace("_", " ").replace("o2", "O₂").replace("co", "CO")
    return words[:1].upper() + words[1:]


def _kinds(row: Limit) -> str:
    return f" ({', '.join(row.kinds)})" if row.kinds else ""


def _source(row: Limit) -> str:
    """Its basis and source: the title where the source is named by its key, other words as they stand."""
    if row.source not in SOURCES:
        return row.source
    source = SOURCES[row.source]
    return f"{row.basis}: {source.title} ({source.seen})"


def sources_table() -> str:
    """Every source that the code names, and how well it is known."""
    lines = [
        [
            f"`{key}`",
            ", ".join(part for part in (each.title, each.edition, each.place) if part),
            each.seen.value,
        ]
        for key, each in SOURCES.items()
    ]
    return _table(["key", "source", "how it was seen"], lines)


def checks_page(rows: Sequence[Mapping[str, Any]]) -> str:
    """Every comparison with an outside source, by topic."""
    if not rows:
        return "The checks have not been run for this build: `python3 dev.py docs` runs them.\n"
    kinds = Counter(_kind(row) for row in rows)
    passed = sum(row["passed"] for row in rows)
    count = ", ".join(f"{number} {kind}" for kind, number in kinds.most_common())
    parts = [f"{len(rows)} comparisons ({count}); {passed} of them within their tolerance.\n"]
    for topic, rows_of_topic in groupby(rows, key=lambda row: row["topic"]):
        parts.append(f"## {topic.replace('_', ' ').capitalize()}\n")
        by_source: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
        for row in rows_of_topic:
            by_source.setdefault((row["source"], row["how_seen"]), []).append(row)
        for (source, how_seen), together in by_source.items():
            lines = [_check_line(row) for row in together]
            parts.append(f"{source}. *{how_seen[0].upper()}{how_seen[1:]}.*\n")
            parts.append(_table(CHECK_HEAD, lines, numbers=(1, 2, 3, 4)))
    return "\n".join(parts)


def _check_line(row: Mapping[str, Any]) -> list[str]:
    return [
        row["quantity"] + (f" ({row['note']})" if row["note"] else ""),
        _figure(row["expected"]),
        _figure(row["got"]),
        _figure(row["error"], digits=2),
        _tolerance(row),
        row["unit"],
    ]


def _kind(row: Mapping[str, Any]) -> str:
    return next(kind for kind in ("second-hand", "seen", "computed") if row["how_seen"].startswith(kind))


def _figure(value: float | None, digits: int = 6) -> str:
    return "none" if value is None else f"{value:.{digits}g}".replace("-", "\N{MINUS SIGN}")


def _tolerance(row: Mapping[str, Any]) -> str:
    return f"{row['tolerance'] * 100:.3g} %" if row["relative"] else f"{row['tolerance']:.3g}"


def _table(head: Sequence[str], lines: Iterable[Sequence[str]], *, numbers: Sequence[int] = ()) -> str:
    def row(cells: Sequence[str]) -> str:
        return "| " + " | ".join(str(cell).replace("|", r"\|").replace("\n", " ") for cell in cells) + " |"

    rule = ["---:" if column in numbers else "---" for column in range(len(head))]
    return "\n".join([row(head), row(rule), *map(row, lines)]) + "\n"
