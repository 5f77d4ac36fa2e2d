"""The frozen records that every layer hands to the next. Imports nothing of centwise; numpy for types only.

All offsets are signed cents of the fretted note over the harmonic: + is sharp, - is flat.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from datetime import datetime

    import numpy as np
    from numpy.typing import NDArray

    Samples = NDArray[np.float32]

Judgement = Literal["flat", "unison", "sharp"]
JUDGEMENTS: tuple[Judgement, ...] = ("flat", "unison", "sharp")
SIGNS: dict[Judgement, str] = {"flat": "♭", "unison": "=", "sharp": "♯"}

Tone = Literal["harmonic", "fretted"]
TONES: tuple[Tone, ...] = ("harmonic", "fretted")
ToneKind = Literal["harmonic", "fretted", "open"]

Order = Literal["harmonic-first", "fretted-first", "both"]
ORDERS: tuple[Order, ...] = ("harmonic-first", "fretted-first", "both")

Rule = Literal["weighted", "balanced"]
RULES: tuple[Rule, ...] = ("balanced", "weighted")

Voice = Literal["rendered", "recorded", "shifted"]
VOICES: tuple[Voice, ...] = ("rendered", "recorded", "shifted")
"""What is heard: our own tones; a listener's recorded pairs as they are; their recorded notes shifted to an offset."""

Direction = Literal["forward", "back", "leave"]

BridgeKind = Literal["straight", "compensated"]
BRIDGE_KINDS: tuple[BridgeKind, ...] = ("straight", "compensated")

Difficulty = Literal["easy", "middle", "hard"]
DIFFICULTIES: tuple[Difficulty, ...] = ("easy", "middle", "hard")
"""How badly the rehearsal bridge was knocked out of its place."""

GOOD_ENOUGH_CENTS = 2.0
"""Within this the outer strings count as set (common practice, a judgement: pressing alone scatters 1-3 cents)."""

SURE_ERRORS = 1.645
"""Standard errors on either side that hold the value nine times in ten."""

ESTIMATE_METHOD = 3
"""Version of the way from a block's answers to its result, kept beside each result. Raise it when results change."""

HISTORY_METHOD = 3
"""Version of the way from results to what a row of the class view tells. Raise it when that changes: rows are kept."""

Doubt = Literal["swapped", "one answer"]
"""Why figures are not the ear's: flat was taken for sharp, or every pair was given one and the same answer."""
DOUBTS: tuple[Doubt, ...] = ("swapped", "one answer")

CEILING_DBFS = -6.0
"""No sample that is played or rendered is larger, in decibels of full scale (our judgement: half of what there is)."""

MAX_NAME_LENGTH, MAX_NOTE_LENGTH = 200, 2000
"""Characters in a listener's name and note."""

MAX_OFFSET_CENTS = 100.0
"""The largest offset that is rendered or drilled: one semitone."""

DEFAULT_SCALE_MM = 26.25 * 25.4
"""Scale length assumed until a listener's own is known: 26 1/4 in."""


def judgement_of(offset_cents: float) -> Judgement:
    """Return the true word for an offset: flat below zero, sharp above, unison at exactly zero."""
    if offset_cents < 0:
        return "flat"
    return "sharp" if offset_cents > 0 else "unison"


def direction_of(judgement: Judgement) -> Direction:
    """Return what the bridge would want: fretted flat, forward; sharp, back; unison, leave it (common practice)."""
    directions: dict[Judgement, Direction] = {"flat": "forward", "sharp": "back", "unison": "leave"}
    return directions[judgement]


@dataclass(frozen=True, slots=True)
class Listener:
    """Somebody whose ear is trained. `name` and `note` are free text, never trusted as markup, path or formula."""

    id: str
    name: str
    scale_mm: float = DEFAULT_SCALE_MM
    instrument: str = "five-string"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """What is heard: blocks compare only within one condition."""

    instrument: str = "five-string"
    string: int = 4
    muted: bool = True
    likeness: float = 0.0
    order: Order = "harmonic-first"
    voice: Voice = "rendered"


