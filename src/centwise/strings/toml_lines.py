"""Finds the line on which a field of a TOML text stands, which tomllib does not tell. No I/O."""

from __future__ import annotations

import re

_HEADER = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_-]+)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=""")


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
