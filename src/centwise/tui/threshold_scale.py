"""A threshold with its 90 % interval on a line of cents. Standard library only."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from centwise.model import BlockResult

LEAST_CENTS, MOST_CENTS = 1.0, 96.0
_MARKS_CENTS = (1, 2, 4, 8, 16, 32, 64)


def threshold_lines(width: int, result: BlockResult) -> list[str]:
    """Draw two lines, `width` columns each: the interval with the threshold on it, and the cents beneath.

    Finer hearing lies to the left. The result must have a threshold.
    """

    def column(cents: float) -> int:
        share = math.log(cents / LEAST_CENTS) / math.log(MOST_CENTS / LEAST_CENTS)
        return round(min(max(share, 0.0), 1.0) * (width - 1))

    low, high = result.low_cents or LEAST_CENTS, result.high_cents or MOST_CENTS
    line = ["─"] * width
    for cents in _MARKS_CENTS:
        line[column(cents)] = "┴"
    first, last = column(low), column(high)
    line[first : last + 1] = "━" * (last - first + 1)
    line[first], line[last] = "┣", "┫"
    line[column(result.threshold_cents or low)] = "◆"
    foot = [" "] * width
    for cents in _MARKS_CENTS:
        text = str(cents)
        start = min(max(column(cents) - len(text) // 2, 0), width - len(text))
        foot[start : start + len(text)] = text
    return ["".join(line), "".join(foot)]
