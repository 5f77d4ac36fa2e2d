"""Where a note leans: flat on the left, unison in the middle, sharp on the right. Text only; imports model."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.model import JUDGEMENTS, MAX_OFFSET_CENTS, SIGNS

if TYPE_CHECKING:
    from centwise.model import Judgement

_MARKS_CENTS = (-40.0, -10.0, -2.0, 0.0, 2.0, 10.0, 40.0)


def column_of(offset_cents: float, width: int) -> int:
    """Return the column of an offset on a scale that gives small differences room (logarithmic beyond 1 cent)."""
    share = math.copysign(math.log1p(abs(offset_cents)) / math.log1p(MAX_OFFSET_CENTS), offset_cents)
    middle = (width - 1) / 2
    return round(middle + min(max(share, -1.0), 1.0) * middle)


def lean_lines(width: int, truth_cents: float | None, answer: Judgement | None) -> list[str]:
    """Draw the scale in three lines: the words, the line with the truth on it, and the cents.

    Args:
        width: columns, 40 or more.
        truth_cents: where the fretted note stood, once it may be told.
        answer: the word that was answered, once there is one; it is bracketed.
    """
    words = [f"{SIGNS[word]} {word}" for word in JUDGEMENTS]
    if answer is not None:
        words = [f"[{word}]" if word.endswith(answer) else word for word in words]
    middle = (width - len(words[1])) // 2
    head = words[0].ljust(middle) + words[1]
    head = head + words[2].rjust(width - len(head))
    line = ["─"] * width
    for cents in _MARKS_CENTS:
        line[column_of(cents, width)] = "┼" if cents == 0 else "┴"
    foot = [" "] * width
    if truth_cents is None:
        for cents in _MARKS_CENTS:
            _put(foot, column_of(cents, width), f"{abs(cents):g}")
    else:
        line[column_of(truth_cents, width)] = "◆"
        _put(foot, column_of(truth_cents, width), f"{truth_cents:+.1f} cents" if truth_cents else "0 cents")
    return [head, "".join(line), "".join(foot)]


def _put(cells: list[str], column: int, text: str) -> None:
    start = min(max(column - len(text) // 2, 0), len(cells) - len(text))
    cells[start : start + len(text)] = text
