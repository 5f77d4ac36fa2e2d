"""The end of a block: the number, its interval, the bridge travel, and the one thing to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Button, Footer, Static

from centwise.drill.advice import next_step, threshold_sentence, travel_sentence
from centwise.model import SIGNS, judgement_of
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
NO_SOUND = "these pairs made no sound, so the number says nothing about your ear. Take a block with sound."


class ResultScreen(Place):
    """What the block says about the ear."""

    ACTS = RESULT
    ABOUT = (
        "The threshold is the difference whose direction you hear three times in four. "
        "Its interval holds the true one nine times in ten. The travel is the same in millimetres of bridge."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(RESULT)]

    def __init__(self, result: BlockResult, drill: Drill, standing: Standing | None = None) -> None:
        super().__init__()
        self._result = result
        self._drill = drill
        self._standing = standing

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        result, trials = self._result, self._drill.trials
        with VerticalScroll(classes="page", id="result"):
            if result.threshold_cents is None:
                yield Static("Too few pairs for a number", classes="title", id="number", markup=False)
                yield Static(self._count(), classes="lead", markup=False)
            else:
                yield Static(f"You hear {result.threshold_cents:.1f} cents", classes="title", id="number", markup=False)
                yield Static("\n".join(threshold_lines(SCALE_WIDTH, result)), classes="string", markup=False)
                yield Static(threshold_sentence(result), id="threshold", markup=False)
                yield Static(travel_sentence(result), id="travel", markup=False)
                if self._standing is not None and (said := standing_sentences(self._standing)):
                    yield Static(" ".join(said), id="standing", markup=False)
                yield Static(self._beside(), classes="caution", id="beside", markup=False)
            step = NO_SOUND if self._unheard else next_step(result, trials)
            yield Static(f"Next: {step}", id="next-step", markup=False)
            with Horizontal(classes="row"):
                yield Button("⏎ another block", id="another", variant="primary", compact=True)
                yield Button("q quit", id="leave_app", compact=True)
        yield Footer()

    @property
    def _unheard(self) -> bool:
        """Whether the block was taken without sound."""
        return self._drill.plan.player.startswith("silent")

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        getattr(self, f"action_{event.button.id}")()

    def action_another(self) -> None:
        """Choose the next block."""
        self.app.pop_screen()

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
            f"±{result.unison_window_cents or 0.0:.1f} cents unison. Seed {self._drill.plan.seed}."
        )


def _lean_text(cents: float) -> str:
    """Say which way something leans: `♯ sharp by 1.2 cents`."""
    rounded = round(cents, 1)
    lean = judgement_of(rounded)
    return f"{SIGNS[lean]} in unison" if lean == "unison" else f"{SIGNS[lean]} {lean} by {abs(rounded):.1f} cents"
