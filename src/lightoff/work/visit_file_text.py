"""From the bytes of a visit file to its tables, TOML or JSON; numbers keep their decimals as written."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

import tomli

from lightoff.ground.errors import Refusal
from lightoff.ground.message import Message, message

FORMAT = "lightoff visit 1"
LARGEST_BYTES = 5_000_000
_BOM = b"\xef\xbb\xbf"
_OTHER_ENCODINGS = (b"\xff\xfe", b"\xfe\xff")
# How the library says that a table or key is there already.
_TWICE = ("Cannot declare", "Cannot overwrite")
_DECIMAL_COMMA = re.compile(r"[=:]\s*([+-]?\d{1,20}),(\d{1,20})\s*,?\s*(?:#.*)?$")
_AT = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)")


def tables_of(data: bytes, name: str) -> dict[str, Any]:
    """The tables that a file says; `name` is told in errors, and its ending chooses JSON.

    Raises Refusal for what is too large, no text, no TOML and no JSON.
    """
    text = _decoded(data, name)
    is_json = name.lower().endswith(".json") or text.lstrip()[:1] == "{"
    try:
        found = _json(text) if is_json else tomli.loads(text, parse_float=Decimal)
    except RecursionError:
        raise _refused("visit_file.too_deep", name) from None
    except json.JSONDecodeError as fault:
        raise _broken(name, "JSON", fault.msg, text, line=fault.lineno, column=fault.colno) from None
    except tomli.TOMLDecodeError as fault:
        at = _AT.search(str(fault))
        reason = _AT.sub("", str(fault)).strip()
        line, column = (int(at[1]), int(at[2])) if at and at[1] else (text.count("\n") + 1, 0)
        if reason.startswith(_TWICE):
            again = text.split("\n")[line - 1].strip()[:80]
            key = "visit_file.table_twice" if again.startswith("[") else "visit_file.said_twice"
            said = message(key, file=name, line=line, again=again, name=again.strip("[] "))
            raise Refusal(said, field=name) from None
        raise _broken(name, "TOML", reason, text, line=line, column=column) from None
    except (ValueError, ArithmeticError):
        # A figure so long that the language itself will not turn it into a number.
        raise _refused("visit_file.unreadable_number", name) from None
    if not isinstance(found, dict):
        raise _refused("visit_file.not_tables", name)
    return found


def check_size(size: int, name: str) -> None:
    """Raises Refusal for a file that is larger than any visit, before it is read."""
    if size > LARGEST_BYTES:
        megabytes = -(-size // 1_000_000)
        said = message("visit_file.too_large", file=name, size=megabytes, largest=LARGEST_BYTES // 1_000_000)
        raise Refusal(said, field=name)


def _decoded(data: bytes, name: str) -> str:
    check_size(len(data), name)
    if data.startswith(_OTHER_ENCODINGS):
        raise _refused("visit_file.utf_16", name)
    if b"\0" in data:
        raise _refused("visit_file.nul", name)
    try:
        text = data.removeprefix(_BOM).decode("utf-8")
    except UnicodeDecodeError as fault:
        line = data[: fault.start].count(b"\n") + 1
        said = message("visit_file.not_utf_8", file=name, line=line, byte=f"0x{data[fault.start]:02x}")
        raise Refusal(said, field=name) from None
    if not text.strip():
        raise _refused("visit_file.empty", name)
    return text


def _json(text: str) -> Any:
    # NaN and Infinity arrive as words, so that they are refused where they stand, with field and cure.
    return json.loads(text, parse_float=Decimal, parse_constant=str, object_pairs_hook=_no_key_twice)


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise Refusal(message("visit_file.key_twice", key=key[:100]), field=key[:100])
        found[key] = value
    return found


def _broken(name: str, language: str, reason: str, text: str, *, line: int, column: int) -> Refusal:
    """What is no TOML or JSON: a decimal comma, a file that was cut off, or whatever the library says."""
    written = (text.split("\n") or [""])[line - 1]
    comma = _DECIMAL_COMMA.search(written)
    if comma:
        got, point = f"{comma[1]},{comma[2]}", f"{comma[1]}.{comma[2]}"
        said = message("visit_file.decimal_comma", file=name, line=line, got=got, point=point)
    elif not column:
        said = message("visit_file.cut_off", file=name, language=language, reason=reason[:200])
    else:
        said = message(
            "visit_file.broken", file=name, language=language, reason=reason[:200], line=line, column=column
        )
    return Refusal(said, field=name)


def _refused(key: str, name: str) -> Refusal:
    said: Message = message(key, file=name)
    return Refusal(said, field=name)
