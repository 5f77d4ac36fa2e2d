"""Whether an ear has become finer, as a word. Loads no numpy. Imports nothing of centwise."""

from __future__ import annotations

from typing import Literal

Trend = Literal["finer", "probably finer", "no change", "probably coarser", "coarser", "too early"]
TRENDS: tuple[Trend, ...] = ("finer", "probably finer", "no change", "too early", "probably coarser", "coarser")
"""Best first: the order in which a class is sorted."""
TREND_SIGNS: dict[Trend, str] = {
    "finer": "↓↓",
    "probably finer": "↓",
    "no change": "=",
    "too early": "·",
    "probably coarser": "↑",
    "coarser": "↑↑",
}
"""Beside the word: the threshold goes down as an ear becomes finer."""

SURE, LIKELY = 0.95, 0.75
"""Probabilities from which a trend is told as such (judgements)."""


def trend_word(improvement_chance: float | None) -> Trend:
    """Return a trend in words; None stands for fewer than three blocks, which say nothing of a trend."""
    if improvement_chance is None:
        return "too early"
    if improvement_chance >= LIKELY:
        return "finer" if improvement_chance >= SURE else "probably finer"
    if improvement_chance <= 1.0 - LIKELY:
        return "coarser" if improvement_chance <= 1.0 - SURE else "probably coarser"
    return "no change"
