"""What the meter reads of a set of takes, and what the bridge wants. Imports Textual, tui and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Button, Footer, Static

from centwise.errors import CentwiseError
from centwise.tui.acts import METER, bindings
from centwise.tui.place import Place

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.binding import BindingType


class MeterScreen(Place):
    """Measures takes and tells the reading.

    Args:
        path: their folder.
    """

    # The reading takes the arrow keys, so that it can be scrolled.
    AUTO_FOCUS = "#reading"
    ACTS = METER
    ABOUT = (
        "The meter compares the partials of harmonic and fretted note by their phase. Its error counts noise, partials "
        "that disagree, and how much your plucks scatter."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(METER)]

    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("What the meter reads", classes="title", markup=False)
            with VerticalScroll(id="reading"):
                yield Static("One moment: the takes are being measured.", id="said-reading", markup=False)
            with Horizontal(classes="row"):
                yield Button(self.told("«done» back"), id="go_back", variant="primary", compact=True)
        yield Footer()

    def on_mount(self) -> None:
        """Measure."""
        self._measure()

    @on(Button.Pressed)
    def _pressed(self) -> None:
        self.action_go_back()

    def action_done(self) -> None:
        """Go back to the takes."""
        self.action_go_back()

    def action_go_back(self) -> None:
        """Go back to the takes."""
        self.app.pop_screen()

    @work(group="meter")
    async def _measure(self) -> None:
        try:
            said = await self.in_turn(self._sentences)
        except CentwiseError as error:
            said = [error.sentence]
        self.query_one("#said-reading", Static).update("\n\n".join(said))

    def _sentences(self) -> list[str]:
        from centwise.takes.telling import measured_sentences  # noqa: PLC0415  start-up path
        from centwise.takes.voice import open_take  # noqa: PLC0415  loads numpy

        instruments = self.desk.services.instruments
        take = open_take(self._path, instruments=instruments)
        instrument = instruments.named(take.instrument)
        scale_mm = take.scale_mm or self.desk.scale_mm_on(instrument)
        spec = instrument.with_scale(scale_mm).string(take.string)
        return measured_sentences(take.measurement, spec, scale_mm, told=True)
