"""One listener's progress: the threshold over time on each string, and what to practise next.

Imports Textual, tui and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Button, Footer, Static

from centwise.charting import legend
from centwise.drill.advice import NO_HEARING_TEST
from centwise.errors import CentwiseError
from centwise.progress import progress_of
from centwise.progress_text import (
    bench_sentence,
    next_sentence,
    now_sentence,
    practised_line,
    trend_sentence,
)
from centwise.tui.acts import PROGRESS, bindings
from centwise.tui.place import Place, plain_text, shown_name
from centwise.tui.threshold_plot import ThresholdPlot

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener
    from centwise.progress import ListenerProgress

NO_BLOCK = (
    "There is no threshold to show yet. Take a block of 40 pairs with sound, about six minutes; "
    "from the third one on a trend is told."
)


class ProgressScreen(Place):
    """How a threshold has moved."""

    ACTS = PROGRESS
    ABOUT = (
        "Every block is a mark, lower is finer. The trend takes all blocks together, with the band that holds it nine "
        "times in ten; blocks compare only with their like, so each string has a chart of its own."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(PROGRESS)]

    def __init__(self, listener: Listener) -> None:
        super().__init__()
        self._listener = listener
        self._progress: ListenerProgress | None = None
        self._place = 0

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with VerticalScroll(id="progress-page"):
            yield Static(shown_name(self._listener.name), classes="title", id="who", markup=False)
            yield Static("Looking ...", id="practised", markup=False)
            yield ThresholdPlot()
            yield Static("", id="legend", markup=False)
            yield Static("", id="now", markup=False)
            yield Static("", id="next-step", markup=False)
            yield Static("", id="bench", markup=False)
            with Horizontal(classes="row", id="others"):
                yield Button(self.told("«before» before"), id="before", compact=True)
                yield Button(self.told("«next» next"), id="after", compact=True)
                yield Button(self.told("«back» back"), id="back", compact=True)
        yield Footer()

    def on_mount(self) -> None:
        """Read what there is."""
        for name in ("#plot", "#legend", "#others"):
            self.query_one(name).display = False
        self._read()

    @work(exclusive=True)
    async def _read(self) -> None:
        services, listener = self.desk.services, self._listener
        now = services.clock.now()
        try:
            self._progress = await self.in_turn(
                lambda: progress_of(
                    listener,
                    services.store.summaries(listener.id),
                    now,
                    instruments=services.instruments,
                    benches=services.store.benches(listener.id),
                )
            )
        except CentwiseError as error:
            self.query_one("#practised", Static).update(error.sentence)
            return
        self._show()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.set_focus(None)
        match event.button.id:
            case "before":
                self.action_other(-1)
            case "after":
                self.action_other(1)
            case _:
                self.action_go_back()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer another string, or kind of block, where there is one."""
        if action == "other":
            return self._progress is not None and len(self._progress.conditions) > 1
        return super().check_action(action, parameters)

    def action_other(self, steps: int) -> None:
        """Show another string, or kind of block."""
        if self._progress is not None:
            self._place = (self._place + steps) % len(self._progress.conditions)
            self._show()

    def action_scroll(self, lines: int) -> None:
        """Scroll where the page is longer than the screen."""
        self.query_one("#progress-page").scroll_relative(y=lines, animate=False)

    def action_go_back(self) -> None:
        """Go back."""
        self.app.pop_screen()

    def _show(self) -> None:
        progress = self._progress
        if progress is None:
            return
        conditions = progress.conditions
        many = len(conditions) > 1
        self.refresh_bindings()
        self.query_one("#practised", Static).update(practised_line(progress))
        self.query_one("#next-step", Static).update(next_sentence(progress.next))
        self.query_one("#bench", Static).update(bench_sentence(progress.benches))
        for name in ("#plot", "#legend", "#others"):
            self.query_one(name).display = bool(conditions)
        for name in ("#before", "#after"):
            self.query_one(name).display = many
        if not conditions:
            self.query_one("#now", Static).update(NO_BLOCK)
            return
        condition = conditions[self._place]
        place = self.told(f" ({self._place + 1} of {len(conditions)}, ‹before› ‹next›)") if many else ""
        title = f"{shown_name(self._listener.name)}, string {condition.condition.string}{place}"
        self.query_one("#who", Static).update(title)
        self.query_one(ThresholdPlot).draw(condition)
        self.query_one("#legend", Static).update(legend(condition))
        said = f"{now_sentence(condition)} {trend_sentence(condition)} {NO_HEARING_TEST}"
        self.query_one("#now", Static).update(plain_text(said))
