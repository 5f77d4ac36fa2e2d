"""Record takes of a string: level, count-in, and of each note whether it will do.

One thread holds the microphone from the screen's opening to its end (`microphone`). It posts what happens; the level is
looked at as often as it is drawn. Imports Textual, tui and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Literal

from textual import on, work
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Static

from centwise.errors import CentwiseError
from centwise.tui import record_words as words
from centwise.tui.acts import RECORD, bindings
from centwise.tui.microphone import Microphone, Wish
from centwise.tui.place import Place
from centwise.units import counted

if TYPE_CHECKING:
    from pathlib import Path

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Tone
    from centwise.strings.instrument import Instrument
    from centwise.takes.folder import FileKind
    from centwise.takes.session import Judged, RecordingRequest

Phase = Literal["opening", "ready", "recording", "over", "trouble"]

FRAME_S = 1 / 12
BUTTONS = (
    ("begin", "«begin» begin"),
    ("fewer", "«fewer» fewer"),
    ("more", "«more» more"),
    ("judge", "«begin» judge by ear"),
    ("meter", "«meter» meter"),
    ("retry", "«try-again» try again"),
)
LEADS: dict[Phase, str] = {"ready": "Begin", "over": "By ear", "trouble": "Try again"}
"""What enter does in a phase; in the others it does nothing."""
SHOWN: dict[Phase, tuple[str, ...]] = {
    "opening": (),
    "ready": ("begin", "fewer", "more"),
    "recording": (),
    "over": ("judge", "meter"),
    "trouble": ("retry",),
}


class RecordScreen(Place):
    """Records takes of one string.

    Args:
        request: how many takes to begin with, and into which kind of file; None for the usual.
    """

    ACTS = RECORD
    ABOUT = (
        "The harmonic and the fretted note are asked for by turns, each after a count of three, so both hands stay "
        "free. A note that will not do is asked for again. Every note is kept."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(RECORD)]

    def __init__(self, request: RecordingRequest | None = None) -> None:
        super().__init__()
        self._phase: Phase = "opening"
        self._kind: FileKind = "wav" if request is None else request.kind
        self._takes = 3 if request is None else request.takes
        self._string = 0
        self._instrument: Instrument | None = None
        self._microphone: Microphone | None = None
        self._judged: list[Judged] = []
        self._asked: tuple[int, Tone] | None = None
        self._sounding = False
        self._may_pluck = False
        self._path: Path | None = None
        self._meter_asked = False
        self._held_dbfs = -math.inf

    def compose(self) -> ComposeResult:
        """Lay out the screen; 18 rows hold it."""
        with Vertical(classes="page", id="record"):
            yield Static("", classes="title", id="what", markup=False)
            yield Static("", id="do", markup=False)
            yield Static("", id="count", markup=False)
            yield Static(words.meter_text(-math.inf, -math.inf), id="gauge", markup=False)
            yield Static("", id="rows", markup=False)
            yield Static(words.OPENING, id="said", markup=False)
            with Horizontal(classes="row", id="buttons"):
                for name, label in BUTTONS:
                    yield Button(self.told(label), id=f"do-{name}", compact=True)
        yield Footer()

    def on_mount(self) -> None:
        """Open the microphone, and keep the level moving."""
        try:
            self._instrument = self.desk.instrument.with_scale(self.desk.scale_mm())
            self._string = self.desk.usual_string()
        except CentwiseError as error:
            self._phase = "trouble"
            self.say(error.sentence)
            self._show()
            return
        if self._string not in self._instrument.numbers:
            self._string = self._instrument.bass_string
        self._microphone = Microphone(self.desk.services, self.desk.settings.data_dir, self._kind, self.post_message)
        self.set_interval(FRAME_S, self._draw_level)
        self._show()
        self._listen()

    def on_unmount(self) -> None:
        """Let the microphone go with the screen."""
        self._let_go()

    # -- acts ------------------------------------------------------------------------------------------------------

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to begin only where something can."""
        if action == "begin":
            return self._phase in LEADS
        return super().check_action(action, parameters)

    def action_string(self, number: int) -> None:
        """Record that string, before a session begins."""
        if self._phase in {"opening", "ready"} and self._instrument is not None and number in self._instrument.numbers:
            self._string = number
            self._judged.clear()
            self._show()

    def action_fewer(self) -> None:
        """Ask for fewer takes."""
        self._change_takes(-1)

    def action_more(self) -> None:
        """Ask for more takes."""
        self._change_takes(1)

    def action_begin(self) -> None:
        """Begin; once it is over, judge the takes by ear."""
        if self._phase == "ready" and self._microphone is not None and self._instrument is not None:
            self._judged.clear()
            self._phase = "recording"
            self._microphone.begin(Wish(self._instrument, self._string, self._takes))
            self._show()
        elif self._phase == "over":
            self.action_judge()
        elif self._phase == "trouble":
            self.action_retry()

    def action_judge(self) -> None:
        """Judge the takes by ear, before the meter tells."""
        from centwise.tui.drill_screen import DrillScreen  # noqa: PLC0415  start-up path

        if self._phase == "over" and self._path is not None:
            self.desk.ask_for(take=self._path, shifted=False, string=None)
            self.app.switch_screen(DrillScreen())

    def action_meter(self) -> None:
        """See what the meter reads, once asked twice: the ear is to judge before."""
        from centwise.tui.meter_screen import MeterScreen  # noqa: PLC0415  start-up path

        if self._phase != "over" or self._path is None:
            return
        if self._meter_asked:
            self.app.switch_screen(MeterScreen(self._path))
        else:
            self._meter_asked = True
            self.say(words.METER_TWICE)

    def action_retry(self) -> None:
        """Open the microphone once more."""
        if self._phase == "trouble" and self._instrument is None:
            self._phase = "opening"
            self.on_mount()
        elif self._phase == "trouble":
            self._phase = "opening"
            self.say(words.OPENING)
            self._show()
            self._listen()

    def action_go_back(self) -> None:
        """Stop and go back; what was recorded stays."""
        self._let_go()
        self.app.pop_screen()

    def _let_go(self) -> None:
        if self._microphone is not None:
            self._microphone.stop()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        self.set_focus(None)
        getattr(self, f"action_{(event.button.id or '').removeprefix('do-')}")()

    # -- what comes from the microphone's thread -----------------------------------------------------------------

    @on(Microphone.Opened)
    def _opened(self, event: Microphone.Opened) -> None:
        from centwise.takes.telling import is_monitor  # noqa: PLC0415  start-up path

        if self._phase == "opening":
            self._phase = "ready"
            heed = words.MONITOR if is_monitor(event.device) else words.LISTENING
            self.say(f"Microphone: {event.device[:44]}. {heed}")
            self._show()

    @on(Microphone.Happened)
    def _happened(self, event: Microphone.Happened) -> None:
        from centwise.takes.session import Asked, Counting, Heard, Judged, PluckNow  # noqa: PLC0415  start-up path

        match event.happening:
            case Asked(take=take, tone=tone, attempt=attempt):
                self._asked = (take, tone)
                if attempt == 1 and tone == "harmonic" and take == 1:
                    self.say("")
                self._show()
                self._count("")
            case Counting(left=left):
                self._count(words.count_text(left))
            case PluckNow():
                self._may_pluck = True
                self._count(words.PLUCK)
            case Heard(sounding=sounding):
                if self._may_pluck and sounding != self._sounding:
                    self._count(words.SOUNDING if sounding else words.PLUCK)
                self._sounding = sounding
            case Judged():
                self._may_pluck = self._sounding = False
                self._tell(event.happening)
            case _:
                pass

    @on(Microphone.Ended)
    def _ended(self, event: Microphone.Ended) -> None:
        self._asked = None
        self._count("")
        if event.error is not None:
            self._phase = "trouble"
            kept = "" if event.path is None else f" {words.STAYS}"
            self.say(f"{event.error.sentence}{kept}")
        elif event.pairs and event.path is not None:
            self._phase, self._path, self._meter_asked = "over", event.path, False
            self.say(words.ALL_KEPT)
        else:
            self._phase = "ready"
            last = self._judged[-1] if self._judged else None
            self.say(words.NOT_ONE if last is None else f"{self._quality(last)}. {words.NOT_ONE}")
        self._show()

    @work(thread=True, group="microphone")
    def _listen(self) -> None:
        """Hold the microphone until the screen has gone or the device fails; runs in a thread of its own."""
        if self._microphone is not None:
            self._microphone.hold()

    # -- showing ---------------------------------------------------------------------------------------------------

    def _show(self) -> None:
        for name, _label in BUTTONS:
            self.query_one(f"#do-{name}", Button).display = name in SHOWN[self._phase]
        self.call_act("begin", LEADS.get(self._phase, "Begin"))
        if self._instrument is None:
            return
        from centwise.takes.telling import asking_text  # noqa: PLC0415  start-up path

        spec = self._instrument.string(self._string)
        self.query_one("#what", Static).update(f"Record string {spec.number}, {spec.note}")
        numbers, takes = self._instrument.numbers, counted(self._takes, "take")
        if self._asked is not None:
            take, tone = self._asked
            do = f"Take {take} of {self._takes}, {words.NAMES[tone]}: {asking_text(tone, spec)}."
        elif self._phase == "over":
            do = f"{takes} of string {spec.number} {'is' if self._takes == 1 else 'are'} recorded."
        else:
            do = (
                f"{takes}; {numbers[0]} to {numbers[-1]} choose the string. Tune, and mute the other strings with a "
                "cloth. After each count pluck once, and let it ring."
            )
        self.query_one("#do", Static).update(do)
        self.query_one("#rows", Static).update(words.rows_text(self._takes, self._judged, self._asked))

    def _tell(self, judged: Judged) -> None:
        self._judged.append(judged)
        name = words.NAMES[judged.asked.tone].capitalize()
        again = "" if judged.quality.good else " Once more, please." if not judged.given_up else ""
        self.say(f"{name}: {self._quality(judged)}.{again}")
        self._show()

    def _quality(self, judged: Judged) -> str:
        from centwise.takes.telling import quality_text  # noqa: PLC0415  start-up path

        if self._instrument is None:
            return ""
        return quality_text(judged.quality, judged.asked.tone, self._instrument.string(self._string))

    def _draw_level(self) -> None:
        level_dbfs = None if self._microphone is None else self._microphone.level_dbfs()
        if level_dbfs is None:
            if self._held_dbfs == -math.inf:
                return
            level_dbfs = self._held_dbfs = -math.inf
        else:
            self._held_dbfs = words.held_level(self._held_dbfs, level_dbfs, FRAME_S)
        self.query_one("#gauge", Static).update(words.meter_text(level_dbfs, self._held_dbfs))

    def _change_takes(self, steps: int) -> None:
        from centwise.takes.session import MOST_TAKES  # noqa: PLC0415  loads numpy

        if self._phase in {"opening", "ready"}:
            self._takes = min(max(self._takes + steps, 1), MOST_TAKES)
            self._show()

    def _count(self, text: str) -> None:
        self.query_one("#count", Static).update(text)
