"""Your own instrument: record takes, judge them by ear, drill their notes, see what the meter reads.

Imports Textual, tui and below.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, OptionList, Static

from centwise.errors import CentwiseError
from centwise.strings.names import DEFAULT_NAME
from centwise.systems import local_time
from centwise.tui.acts import OWN, bindings
from centwise.tui.marked_list import MarkedList
from centwise.tui.place import Place, plain_text
from centwise.units import counted

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.takes.folder import TakeSet

BUTTONS = (
    ("record", "«record» record"),
    ("judge", "«by-ear» judge by ear"),
    ("drill", "«drill» drill"),
    ("meter", "«meter» meter"),
)
NONE_YET = "No takes yet. Press ‹record› to record harmonic and fretted note of a string, three times."
CHOOSE = "Judge the marked takes by ear first; then the meter tells."
METER_TWICE = "Your ear first? ‹by-ear› judges these pairs, then the meter tells. ‹meter› once more shows it now."
CHOOSE_SHIFTED = "Press ‹drill› to drill the very notes of the marked takes, shifted by exact cents."


class OwnScreen(Place):
    """Choose among the recorded takes, and what to do with them.

    Args:
        asked: a take named on the command line, a file or a folder; it comes first.
        shifted: whether its notes were asked for shifted.
    """

    ACTS = OWN
    ABOUT = (
        "Here the ear meets your own instrument. Record the harmonic and the fretted note of a string, judge them by "
        "ear before you see what the meter reads, and drill the very notes, shifted by exact cents."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(OWN)]

    def __init__(self, asked: Path | None = None, *, shifted: bool = False) -> None:
        super().__init__()
        self._asked = asked
        self._choose = CHOOSE_SHIFTED if shifted else CHOOSE
        self._takes: tuple[tuple[Path, str], ...] = ()
        self._asked_twice: Path | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("Your own instrument", classes="title", markup=False)
            yield MarkedList(id="known")
            yield Static("", id="said", markup=False)
            with Horizontal(classes="row"):
                for name, label in BUTTONS:
                    yield Button(self.told(label), id=f"do-{name}", compact=True)
            yield Static(
                "Mute the other strings, tune first. Nothing you record is ever overwritten.",
                classes="caution",
                markup=False,
            )
        yield Footer()

    def on_screen_resume(self) -> None:
        """Show the takes there are; some may just have been recorded. What was asked for with a take is done."""
        self.desk.ask_for(take=None, shifted=False)
        self._list()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.set_focus(None)
        getattr(self, f"action_{(event.button.id or '').removeprefix('do-')}")()

    @on(OptionList.OptionSelected)
    def _clicked(self) -> None:
        self.set_focus(None)

    def action_mark(self, steps: int) -> None:
        """Move the mark."""
        self.query_one(MarkedList).move(steps)

    def action_record(self) -> None:
        """Record new takes."""
        from centwise.tui.record_screen import RecordScreen  # noqa: PLC0415  start-up path

        self.app.push_screen(RecordScreen())

    def action_judge(self) -> None:
        """Judge the pairs of the marked takes as they were played."""
        self._begin(shifted=False)

    def action_drill(self) -> None:
        """Drill the notes of the marked takes, shifted."""
        self._begin(shifted=True)

    def action_meter(self) -> None:
        """Show what the meter reads of the marked takes, once asked twice: the ear is to judge them before."""
        from centwise.tui.meter_screen import MeterScreen  # noqa: PLC0415  start-up path

        path = self._marked()
        if path is not None and path != self._asked_twice:
            self._asked_twice = path
            self.say(METER_TWICE)
        elif path is not None:
            self.app.push_screen(MeterScreen(path))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer what wants takes once there are some."""
        if action in {"judge", "drill", "meter"}:
            return bool(self._takes)
        return super().check_action(action, parameters)

    def action_go_back(self) -> None:
        """Go back to where one came from."""
        self.app.pop_screen()

    def _begin(self, *, shifted: bool) -> None:
        from centwise.tui.drill_screen import DrillScreen  # noqa: PLC0415  start-up path

        path = self._marked()
        if path is not None:
            self.desk.ask_for(take=path, shifted=shifted, string=None)
            self.app.push_screen(DrillScreen())

    def _marked(self) -> Path | None:
        if not self._takes:
            self.say(NONE_YET)
            return None
        return self._takes[self.query_one(MarkedList).place][0]

    @work(group="own", exclusive=True)
    async def _list(self) -> None:
        from centwise.takes.kept import kept_takes  # noqa: PLC0415  loads numpy

        try:
            found = await self.in_turn(partial(kept_takes, self.desk.settings.data_dir))
        except CentwiseError as error:
            self.say(error.sentence)
            return
        first = () if self._asked is None else ((self._asked, f"{plain_text(self._asked.name)[:40]} · as named"),)
        self._takes = (*first, *((path, _line(takes)) for path, takes in found))
        known = self.query_one(MarkedList)
        known.show((line for _path, line in self._takes), mark=known.place)
        known.display = bool(self._takes)
        for name, _label in BUTTONS[1:]:
            self.query_one(f"#do-{name}").display = bool(self._takes)
        self.refresh_bindings()
        self.say(self._choose if self._takes else NONE_YET)


def _line(takes: TakeSet) -> str:
    """Say one set of takes in a line of at most 52 columns."""
    count = len(takes.pairs())
    whole = "no whole take" if count == 0 else counted(count, "take")
    instrument = "" if takes.instrument == DEFAULT_NAME else f" · {plain_text(takes.instrument)[:12]}"
    return f"{local_time(takes.started_at):%Y-%m-%d %H:%M} · string {takes.string} · {whole}{instrument}"
