"""Reads and shows TOML, and finds the line on which a field stands, which tomllib does not tell. No I/O."""

from __future__ import annotations

import re
import tomllib
from datetime import date, time
from typing import Any

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_-]+)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=""")

_LONG_NUMBER = re.compile(r"[0-9][0-9a-fA-Fxob_]{18,}")


def toml_table(text: str) -> dict[str, Any]:
    """Read a TOML text.

    Whole numbers are those of 64 bits, as TOML has them: Python reads longer ones, but may refuse to write them.

    Raises:
        tomllib.TOMLDecodeError: it is not TOML; the message ends as "(at line 3, column 5)" or "(at end of document)".
        RecursionError: it is nested too deeply.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:
        table = None
    if table is None or _holds_long_number(table):
        line = next((n for n, line in enumerate(text.split("\n"), 1) if _LONG_NUMBER.search(line)), 1)
        raise tomllib.TOMLDecodeError(f"A whole number has too many digits (at line {line}, column 1)")
    return table


def _holds_long_number(value: object) -> bool:
    if isinstance(value, dict):
        return any(map(_holds_long_number, value.values()))
    if isinstance(value, list):
        return any(map(_holds_long_number, value))
    return isinstance(value, int) and not -(2**63) <= value < 2**63


def as_toml(value: object) -> str:
    """Write a value the way TOML writes it, not the way Python does."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, list):
        return f"[{', '.join(map(as_toml, value))}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{key} = {as_toml(inner)}' for key, inner in value.items())}}}"
    return repr(value)


def line_of(text: str, path: tuple[str | int, ...], name: str | None) -> int | None:
    """Return the line of a field, counted from 1, or None where it cannot be told.

    Args:
        text: the TOML text, one field a line.
        path: the table's name, and for a table of a list its place from 0: `("string", 2)`; empty for the top.
        name: the field; None, or a field that is not there, stands for the table's own header.
    """
    here: tuple[str | int, ...] = ()
    seen: dict[str, int] = {}
    header = None
    for number, line in enumerate(text.splitlines(), 1):
        found = _HEADER.fullmatch(line)
        if found is not None:
            table = found[2]
            seen[table] = seen.get(table, -1) + 1
            here = (table, seen[table]) if found[1] == "[[" else (table,)
            if here == path or (not path and name == table):
                header = header or number
            continue
        key = _KEY.match(line)
        if key is not None and here == path and key[1] == name:
            return number
    return header
