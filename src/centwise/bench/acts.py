"""What a hand can do at the bench, and the words for it. The words are what is typed, sent and stored.

Imports strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeAlias

from centwise.errors import UsageError
from centwise.strings.bridge import SIDES, Side
from centwise.units import parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Sequence

Way = Literal["forward", "back"]
WAYS: tuple[Way, ...] = ("forward", "back")
AMOUNT_EXAMPLES = "1/64in, 1/32in, 1/16in, 1/8in or 0.5mm"
LONGEST_AMOUNT = 180
"""An act is kept and passed on in its words, of which `exchange` takes 200 characters."""
SHOWN_LENGTH = 60


@dataclass(frozen=True, slots=True)
class Chime:
    """Touch a string lightly over a fret, its octave fret without one, and pluck."""

    string: int
    fret: int | None = None


@dataclass(frozen=True, slots=True)
class Fret:
    """Press a string at a fret, its octave fret without one, and pluck."""

    string: int
    fret: int | None = None


@dataclass(frozen=True, slots=True)
class Open:
    """Pluck a string open."""

    string: int


@dataclass(frozen=True, slots=True)
class Mute:
    """Lay a cloth or a finger on the other strings, or take it off them."""

    muted: bool


@dataclass(frozen=True, slots=True)
class Move:
    """Move one foot along the strings; forward is toward the neck."""

    side: Side
    way: Way
    amount_mm: float
    amount: str

    @property
    def travel_mm(self) -> float:
        """How far the foot is asked to go, + away from the neck."""
        return self.amount_mm if self.way == "back" else -self.amount_mm


@dataclass(frozen=True, slots=True)
class Slide:
    """Slide the whole bridge sideways, toward the bass side or the treble side."""

    toward: Side
    amount_mm: float
    amount: str


@dataclass(frozen=True, slots=True)
class Look:
    """Look how far the outer strings lie from the edges of the fingerboard."""


@dataclass(frozen=True, slots=True)
class Retune:
    """Bring every string back to pitch."""


@dataclass(frozen=True, slots=True)
class Mark:
    """Draw a pencil line along the feet: the bridge stands."""


@dataclass(frozen=True, slots=True)
class StartOver:
    """Put the bridge back where it was found; there is no undo."""


Pluck: TypeAlias = Chime | Fret | Open
Act: TypeAlias = Pluck | Mute | Move | Slide | Look | Retune | Mark | StartOver

_SINGLE: dict[str, Act] = {
    "mute": Mute(True),
    "unmute": Mute(False),
    "margins": Look(),
    "retune": Retune(),
    "mark": Mark(),
    "start over": StartOver(),
}
WORDS = (
    "chime N",
    "fret N",
    "open N",
    "mute",
    "unmute",
    "bass forward|back AMOUNT",
    "treble forward|back AMOUNT",
    "slide bass|treble AMOUNT",
    "margins",
    "retune",
    "mark",
    "start over",
    "why",
    "quit",
)
"""Everything the line front ends understand; the last two are no acts."""


def parse_act(text: str) -> Act:
    """Read an act from its words: `chime 4`, `fret 5 12`, `bass forward 1/16in`, `slide treble 1mm`, `mark`.

    Raises:
        UsageError: the words are no act, or a number or an amount in them is missing or none.
    """
    words = text.lower().split()
    joined = " ".join(words)
    if joined in _SINGLE:
        return _SINGLE[joined]
    match words:
        case [("chime" | "fret" | "open") as word, *numbers]:
            return _tone(word, [number for number in numbers if number != "at"])
        case [("bass" | "treble") as foot, *rest]:
            way = rest[0] if rest else ""
            if way not in WAYS:
                raise UsageError(f"{shown_words(joined)} does not say which way", f"say {foot} forward or {foot} back")
            amount = _amount(" ".join(rest[1:]), f"{foot} {way}")
            return Move(_side(foot), "forward" if way == "forward" else "back", *amount)
        case ["slide", *rest]:
            toward = rest[0] if rest else ""
            if toward not in SIDES:
                raise UsageError(
                    f"{shown_words(joined)} does not say toward which side", "say slide bass or slide treble"
                )
            return Slide(_side(toward), *_amount(" ".join(rest[1:]), f"slide {toward}"))
    raise UsageError(f"{shown_words(text)} is no word of the bench", f"say one of {', '.join(WORDS)}")


def act_text(act: Act) -> str:  # noqa: PLR0911  one return an act
    """Return the words of an act; reading them gives the act again."""
    match act:
        case Chime(string=string, fret=fret) | Fret(string=string, fret=fret):
            word = "chime" if isinstance(act, Chime) else "fret"
            return f"{word} {string}" if fret is None else f"{word} {string} {fret}"
        case Open(string=string):
            return f"open {string}"
        case Mute(muted=muted):
            return "mute" if muted else "unmute"
        case Move(side=side, way=way, amount=amount):
            return f"{side} {way} {amount}"
        case Slide(toward=toward, amount=amount):
            return f"slide {toward} {amount}"
        case Look():
            return "margins"
        case Retune():
            return "retune"
        case Mark():
            return "mark"
        case StartOver():
            return "start over"


def act_word(act: Act) -> str:
    """Return the kind of an act in one or two words: `chime`, `bass forward`, `slide bass`, `mute`."""
    match act:
        case Chime() | Fret() | Open():
            return act_text(act).split()[0]
        case Move(side=side, way=way):
            return f"{side} {way}"
        case Slide(toward=toward):
            return f"slide {toward}"
        case _:
            return act_text(act)


def shown_words(text: str) -> str:
    """Return words as somebody typed them, quoted, and cut where they are long."""
    return repr(text.strip()[:SHOWN_LENGTH])


def _side(word: str) -> Side:
    return "bass" if word == "bass" else "treble"


def _tone(word: str, numbers: Sequence[str]) -> Pluck:
    if not numbers:
        raise UsageError(f"{word!r} names no string", f"say {word} and its number, such as {word} 4")
    most = 1 if word == "open" else 2
    if len(numbers) > most or not all(_is_number(number) for number in numbers):
        example = f"{word} 4" if word == "open" else f"{word} 4, or {word} 4 7 for the 7th fret"
        raise UsageError(f"{shown_words(' '.join((word, *numbers)))} names no string and fret", f"say {example}")
    string = int(numbers[0])
    fret = int(numbers[1]) if len(numbers) == 2 else None
    if word == "open":
        return Open(string)
    return Chime(string, fret) if word == "chime" else Fret(string, fret)


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 3


def _amount(text: str, before: str) -> tuple[float, str]:
    if not text:
        raise UsageError(f"{before!r} does not say how far", f"add an amount, such as {before} 1/16in")
    refused = UsageError(
        f"{shown_words(text)} is no amount to move by", f"give one with its unit, such as {AMOUNT_EXAMPLES}"
    )
    if len(text) > LONGEST_AMOUNT:
        raise refused
    try:
        return parse_length_mm(text), text
    except UsageError as error:
        raise refused from error
