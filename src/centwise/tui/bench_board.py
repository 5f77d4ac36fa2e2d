"""What the bench shows: the head from above, the sentences, the buttons and the word line. It decides nothing.

Imports Textual, tui and below.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from textual.containers import Horizontal
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Button, Static

from centwise.tui import bench_words as words
from centwise.tui.bench_drawing import LEAST_WIDTH, Shown, bench_picture
from centwise.tui.board import Board
from centwise.tui.pictures import drawn
from centwise.tui.place import told_at
from centwise.tui.plain_input import WordLine

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.content import Content
    from textual.events import Click

    from centwise.strings.bridge import Side

USUAL_STRINGS = 5
ROWS: tuple[tuple[tuple[str, str, str], ...], ...] = (
    (
        ("chime", "chime", "«chime» chime"),
        ("fret", "fret", "«fret» fret"),
        ("open", "open", "«open» open"),
        ("lower", "finger(-1)", "«fret-lower» fret-"),
        ("higher", "finger(1)", "«fret-higher» fret+"),
    ),
    (
        ("forward", "move('forward')", "«forward»forward"),
        ("back", "move('back')", "«back» back"),
        ("foot", "foot", "«foot» foot"),
        ("less", "amount(-1)", "«less» less"),
        ("more", "amount(1)", "«more» more"),
    ),
    (
        ("mute", "mute", "«mute» mute"),
        ("retune", "retune", "«retune» retune"),
        ("slide-bass", "slide('bass')", "«slide-to-bass» slide↓"),
        ("slide-treble", "slide('treble')", "«slide-to-treble» slide↑"),
        ("margins", "margins", "«edges» edges"),
    ),
)
"""Id, action and label of each button, row by row."""
ACTIONS = {name: action for row in ROWS for name, action, _ in row}


class BenchPicture(Widget):
    """The head from above. A click on a string chooses it, one on a foot's line chooses the foot."""

    class StringChosen(Message):
        """A string was clicked."""

        def __init__(self, string: int) -> None:
            super().__init__()
            self.string = string

    class FootChosen(Message):
        """A foot was clicked."""

        def __init__(self, foot: Side) -> None:
            super().__init__()
            self.foot = foot

    def __init__(self) -> None:
        super().__init__(id="bench-picture")
        self._shown: Shown | None = None

    def show(self, shown: Shown) -> None:
        """Draw this from now on."""
        if shown != self._shown:
            self._shown = shown
            self.styles.height = len(shown.strings) + 3
            # Six strings leave the sentences a row less on the smallest terminal.
            self.screen.set_class(len(shown.strings) > USUAL_STRINGS, "-many")
            self.refresh()

    def render(self) -> Content:
        """Draw the head as wide as the place allows."""
        return drawn(self, self.lines, LEAST_WIDTH)

    def lines(self, width: int) -> list[str]:
        """Return the picture, `width` columns each line; empty before there is a bench."""
        return [] if self._shown is None else bench_picture(width, self._shown)

    def on_click(self, event: Click) -> None:
        """Choose what was clicked."""
        if self._shown is None:
            return
        strings = self._shown.strings
        if 1 <= event.y <= len(strings):
            self.post_message(self.StringChosen(strings[event.y - 1]))
        elif event.y in {0, len(strings) + 1}:
            self.post_message(self.FootChosen("treble" if event.y == 0 else "bass"))


class BenchAdvice(Static):
    """What comes next; where the reason does not fit, what is asked alone, and how to hear the reason."""

    def __init__(self) -> None:
        super().__init__("", id="bench-advice", markup=False)
        self._said, self._shorter = "", ""

    def say(self, sentence: str, shorter: str) -> None:
        """Say this from now on; where nothing is said, no room is kept for it."""
        self._said, self._shorter = sentence, shorter
        self.display = bool(sentence)
        self._fit()

    def on_resize(self) -> None:
        """Say what fits now."""
        self._fit()

    def _fit(self) -> None:
        width, rows = self.content_size
        fits = width == 0 or len(wrap(self._said, width)) <= rows
        self.update(self._said if fits else self._shorter)


class BenchBoard(Board):
    """Everything between the top of the bench's screen and its footer."""

    SAID = "#bench-said"
    LINE = "#bench-word"
    BUTTONS = ".bench-row"

    def __init__(self) -> None:
        super().__init__(words.OPENING, id="bench-board")

    def compose(self) -> ComposeResult:
        """Lay it out; 19 rows hold it with five strings."""
        yield Static("", id="bench-status", markup=False)
        yield BenchPicture()
        yield Static(words.OPENING, id="bench-said", markup=False)
        yield BenchAdvice()
        yield Static("", id="bench-caution", classes="caution", markup=False)
        for row in ROWS:
            with Horizontal(classes="bench-row"):
                for name, _, label in row:
                    yield Button(told_at(self, label), id=name, compact=True)
        yield WordLine(placeholder=words.PLACEHOLDER, max_length=60, id="bench-word")

    def advise(self, sentence: str, shorter: str) -> None:
        """Say what comes next, the shorter way where the whole does not fit."""
        self.query_one(BenchAdvice).say(told_at(self, sentence), told_at(self, shorter))

    def caution(self, sentence: str) -> None:
        """Say what to mind."""
        self.query_one("#bench-caution", Static).update(sentence)

    def status(self, line: str) -> None:
        """Say what the next act is for."""
        self.query_one("#bench-status", Static).update(line)

    def draw(self, shown: Shown) -> None:
        """Draw the head."""
        self.query_one(BenchPicture).show(shown)
