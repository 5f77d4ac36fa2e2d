"""The bench screen's sentences. Text only; the line at the top fits 56 columns. Imports the bench and below."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from centwise.bench.acts import Move, Retune, Slide
from centwise.bench.cautions import SHORT_CAUTIONS
from centwise.bench.guide import advice
from centwise.bench.told import WORD_SENTENCES, done_sentence, found_sentences, outcome_sentence, tone_sentence

if TYPE_CHECKING:
    from centwise.bench.machine import Bench
    from centwise.errors import UsageError
    from centwise.rehearsal import Answer
    from centwise.strings.bridge import Side

AMOUNTS = ("1/64in", "1/32in", "1/16in", "1/8in")
USUAL_AMOUNT = 2
OPENING = "One moment: the bench is being set up."
MARK_TWICE = "Press ‹pencil› once more to draw the line: it ends this rehearsal."
RESET_TWICE = "Press ‹reset› once more: the bridge goes back where it was found."
HELP = (
    *(f"{sentence[:1].upper()}{sentence[1:]}" for sentence in WORD_SENTENCES),
    "Why says why, cautions what to mind at a real instrument; volume sets the level; quit leaves the bench.",
)
WIDTH, ROWS = 56, 2
"""What is said has so much room on the smallest terminal."""
PLACEHOLDER = "bass forward 0.5mm, chime 5 12; help lists the rest"
NOT_BEGUN = "Nothing has begun yet."
ALL_KEPT = "Nothing is lost: every act so far is kept, and this one has not been done."
MARKED = "‹why›: the reckoning; ‹reset›: the same job again; ‹leave›: leave."


def status_line(bench: Bench, string: int, finger: int, foot: Side, amount: str) -> str:
    """Say what the next act is for: string and fret, foot and amount, how the strings are, and that none is heard."""
    tuned = "in tune" if bench.in_tune else "untuned"
    if not bench.plan.heard:
        return f"String {string} fret {finger} · {foot} {amount} · {tuned} · no sound"
    muted = "muted" if bench.muted else "free"
    return f"String {string} fret {finger} · {foot} foot {amount} · {muted} · {tuned}"


def opening_text(bench: Bench, *, taken_up: bool) -> str:
    """Say what is there."""
    if taken_up:
        return f"Your rehearsal goes on, after {bench.own_acts} acts."
    return found_sentences(bench)[0]


def answer_text(answer: Answer, bench: Bench) -> str:
    """Say what was done."""
    instrument = bench.setting.instrument
    if answer.heard is not None:
        return tone_sentence(answer.heard.tone, instrument)
    if answer.result is not None:
        return outcome_sentence(answer.result, instrument).partition(";")[0] + "."
    if answer.margins is not None:
        seen = answer.margins
        return f"Edge to string: {seen.bass_mm:.1f} mm on the bass side, {seen.treble_mm:.1f} mm on the treble side."
    return done_sentence(answer.act, answer.margins, in_tune=bench.in_tune)


def advice_texts(bench: Bench) -> tuple[str, str]:
    """Say what comes next, where the round is guided or the feet are marked: with its reason, and without."""
    if bench.marked:
        return MARKED, MARKED
    if not bench.plan.guided:
        return "", ""
    said = advice(bench)
    return said.said, f"{said.ask} ‹why›: why."


def refused_text(error: UsageError) -> str:
    """Say why words were not done; where the words there are would not fit, how to see them."""
    said = error.sentence
    if len(wrap(said, WIDTH)) <= ROWS:
        return said
    return f"{error.what[:1].upper()}{error.what[1:]}: help lists all."


def ears_text(minutes: int) -> str:
    """Propose a rest after a long time of listening, in the one line that cautions have."""
    return f"{minutes} minutes of listening: rest your ears for five."


def caution_text(answer: Answer | None) -> str:
    """Say the caution that belongs to what was done last."""
    act = None if answer is None else answer.act
    return SHORT_CAUTIONS[{Move: "move", Slide: "slide", Retune: "retune"}.get(type(act), "")]