def was_heard(player: str) -> bool:
    """Whether what this player sounded can have been heard: not so of the silent ones."""
    return not player.startswith("silent")


def uses_device(player: str) -> bool:
    """Whether this player sounds anything here and now: not so of the silent ones, nor of those that write files."""
    return was_heard(player) and not player.startswith("file:")


@dataclass(frozen=True, slots=True)
class BlockPlan:
    """One block of pairs as it was asked for. Everything drawn in it follows from the plan and the answers.

    `warm_up` pairs come before the `trials` scored ones. With `until_octaves` the block ends sooner, once the 90 %
    interval is that narrow. The prior is what earlier blocks say of the threshold, None for a stranger.

    With recorded notes, `take_sha256` says which take they are from, and every offset has the standard error
    `take_error_cents`, common to all. `given_cents` are the offsets to be judged in their order, one a pair, where
    none are to be chosen: recorded pairs as they are.

    `string_length_mm` and `octave_hz` are the string's own length and the note of the comparison as the instrument had
    them: a listener's own instrument may be described otherwise one day, or be gone.
    """

    id: str
    listener_id: str
    condition: Condition
    rule: Rule
    trials: int
    assess: bool
    seed: int
    scale_mm: float
    player: str
    started_at: datetime
    warm_up: int = 0
    until_octaves: float | None = None
    prior_threshold_cents: float | None = None
    prior_sd_octaves: float | None = None
    take_sha256: str | None = None
    take_error_cents: float | None = None
    given_cents: tuple[float, ...] = ()
    string_length_mm: float | None = None
    octave_hz: float | None = None

    @property
    def heard(self) -> bool:
        """Whether the block made a sound: nobody can have heard the silent player."""
        return was_heard(self.player)

    @property
    def paced(self) -> bool:
        """Whether the block keeps time: a player that hurries or writes files waits for nobody."""
        return self.player != "silent:hurry" and not self.player.startswith("file:")


@dataclass(frozen=True, slots=True)
class PairSpec:
    """One pair to be sounded. `n` counts from 1 in its block."""

    n: int
    condition: Condition
    offset_cents: float
    first: Tone


@dataclass(frozen=True, slots=True)
class Trial:
    """One judged pair. `scored` is false for warm-up pairs, which the estimate leaves out."""

    n: int
    offset_cents: float
    first: Tone
    answer: Judgement
    answered_at: datetime
    replays: int = 0
    scored: bool = True

    @property
    def truth(self) -> Judgement:
        """The right word."""
        return judgement_of(self.offset_cents)

    @property
    def correct(self) -> bool:
        """Whether the answer was the right word."""
        return self.answer == self.truth


@dataclass(frozen=True, slots=True)
class Sound:
    """Samples ready for a player.

    Attributes:
        samples: float32, shape (frames,), mono, within -1..1.
        rate_hz: frames per second.
        name: a short file-safe name, such as `pair-0007`, unique within a block.
    """

    samples: Samples = field(repr=False)
    rate_hz: int
    name: str

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate_hz


@dataclass(frozen=True, slots=True)
class ToneSpan:
    """Where one tone lies in a sound, from its attack to the end of its fade, in seconds, and its pitch."""

    start_s: float
    end_s: float
    frequency_hz: float


@dataclass(frozen=True, slots=True)
class PairSound:
    """A rendered pair: one sound, and where its two tones lie in it."""

    sound: Sound
    harmonic: ToneSpan
    fretted: ToneSpan
    first: Tone
    peak_dbfs: float

    def span(self, tone: Tone) -> ToneSpan:
        """Return the place of one of the two tones."""
        return self.harmonic if tone == "harmonic" else self.fretted


@dataclass(frozen=True, slots=True)
class Travel:
    """A move of the bridge: how far and which way. `sixty_fourths` is the nearest count of 1/64 in."""

    travel_mm: float
    sixty_fourths: int
    direction: Direction


