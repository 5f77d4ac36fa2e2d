"""The drill screen's sentences and its word line. Text only; each fits two lines of 56 columns.

Imports drill and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.drill.advice import bridge_text, truth_text, verdict_text
from centwise.drill.meter import meter_text
from centwise.drill.words import Feedback, Noted
from centwise.model import JUDGEMENTS, SIGNS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from centwise.conductor import Hole
    from centwise.drill.machine import Drill
    from centwise.drill.words import Rest
    from centwise.model import PairSpec

OPENING = "One moment: the first pair is being made."
LISTEN_FIRST = "Hear both tones first, then say flat, unison or sharp."
GOES_ON = "The next pair follows. ‹Next›: at once; ‹again›: hear again."
WAITS = "‹Next›: go on; ‹again›, ‹harmonic› or ‹fretted›: hear this pair again."
LAST = "That was the last pair. ‹Next›: the result."
HEAR_AGAIN = "Press ‹again› to hear the pair again: flat, unison or sharp?"
SWAPPED = (
    "Flat and sharp swapped? Flat is the lower note, sharp the higher. ‹directions›: practise them; ‹next›: go on."
)
TOO_LATE = "Directions are practised before the pairs that count."
COMING = "Large pairs for the directions come first already: answer them."
PLACEHOLDER = "flat, unison, sharp, again; help lists the rest"
CLOSES = "esc closes"
NOTED = "Noted."
WAITS_NOTED = "‹Next›: go on."
CLOSING = "One moment: the block is being closed."
WORD_LENGTH = 12

_ACTS = {
    "flat": "answer('flat')",
    "unison": "answer('unison')",
    "sharp": "answer('sharp')",
    "again": "again",
    "harmonic": "alone('harmonic')",
    "fretted": "alone('fretted')",
    "next": "next",
    "directions": "directions",
    "volume": "volume",
    "help": "help",
    "quit": "leave",
}
_LETTERS = {sign: word for word, sign in SIGNS.items()} | {
    "f": "flat",
    "u": "unison",
    "s": "sharp",
    "a": "again",
    "h": "harmonic",
    "t": "fretted",
    "d": "directions",
    "q": "quit",
}


def hole_text(hole: Hole) -> str:
    """Say that the pair had a hole in its sound, and what comes next; the question stays."""
    if hole.again:
        return f"A hole of {hole.lost_s:.2f} s fell into that pair: here it is again.\nFlat, unison or sharp?"
    said = f"A hole of {hole.lost_s:.2f} s again: close other programs."
    return f"{said}\nPress ‹again› to hear it anew. Flat, unison or sharp?"


def word_act(text: str) -> str | None:
    """Return the act a typed word stands for, or None; a letter is the act's key, an empty line goes on."""
    word = text.strip().lower()
    return _ACTS.get(_LETTERS.get(word, word or "next"))


def no_word_text(text: str, words: Sequence[str]) -> str:
    """Say that a word is not known here, and which ones are taken now."""
    return f"“{text.strip()[:WORD_LENGTH]}” is none of: {', '.join(words)}."


def words_now(drill: Drill | None, *, judged: bool) -> tuple[str, ...]:
    """Return the words that the line takes now.

    Args:
        drill: the block, None before it has begun.
        judged: whether the pair has been judged and the next one waits.
    """
    if drill is None:
        return ("help", "quit")
    hear = ("again", "harmonic", "fretted")
    # In an assessment a judged pair stays untold.
    after = ("next",) if drill.plan.assess else ("next", *hear)
    words = after if judged else (*JUDGEMENTS, *hear)
    return (*words, *(("directions",) if drill.may_practise else ()), "volume", "help", "quit")


def no_directions_text(drill: Drill) -> str:
    """Say why the directions are not practised now: they will be, or it is too late."""
    return COMING if drill.practice_ahead else TOO_LATE


def asking_text(spec: PairSpec) -> str:
    """Ask for a judgement, saying which tone comes first."""
    order = "harmonic, then fretted" if spec.first == "harmonic" else "fretted, then harmonic"
    return f"Listen: {order}. Flat, unison or sharp?"


def where_text(drill: Drill, spec: PairSpec) -> str:
    """Say which pair of how many this is, and whether it only warms up or makes no sound."""
    warm_up = " · warm-up" if spec.n <= drill.warm_up else ""
    whose = {"rendered": "String", "recorded": "Own string", "shifted": "Own notes, string"}[spec.condition.voice]
    silent = "" if drill.plan.heard else " · no sound"
    return f"{whose} {spec.condition.string} · pair {spec.n} of {drill.total}{warm_up}{silent}"


def rest_text(rest: Rest) -> str:
    """Propose a rest in a long assessment."""
    return f"{rest.done} pairs done, {rest.left} to come. Rest a minute, then ‹next›."


def ears_text(minutes: int) -> str:
    """Propose a rest after a long time of listening; it waits for enter."""
    return f"You have listened for {minutes} minutes: rest your ears for five, then press ‹next›. All answers are kept."


def told_text(told: Feedback | Noted) -> str:
    """Tell a pair's truth in two lines, with word, sign and number; in an assessment only that the answer is kept."""
    if isinstance(told, Noted):
        return f"Pair {told.n} is kept: {SIGNS[told.answer]} {told.answer}."
    if told.error_cents is not None:
        return meter_text(told)
    trial = told.trial
    truth = "in unison" if trial.truth == "unison" else truth_text(trial)
    bridge = "Leave the bridge." if told.travel.direction == "leave" else f"Bridge: {bridge_text(told)}."
    return f"{verdict_text(trial)} {SIGNS[trial.truth]} {_capital(truth)}.\n{bridge}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
