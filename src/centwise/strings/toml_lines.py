"""Reads and shows TOML, and finds the line on which a value stands, which tomllib does not tell. No I/O.

Imports nothing of centwise.
"""

from __future__ import annotations

import re
import tomllib
from contextlib import suppress
from datetime import date, time
from typing import Any

Place = tuple[str | int, ...]
"""Where a value stands: `("step", 2, "trials")` is the trials of the third step."""

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


def line_of(text: str, at: Place) -> int | None:
    """Return the line on which a value begins, from 1; None where the text has no such value, and for the whole of it.

    The parser itself says where: the value stands between the longest beginning of the text without it that can be
    read, and the shortest with it. So values of several lines, dotted keys and inline tables are found alike.

    Args:
        text: a TOML text that can be read.
        at: where the value stands.
    """
    if not at or not _has(toml_table(text), at):
        return None
    lines = re.split(r"(?<=\n)", text)
    without, beyond = 0, len(lines)
    # Halving: a file of a thousand lines is not read a thousand times.
    while beyond - without > 1:
        middle = (without + beyond) // 2
        place, table = _readable(lines, middle, beyond)
        if table is None or _has(table, at):
            beyond = middle
        else:
            without = place
    return without + 1


def _readable(lines: list[str], first: int, beyond: int) -> tuple[int, dict[str, Any] | None]:
    """Return the shortest beginning of `first` to `beyond` - 1 lines that can be read, and what it says."""
    for count in range(first, beyond):
        with suppress(tomllib.TOMLDecodeError):
            return count, toml_table("".join(lines[:count]))
    return beyond, None


def _has(table: Any, at: Place) -> bool:  # noqa: ANN401  TOML holds anything
    for part in at:
        if isinstance(part, int):
            if not isinstance(table, list) or part >= len(table):
                return False
        elif not isinstance(table, dict) or part not in table:
            return False
        table = table[part]
    return True
