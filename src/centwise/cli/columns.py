"""Columns of text on a terminal: letters of any script, cut and filled to a width. Imports harmless and below."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

from centwise.harmless import harmless

if TYPE_CHECKING:
    from collections.abc import Sequence

_NO_WIDTH = frozenset({"Mn", "Me", "Cf"})
GAP = "  "


def width_of(text: str) -> int:
    """Return how many columns a text takes: wide letters two, marks over letters none (UAX #11)."""
    return sum(
        0 if unicodedata.category(ch) in _NO_WIDTH else 2 if unicodedata.east_asian_width(ch) in "WF" else 1
        for ch in text
    )


def fitted(text: str, width: int, *, right: bool = False) -> str:
    """Return a text as wide as asked, harmless on a terminal, cut with an ellipsis or filled with blanks."""
    text = harmless(text)
    if width_of(text) > width:
        kept, used = "", 0
        for ch in text:
            used += width_of(ch)
            if used > width - 1:
                break
            kept += ch
        text = f"{kept}…"
    blanks = " " * (width - width_of(text))
    return blanks + text if right else text + blanks


def table(
    head: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = (), widest: int = 40
) -> list[str]:
    """Return lines of a table: each column as wide as its longest entry, 40 at most; `right` names those set right."""
    widths = [min(max(width_of(harmless(row[k])) for row in (head, *rows)), widest) for k in range(len(head))]
    return [
        GAP.join(
            fitted(cell, width, right=k in right) for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in (head, *rows)
    ]
