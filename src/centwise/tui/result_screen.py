"""The end of a block: the number, its interval, the bridge travel, and the one thing to do next.

Imports Textual, tui and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Button, Footer, Static

from centwise.drill.advice import (
    NO_HEARING_TEST,
    doubt_sentence,
    next_step,
    provisional_sentence,
    threshold_sentence,
    travel_sentence,
)
from centwise.drill.meter import against_sentences, error_sentence
from centwise.drill.verdict import Verdict, verdict_of
from centwise.model import SIGNS, judgement_of
from centwise.resting import rest_sentence
from centwise.standing_text import standing_sentences
from centwise.tui.acts import RESULT, bindings
from centwise.tui.place import Place
from centwise.tui.threshold_scale import threshold_lines

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.drill.machine import Drill
    from centwise.model import BlockResult
    from centwise.standing import Standing

SCALE_WIDTH = 54
LEAST_ROWS = 4
AFTER_THE_METER = "drill your own notes, shifted, until the ear decides what the meter reads."
TITLES: dict[Verdict, str] = {
    "no figures": "Too few pairs for a number",
    "unheard": "No sound, no number",
    "swapped": "Flat and sharp changed places",
    "one answer": "One answer to every pair",
    "few": "Too few pairs to say",
    "whole": "You hear {:.1f} cents",
}
"""What leads: the number only where it may be taken for the ear's."""


class ResultScreen(Place):
    """What the block says about the ear."""

    # The figures take the arrow keys, so that they can be scrolled where they are longer than the terminal.
    AUTO_FOCUS = "#result"
    ACTS = RESULT
    ABOUT = (
        "The threshold is the difference whose direction you hear three times in four. "
        "Its interval holds the true one nine times in ten. The travel is the same in millimetres of bridge."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(RESULT)]

    def __init__(
        self, result: BlockResult, drill: Drill, standing: Standing | None = None, *, rest_due: int | None = None
    ) -> None:
        super().__init__()
        self._result = result
        self._drill = drill
        self._standing = standing
        self._rest_due = rest_due

    def compose(self) -> ComposeResult:
        """Lay out the screen: what is longer than the terminal scrolls, and what comes next stays in sight."""
        result, drill = self._result, self._drill
        verdict = verdict_of(result, heard=drill.plan.heard)
        with Vertical(classes="page"):
            with VerticalScroll(id="result"):
                if drill.plan.given_cents:
                    yield from self._against()
                else:
                    title = TITLES[verdict].format(result.threshold_cents)
                    yield Static(title, classes="title", id="number", markup=False)
                    yield from self._figures() if verdict == "whole" else self._doubts(verdict)
            with Vertical(id="after"):
                step = next_step(result, heard=drill.plan.heard)
                if drill.plan.given_cents:
                    step = AFTER_THE_METER
                if self._rest_due is not None:
                    yield Static(rest_sentence(self._rest_due), id="rest-ears", markup=False)
                yield Static(f"Next: {step}", id="next-step", markup=False)
                with Horizontal(classes="row"):
                    yield Button(
                        self.told("«another-block» another block"), id="another", variant="primary", compact=True
                    )
                    yield Button(self.told("«progress» progress"), id="progress", compact=True)
                    yield Button(self.told("«quit» quit"), id="leave_app", compact=True)
        yield Footer()

    def on_resize(self) -> None:
        """Give the figures the room that the rest leaves."""
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        page, after = self.query_one(".page"), self.query_one("#after")
        self.query_one("#result").styles.max_height = max(
            self.size.height - self.query_one(Footer).outer_size.height - after.outer_size.height - page.gutter.height,
            LEAST_ROWS,
        )

    def _doubts(self, verdict: Verdict) -> ComposeResult:
        """Lay out why there is no number for the ear, and any figure as what it is."""
        yield Static(doubt_sentence(verdict, self._result), classes="lead", id="doubt", markup=False)
        yield Static(f"{self._count()} Seed {self._drill.plan.seed}.", classes="lead", id="count", markup=False)
        if verdict == "few":
            said = f"{provisional_sentence(self._result)} {NO_HEARING_TEST}"
            yield Static(said, id="provisional", markup=False)

    def _against(self) -> ComposeResult:
        """Lay out how ear and meter compare, where recorded pairs were judged as they are."""
        first, *rest = against_sentences(self._drill.plan, self._drill.trials)
        yield Static(first.rstrip("."), classes="title", id="number", markup=False)
        for sentence in rest:
            yield Static(sentence, classes="lead", markup=False)
        yield Static(f"Seed {self._drill.plan.seed}.", id="count", markup=False)

    def _figures(self) -> ComposeResult:
        """Lay out the number, its interval, its travel, and what stands beside it."""
        result = self._result
        yield Static("\n".join(threshold_lines(SCALE_WIDTH, result)), classes="string", markup=False)
        yield Static(threshold_sentence(result), id="threshold", markup=False)
        yield Static(travel_sentence(result), id="travel", markup=False)
        if self._standing is not None and (said := standing_sentences(self._standing)):
            yield Static(" ".join(said), id="standing", markup=False)
        if (meaning := error_sentence(self._drill.plan, result)) is not None:
            yield Static(meaning, id="own-error", markup=False)
        yield Static(self._beside(), classes="caution", id="beside", markup=False)

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        getattr(self, f"action_{event.button.id}")()

    def action_another(self) -> None:
        """Choose the next block."""
        self.app.pop_screen()

    def action_progress(self) -> None:
        """See how the threshold has moved."""
        from centwise.tui.progress_screen import ProgressScreen  # noqa: PLC0415  loads the drawing of charts

        if self.desk.listener is not None:
            self.app.push_screen(ProgressScreen(self.desk.listener))

    def action_leave_app(self) -> None:
        """Leave the app."""
        self.app.exit(0)

    def _count(self) -> str:
        """Say how many of the pairs that count were right."""
        if not self._result.trials:
            return "No pair that counts was judged."
        return f"{self._result.correct} of {self._result.trials} right."

    def _beside(self) -> str:
        """Say what is measured beside the threshold, each with its word and sign."""
        result = self._result
        leans = f"A unison sounds {_lean_text(result.bias_cents or 0.0)} to you"
        if result.order_error_cents is not None:
            leans += f", a second tone {_lean_text(result.order_error_cents)}"
        return (
            f"{self._count()} {leans}; you call "
            f"±{result.unison_window_cents or 0.0:.1f} cents unison. Seed {self._drill.plan.seed}. {NO_HEARING_TEST}"
        )


def _lean_text(cents: float) -> str:
    """Say which way something leans: `♯ sharp by 1.2 cents`."""
    rounded = round(cents, 1)
    lean = judgement_of(rounded)
    return f"{SIGNS[lean]} in unison" if lean == "unison" else f"{SIGNS[lean]} {lean} by {abs(rounded):.1f} cents"
