"""What to practise next: string, number of pairs, drill or assessment. Imports Textual, tui and below."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Static

from centwise.errors import CentwiseError
from centwise.planning import ASSESSMENT_TRIALS, DRILL_TRIALS
from centwise.practice import BASS_STRING
from centwise.resuming import left_text
from centwise.tui.acts import BLOCK, bindings
from centwise.tui.place import Place, plain_text, shown_name
from centwise.tui.string_words import about_string, string_name, string_order, whose
from centwise.units import counted

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.planning import BlockRequest
    from centwise.strings.instrument import Instrument

TRIAL_CHOICES = (10, 20, 40, 60, 80, 100, 150, 200)
PAIR_S = 9.0
"""How long a pair takes with its answer and feedback (a judgement: 40 in about six minutes)."""
STRING_KEYS = range(1, 10)


class BlockScreen(Place):
    """Choose the next block."""

    ACTS = BLOCK
    ABOUT = (
        "A block is a row of pairs to judge: the harmonic, then the fretted note. A drill explains each answer; "
        "an assessment tells nothing until its end. Short blocks of six to eight minutes teach most."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(BLOCK)]

    def __init__(self) -> None:
        super().__init__()
        self._string: int | None = None
        self._offered = False
        self._trials_of_kind: dict[bool, int | None] = {}

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("", classes="title", id="who", markup=False)
            yield Static("", classes="lead", id="summary", markup=False)
            with Horizontal(classes="row", id="strings"):
                for number in STRING_KEYS:
                    yield Button("", id=f"string-{number}", compact=True)
            yield Static("", id="about-string", markup=False)
            with Horizontal(classes="row"):
                yield Button(self.told("«fewer» fewer"), id="fewer", compact=True)
                yield Button(self.told("«more» more"), id="more", compact=True)
                yield Button(self.told("«kind» kind"), id="kind", compact=True)
                yield Button(self.told("«lessons» lessons"), id="lessons", compact=True)
                yield Button(self.told("«instrument» instrument"), id="instrument", compact=True)
            with Horizontal(classes="row"):
                yield Button(self.told("«begin» begin"), id="start", variant="primary", compact=True)
                yield Button(self.told("«go-on» go on"), id="go_on", compact=True)
                yield Button(self.told("«volume» volume"), id="volume", compact=True)
                yield Button(self.told("«progress» progress"), id="progress", compact=True)
                yield Button(self.told("«own» your own"), id="own", compact=True)
                yield Button(self.told("«bench» bench"), id="bench", compact=True)
            yield Static(
                "At the instrument: keep your face away and make small moves; if unsure, ask a repair shop.",
                classes="caution",
                markup=False,
            )
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_screen_resume(self) -> None:
        """Show what the next block would be; after a block the other side of the bridge has its turn."""
        self._check_string()
        self._show()
        self._show_left()
        if (take := self.desk.request.take) is not None:
            # Asked for on the command line: its place is one's own instrument.
            from centwise.tui.own_screen import OwnScreen  # noqa: PLC0415  start-up path

            shifted = self.desk.request.shifted
            self.desk.ask_for(take=None, shifted=False)
            self.app.push_screen(OwnScreen(take, shifted=shifted))

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        name = event.button.id or ""
        self.set_focus(None)
        if name.startswith("string-"):
            self.action_string(int(name.removeprefix("string-")))
        else:
            getattr(self, f"action_{name}")()

    def action_string(self, number: int) -> None:
        """Practise on that string."""
        with self.telling():
            self.desk.instrument.string(number)
            self.say("")
            self._leave_lesson()
            self._string = number
            self._show()

    def action_instrument(self) -> None:
        """Choose the instrument."""
        from centwise.tui.instrument_screen import InstrumentScreen  # noqa: PLC0415  start-up path

        self.say("")
        self.app.push_screen(InstrumentScreen(), self._instrument_chosen)

    def _instrument_chosen(self, another: bool | None) -> None:
        if another:
            # What was said of a string that only the other one has.
            self.say("")
            self._leave_lesson()
            self._string = None
            self._show()

    def action_fewer(self) -> None:
        """Ask for fewer pairs."""
        self._leave_lesson()
        self.desk.ask_for(trials=max((n for n in TRIAL_CHOICES if n < self._trials()), default=self._trials()))
        self._show()

    def action_more(self) -> None:
        """Ask for more pairs."""
        self._leave_lesson()
        self.desk.ask_for(trials=min((n for n in TRIAL_CHOICES if n > self._trials()), default=self._trials()))
        self._show()

    def action_kind(self) -> None:
        """Change between a drill and an assessment; each has its own length, the usual or the one asked for."""
        self._leave_lesson()
        request = self.desk.request
        self._trials_of_kind[request.assess] = request.trials
        self.desk.ask_for(assess=not request.assess, trials=self._trials_of_kind.get(not request.assess))
        self._show()

    def action_lessons(self) -> None:
        """Take a lesson, or leave it."""
        from centwise.tui.lesson_screen import LessonScreen  # noqa: PLC0415  start-up path

        self.say("")
        self.app.push_screen(LessonScreen())

    def action_progress(self) -> None:
        """See how the threshold has moved."""
        from centwise.tui.progress_screen import ProgressScreen  # noqa: PLC0415  loads the drawing of charts

        if self.desk.listener is not None:
            self.app.push_screen(ProgressScreen(self.desk.listener))

    def action_own(self) -> None:
        """Go to one's own instrument."""
        from centwise.tui.own_screen import OwnScreen  # noqa: PLC0415  start-up path

        self.say("")
        self.app.push_screen(OwnScreen())

    def action_bench(self) -> None:
        """Go to the bench."""
        from centwise.tui.bench_choice_screen import BenchChoiceScreen  # noqa: PLC0415  start-up path

        self.app.push_screen(BenchChoiceScreen())

    def action_start(self) -> None:
        """Begin the block."""
        from centwise.tui.drill_screen import DrillScreen  # noqa: PLC0415  start-up path

        self.desk.ask_for(string=self._string)
        self._string = None
        self.desk.go_on(wanted=False)
        self.app.push_screen(DrillScreen())

    def action_go_on(self) -> None:
        """Go on with the block that was cut off."""
        from centwise.tui.drill_screen import DrillScreen  # noqa: PLC0415  start-up path

        with self.telling():
            if self.desk.block_left() is not None:
                self.desk.go_on()
                self.app.push_screen(DrillScreen())

    def action_go_back(self) -> None:
        """Go back to the listeners."""
        self.app.pop_screen()

    def _check_string(self) -> None:
        """Say so where a string was asked for that the listener's instrument has not, and ask for none."""
        if (asked := self.desk.request.string) is not None:
            try:
                self.desk.instrument.string(asked)
            except CentwiseError as error:
                self.desk.ask_for(string=None)
                self.say(error.sentence)

    def _leave_lesson(self) -> None:
        """What is chosen by hand is no block of the lesson any more."""
        if self.desk.lesson is not None:
            self.say(f"Left the lesson {self.desk.lesson.title}: ‹lessons› takes it up again where you stand.")
            self.desk.lesson = None

    def _trials(self) -> int:
        return self.desk.request.trials or (ASSESSMENT_TRIALS if self.desk.request.assess else DRILL_TRIALS)

    def _show(self) -> None:
        request, told = self._next()
        trials = request.trials or self._trials()
        if request.assess:
            kind, other = "an assessment, nothing told until its end", "drill"
        else:
            kind, other = "a drill, each answer explained", "assess"
        self.query_one("#kind", Button).label = self.told(f"«kind» {other}")
        listener = self.desk.listener
        name = shown_name(listener.name) if listener is not None else ""
        minutes = max(1, round(trials * PAIR_S / 60))
        self.query_one("#who", Static).update(f"{name}, your next block")
        instrument = self._instrument(request.instrument)
        string = request.string or BASS_STRING
        of_it = "" if instrument is None else plain_text(whose(instrument))
        self.query_one("#summary", Static).update(
            f"{trials} pairs on string {string}{of_it}, about {counted(minutes, 'minute')}: {kind}."
            f"{self._before(request)}"
        )
        if instrument is not None and not told:
            with self.telling():
                told = about_string(instrument, string)
        self.query_one("#about-string", Static).update(told)
        self._show_strings(instrument, string)

    def _before(self, request: BlockRequest) -> str:
        """Say which pairs come first; nothing where none do."""
        try:
            count = self.desk.pairs_before(request)
        except CentwiseError as error:
            self.say(error.sentence)
            return ""
        if not count:
            return ""
        return f" {count} more come{'s' if count == 1 else ''} first that do{'es' if count == 1 else ''} not count."

    def _instrument(self, name: str) -> Instrument | None:
        try:
            return self.desk.services.instruments.named(name)
        except CentwiseError as error:
            self.say(f"{error.sentence} ‹instrument›: choose another instrument.")
            return None

    def _show_strings(self, instrument: Instrument | None, string: int) -> None:
        """Offer the strings there are, from the bass side to the treble side."""
        order = () if instrument is None else string_order(instrument)
        row = self.query_one("#strings")
        for number in STRING_KEYS:
            button = self.query_one(f"#string-{number}", Button)
            button.display = number in order
            if instrument is not None and number in order:
                button.label = f"{'● ' if number == string else ''}{string_name(instrument.string(number))}"
        places = {f"string-{number}": place for place, number in enumerate(order)}
        row.sort_children(key=lambda button: places.get(button.id or "", len(STRING_KEYS)))

    def _show_left(self) -> None:
        """Offer to go on with a block that was cut off."""
        try:
            left = self.desk.block_left()
        except CentwiseError as error:
            left = None
            self.say(error.sentence)
        self.query_one("#go_on", Button).display = left is not None
        # One row holds so many buttons at 60 columns; the footer keeps the other's place.
        self.query_one("#progress", Button).display = left is None
        if left is not None:
            self.say(left_text(left, "‹go-on›"))
        elif self._offered:
            self.say("")
        self._offered = left is not None

    def _next(self) -> tuple[BlockRequest, str]:
        """Return the block that comes next, and what the lesson says of it."""
        from centwise.lessons.lesson import local_day  # noqa: PLC0415  start-up path
        from centwise.lessons.telling import stand_sentences  # noqa: PLC0415

        try:
            stand = self.desk.standpoint()
            if stand is not None:
                told = " ".join(stand_sentences(stand, local_day(self.desk.services.clock.now())))
                return stand.request(self.desk.request), plain_text(told)
            if self._string is None:
                self._string = self.desk.usual_string()
        except CentwiseError as error:
            self._string = BASS_STRING
            self.say(error.sentence)
        return replace(self.desk.request, string=self._string), ""