@dataclass(frozen=True, slots=True)
class BlockResult:
    """What a block says about the ear, all in cents but the travel.

    `threshold_cents` is 0.6745 sigma: the difference whose direction is heard three times in four when forced to
    choose. `low_cents` and `high_cents` enclose it with 90 % probability. The travel is what the threshold means at the
    listener's scale length. All None when there are too few trials to say anything. When both orders were heard, the
    bias is what follows the tones (a timbre shift) and the order error what follows their places, + for a second tone
    that sounds sharp; else the order error is None. With a `doubt` the figures are not the ear's, and no history counts
    them.
    """

    trials: int
    correct: int
    threshold_cents: float | None
    low_cents: float | None
    high_cents: float | None
    bias_cents: float | None
    bias_low_cents: float | None
    bias_high_cents: float | None
    unison_window_cents: float | None
    travel_mm: float | None
    travel_low_mm: float | None
    travel_high_mm: float | None
    travel_sixty_fourths: int | None
    order_error_cents: float | None = None
    order_error_low_cents: float | None = None
    order_error_high_cents: float | None = None
    doubt: Doubt | None = None


@dataclass(frozen=True, slots=True)
class BenchPlan:
    """One rehearsal of setting a bridge as it was asked for. Everything drawn in it follows from the seed.

    `guided` asks for each step and says why, and less so as the job goes on.
    """

    id: str
    listener_id: str
    instrument: str
    bridge: BridgeKind
    difficulty: Difficulty
    guided: bool
    seed: int
    scale_mm: float
    player: str
    started_at: datetime

    @property
    def heard(self) -> bool:
        """Whether the rehearsal made a sound: without one nothing in it tells of an ear."""
        return was_heard(self.player)


@dataclass(frozen=True, slots=True)
class BenchAct:
    """One act at the bench, in its words. `n` counts from 1 in its rehearsal, past every start over."""

    n: int
    words: str
    at: datetime


@dataclass(frozen=True, slots=True)
class OrderPoint:
    """One point of the order of the trade: whether it was kept, and why it matters, in one sentence."""

    point: str
    kept: bool
    reason: str


@dataclass(frozen=True, slots=True)
class BenchJudgement:
    """What a move says was heard, beside what was true.

    Attributes:
        n: the act that showed it.
        string: the string compared last before it.
        heard: flat when a foot went forward, sharp when it went back, unison when the feet were marked.
        truth_cents: the string's fretted note over its harmonic before the act, pressing left out.
        right: whether the word was the right one; for unison, whether it was within what counts as set.
    """

    n: int
    string: int
    heard: Judgement
    truth_cents: float
    right: bool


@dataclass(frozen=True, slots=True)
class BenchShare:
    """What the last moves left on one outer string, all in cents, and who left it.

    The hand's share is what the last move of either foot did beyond what was asked of it; the ear's share is the rest.
    `threshold_cents` is what the listener is known to hear on that string, None when it was never measured; `rechecked`
    says whether the string was compared after the last move of anything.
    """

    string: int
    left_cents: float
    hand_cents: float
    ear_cents: float
    threshold_cents: float | None
    rechecked: bool


@dataclass(frozen=True, slots=True)
class BenchResult:
    """What a rehearsal came to when the feet were marked.

    Attributes:
        cents: what each string is left with, fretted over harmonic at its octave fret, pressing left out.
        string_mm: how far each string's contact stands from its place, + away from the neck.
        must_leave_cents: what each string has with the bridge in its right place; a straight one cannot do better.
        bass_mm: how far the bass foot stands from its right place, + away from the neck.
        treble_mm: the same for the treble foot.
        side_mm: how far the bridge stands from the middle, + toward the treble side.
        moves: of a foot or sideways.
        comparisons: of a string's harmonic with its octave note.
        judgements: what each move and the mark said was heard.
        order: the points of the order of the trade.
        shares: for the two strings the bridge is set by.
        hand_percent: how far off what was asked the moves of the feet went, root mean square; None without moves.
    """

    cents: dict[int, float]
    string_mm: dict[int, float]
    must_leave_cents: dict[int, float]
    bass_mm: float
    treble_mm: float
    side_mm: float
    moves: int
    comparisons: int
    judgements: tuple[BenchJudgement, ...]
    order: tuple[OrderPoint, ...]
    shares: tuple[BenchShare, ...]
    hand_percent: float | None
