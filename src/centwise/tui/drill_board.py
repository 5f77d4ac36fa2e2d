"""What the drill shows: the pictures, the sentences, the buttons and the word line. It decides nothing.

Imports Textual, tui and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.containers import Horizontal
from textual.widgets import Button, ProgressBar, Static

from centwise.drill.words import Feedback
from centwise.model import JUDGEMENTS, SIGNS
from centwise.tui import drill_words as words
from centwise.tui.board import Board
from centwise.tui.pictures import LeanPicture, StringPicture
from centwise.tui.place import told_at
from centwise.tui.plain_input import WordLine

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.timer import Timer

    from centwise.drill.machine import Drill
    from centwise.drill.words import Noted
    from centwise.model import PairSpec, Tone

REFUSAL_S = 4.0
"""How long a refusal stands in the place of what was said (a judgement)."""
BAR_COLUMNS = 18
"""Width of the bar beside which pair it is; where that needs the room, half of it (centwise.tcss)."""


class DrillBoard(Board):
    """Everything between the top of the drill's screen and its footer."""

    SAID = "#asked"
    LINE = "#word"
    BUTTONS = "#answers"

    def __init__(self) -> None:
        super().__init__(words.OPENING, id="drill")
        self._where = ""
        self._refused: Timer | None = None

    def compose(self) -> ComposeResult:
        """Lay it out; 19 rows hold it."""
        with Horizontal(id="top"):
            yield Static("", id="where", markup=False)
            yield ProgressBar(total=1, show_eta=False, show_percentage=False, id="bar")
        yield StringPicture()
        yield Static(words.OPENING, id="asked", markup=False)
        yield LeanPicture()
        yield Static("", id="told", markup=False)
        with Horizontal(id="answers"):
            for word in JUDGEMENTS:
                yield Button(told_at(self, f"«{word}»  {SIGNS[word]} {word}"), id=word, classes="answer")
        line = WordLine(placeholder=words.PLACEHOLDER, max_length=80, id="word")
        line.border_subtitle = words.CLOSES
        yield line
        with Horizontal(id="hear"):
            yield Button(told_at(self, "«again» again"), id="again", compact=True)
            yield Button(told_at(self, "«harmonic» harmonic"), id="harmonic", compact=True)
            yield Button(told_at(self, "«fretted» fretted"), id="fretted", compact=True)
            yield Button(told_at(self, "«next» next"), id="next", compact=True)

    def say(self, sentence: str) -> None:
        """Say one line under the string."""
        if self._refused is not None:
            self._refused.stop()
            self._refused = None
        super().say(sentence)

    def refuse(self, sentence: str) -> None:
        """Say for a while why something cannot be done; then what was said before stands there again."""
        before = self._said
        self.say(sentence)
        self._said = before
        self._refused = self.set_timer(REFUSAL_S, lambda: self.say(before))

    def ask(self, drill: Drill, pair: PairSpec) -> None:
        """Make room for a new pair. In an assessment the note that the last answer is kept may stand."""
        self._where = words.where_text(drill, pair)
        self.query_one("#where", Static).update(self._where)
        self._fit_bar()
        self.progress(drill)
        if not drill.plan.assess:
            self.query_one("#told", Static).update("")
        self.query_one(StringPicture).advise(None)
        self.query_one(LeanPicture).show(None, None)

    def on_resize(self) -> None:
        """Keep what is said of the pair whole in another width."""
        self._fit_bar()

    def _fit_bar(self) -> None:
        self.query_one("#top").set_class(len(self._where) > self.content_size.width - BAR_COLUMNS, "-tight")

    def progress(self, drill: Drill) -> None:
        """Show how far the block is."""
        self.query_one(ProgressBar).update(total=drill.total, progress=len(drill.trials))

    def tell(self, told: Feedback | Noted) -> None:
        """Show the truth about a pair, in words and on both pictures; in an assessment only what was answered."""
        said = self.query_one("#told", Static)
        said.update(words.told_text(told))
        if isinstance(told, Feedback):
            said.set_class(told.trial.correct, "right")
            said.set_class(not told.trial.correct, "wrong")
            self.query_one(StringPicture).advise(told.travel.direction)
            self.query_one(LeanPicture).show(told.trial.offset_cents, told.trial.answer)

    def swing(self, tone: Tone | None, swing: float) -> None:
        """Draw which tone sounds, and how wide it swings, 0 to 1."""
        self.query_one(StringPicture).swing(tone, swing)
