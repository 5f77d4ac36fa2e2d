"""The drill screen's sentences and its word line. Text only, no widgets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.drill.advice import travel_text, truth_text, verdict_text
from centwise.drill.words import Feedback, Noted
from centwise.model import SIGNS

if TYPE_CHECKING:
    from centwise.model import PairSpec

_ACTS = {
    "flat": "answer('flat')",
    "unison": "answer('unison')",
    "sharp": "answer('sharp')",
    "again": "again",
    "harmonic": "alone('harmonic')",
    "fretted": "alone('fretted')",
    "next": "next",
    "quit": "leave",
    "help": "help",
}


def word_act(text: str) -> str | None:
    """Return the act a typed word stands for, or None."""
    return _ACTS.get(text.strip().lower())


def asking_text(spec: PairSpec) -> str:
    """Ask for a judgement, saying which tone comes first."""
    order = "harmonic, then fretted" if spec.first == "harmonic" else "fretted, then harmonic"
    return f"Listen: {order}. Flat, unison or sharp?"


def told_text(told: Feedback | Noted) -> str:
    """Tell a pair's truth in two lines, with word, sign and number; in an assessment only that the answer is kept."""
    if isinstance(told, Noted):
        return f"Kept: {SIGNS[told.answer]} {told.answer}."
    trial = told.trial
    bridge = "Leave the bridge." if told.travel.direction == "leave" else f"Bridge: {travel_text(told.travel)}."
    return f"{verdict_text(trial)} {SIGNS[trial.truth]} {_capital(truth_text(trial))}.\n{bridge}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
