"""Before the bench: what bridge, how badly knocked, guided or not; or go on with the one that was left.

Imports Textual, tui and below.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Static

from centwise.bench.cautions import cautions_for
from centwise.bench_planning import bridge_for
from centwise.errors import CentwiseError
from centwise.model import DIFFICULTIES, Difficulty
from centwise.tui.acts import BENCH_CHOICE, bindings
from centwise.tui.place import Place, shown_name

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import BridgeKind
    from centwise.strings.instrument import Instrument

ABOUT_DIFFICULTY: dict[Difficulty, str] = {
    "easy": "Easy: the bridge slipped straight along the strings.",
    "middle": "Middle: it slipped, turned a little, and aside.",
    "hard": "Hard: it is turned well and aside, the short string's nut is high, and the hand presses unevenly.",
}


class BenchChoiceScreen(Place):
    """Choose the next rehearsal."""

    ACTS = BENCH_CHOICE
    ABOUT = (
        "At the bench you set a bridge that was knocked out of its place, by ear, in the order of the trade, and see "
        "at the end what was left, what was your ear and what your hand."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(BENCH_CHOICE)]

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("", classes="title", id="who", markup=False)
            yield Static("", classes="lead", id="summary", markup=False)
            with Horizontal(classes="row"):
                yield Button(self.told("«difficulty» difficulty"), id="difficulty", compact=True)
                yield Button(self.told("«bridge» bridge"), id="bridge", compact=True)
                yield Button(self.told("«guided» guided"), id="guided", compact=True)
            with Horizontal(classes="row"):
                yield Button(self.told("«begin» begin"), id="start", variant="primary", compact=True)
                yield Button(self.told("«new» begin another"), id="anew", compact=True)
                yield Button(self.told("«volume» volume"), id="volume", compact=True)
            # An error before the cautions, where it is seen on the smallest terminal too.
            yield Static("", id="said", markup=False)
            yield Static("", id="bench-cautions", markup=False)
        yield Footer()

    def on_screen_resume(self) -> None:
        """Show what the next rehearsal would be."""
        self._show()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.set_focus(None)
        getattr(self, f"action_{event.button.id}")()

    def action_difficulty(self) -> None:
        """Change how badly the bridge is knocked."""
        with self.telling():
            now = self.desk.bench_request.difficulty or self._usual()[0]
            self._ask_for(difficulty=DIFFICULTIES[(DIFFICULTIES.index(now) + 1) % len(DIFFICULTIES)])

    def action_bridge(self) -> None:
        """Change between a straight and a compensated bridge."""
        with self.telling():
            self._ask_for(bridge="straight" if self._bridge() == "compensated" else "compensated")

    def action_guided(self) -> None:
        """Change whether the round is guided."""
        with self.telling():
            now = self.desk.bench_request.guided
            self._ask_for(guided=not (self._usual()[1] if now is None else now))

    def action_start(self) -> None:
        """Begin, or go on with the one that was left."""
        self._open(anew=False)

    def action_anew(self) -> None:
        """Begin another one."""
        self._open(anew=True)

    def action_go_back(self) -> None:
        """Go back."""
        self.app.pop_screen()

    def _ask_for(self, **changes: object) -> None:
        self.desk.bench_request = replace(self.desk.bench_request, **changes)  # type: ignore[arg-type]
        self.say("")
        self._show()

    def _open(self, *, anew: bool) -> None:
        from centwise.tui.bench_screen import BenchScreen  # noqa: PLC0415  loads numpy

        self.app.push_screen(BenchScreen(anew=anew))

    def _bridge(self) -> BridgeKind:
        """Return the bridge of the next rehearsal: the instrument's own unless another was chosen."""
        return bridge_for(self.desk.bench_request, self.desk.listener, self.desk.services.instruments)

    def _usual(self) -> tuple[Difficulty, bool]:
        """Return what the first rehearsal, or a later one, would be like."""
        listener = self.desk.listener
        first = listener is not None and not self.desk.services.store.benches(listener.id)
        return ("easy", True) if first else ("middle", False)

    def _instrument(self) -> Instrument | None:
        """Return the instrument at hand, None where it cannot be read: that is told, and all else is to be minded."""
        try:
            return self.desk.bench_instrument()
        except CentwiseError:
            return None

    def _show(self) -> None:
        cautions = " ".join(cautions_for(self._instrument()))
        self.query_one("#bench-cautions", Static).update(f"Nothing can be hurt here. At a real instrument: {cautions}")
        listener = self.desk.listener
        name = shown_name(listener.name) if listener is not None else ""
        self.query_one("#who", Static).update(f"{name}, at the bench")
        with self.telling():
            said, left = self._said()
            self.query_one("#summary", Static).update(said)
            self.query_one("#start", Button).label = self.told("«begin» go on" if left else "«begin» begin")
            self.call_act("start", "Go on" if left else "Begin")
            self.query_one("#anew").display = left

    def _said(self) -> tuple[str, bool]:
        left = self.desk.left_rehearsal()
        if left is not None:
            plan = left.plan
            return (
                f"You left one after {len(left.acts)} acts: {plan.bridge} bridge, {plan.difficulty}. It goes on there.",
                True,
            )
        usual, guided = self._usual()
        request = self.desk.bench_request
        difficulty = request.difficulty or usual
        guided = guided if request.guided is None else request.guided
        bridge = self._bridge().title()
        return (
            f"{bridge} bridge, {'guided step by step' if guided else 'unguided'}. {ABOUT_DIFFICULTY[difficulty]}",
            False,
        )
