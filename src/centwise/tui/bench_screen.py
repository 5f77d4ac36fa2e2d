"""The bench: rehearse setting a bridge. Wires keys, buttons, clicks and words to the rehearsal; draws what it says.

Acts are done off the screen's thread, one after the other (`Desk.in_turn`). Imports Textual, tui and below.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.widgets import Button, Footer, Input

from centwise.bench.acts import (
    Act,
    Chime,
    Fret,
    Look,
    Mark,
    Move,
    Mute,
    Open,
    Retune,
    Slide,
    StartOver,
    parse_act,
)
from centwise.bench.cautions import cautions_for
from centwise.bench.told import reckoning_sentences, why_sentence
from centwise.errors import CentwiseError, DeviceError, UsageError
from centwise.holes import hole_sentence
from centwise.tui import bench_words as words
from centwise.tui.acts import BENCH, bindings
from centwise.tui.bench_board import ACTIONS, BenchBoard, BenchPicture
from centwise.tui.bench_drawing import shown_of
from centwise.tui.page_screen import PageScreen
from centwise.tui.place import Place
from centwise.units import parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.bench.machine import Bench
    from centwise.ports import Playback
    from centwise.rehearsal import Answer, Rehearsal
    from centwise.strings.bridge import Side

FRAME_S = 1 / 10


class BenchScreen(Place):
    """One rehearsal.

    Args:
        anew: begin another one even where one was left.
    """

    ACTS = BENCH
    ABOUT = (
        "The bridge was knocked out of its place. Compare harmonic and octave note: bass side by the lowest string of "
        "full length, treble side by the 1st, bass again. Flat, the foot goes forward; sharp, back. Then centre it and "
        "draw the line. Nothing can be hurt here; there is no undo."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(BENCH)]

    def __init__(self, *, anew: bool = False) -> None:
        super().__init__()
        self._anew = anew
        self._rehearsal: Rehearsal | None = None
        self._wanted = True
        self._string = 0
        self._finger: int | None = None
        self._foot: Side = "bass"
        self._amount = words.USUAL_AMOUNT
        self._playback: Playback | None = None
        self._sounding: int | None = None
        self._asked_twice: type[Act] | None = None
        self._expected: tuple[int, int, int | None] | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        yield BenchBoard()
        yield Footer()

    @property
    def board(self) -> BenchBoard:
        """What is shown."""
        return self.query_one(BenchBoard)

    @property
    def bench(self) -> Bench | None:
        """The state of the bench, once there is one."""
        return None if self._rehearsal is None else self._rehearsal.bench

    def on_mount(self) -> None:
        """Set the bench up, and follow what sounds."""
        self.board.show_line(shown=False)
        self.board.caution(words.caution_text(None))
        self.set_interval(FRAME_S, self._follow)
        self._begin()

    def show_busy(self, *, busy: bool) -> None:
        """Say where acts are told that work goes on; while the bench is set up that is said already."""
        if self._rehearsal is not None or not busy:
            self.board.busy(busy=busy)

    def on_unmount(self) -> None:
        """Stop the sound with the screen."""
        self._wanted = False
        if self._rehearsal is not None:
            self._rehearsal.close()

    # -- acts of the bench -----------------------------------------------------------------------------------------

    def action_chime(self) -> None:
        """Touch the chosen string and pluck."""
        self._do(Chime(self._string, self._finger))

    def action_fret(self) -> None:
        """Press the chosen string and pluck."""
        self._do(Fret(self._string, self._finger))

    def action_open(self) -> None:
        """Pluck the chosen string open."""
        self._do(Open(self._string))

    def action_mute(self) -> None:
        """Mute the other strings, or let them ring."""
        if self.bench is not None:
            self._do(Mute(not self.bench.muted))

    def action_retune(self) -> None:
        """Bring every string to pitch."""
        self._do(Retune())

    def action_move(self, way: str) -> None:
        """Move the chosen foot."""
        amount = words.AMOUNTS[self._amount]
        self._do(Move(self._foot, "forward" if way == "forward" else "back", parse_length_mm(amount), amount))

    def action_slide(self, toward: str) -> None:
        """Slide the bridge sideways."""
        amount = words.AMOUNTS[self._amount]
        self._do(Slide("treble" if toward == "treble" else "bass", parse_length_mm(amount), amount))

    def action_margins(self) -> None:
        """Look at the edges of the fingerboard."""
        self._do(Look())

    def action_mark(self) -> None:
        """Draw the pencil line, once asked twice: it ends the rehearsal."""
        self._once_more(Mark(), words.MARK_TWICE)

    def action_start_over(self) -> None:
        """Put the bridge back where it was found, once asked twice: there is no undo."""
        self._once_more(StartOver(), words.RESET_TWICE)

    def _once_more(self, act: Act, asking: str) -> None:
        if self._asked_twice is type(act):
            self._do(act)
        else:
            self._asked_twice = type(act)
            self.board.say(asking)

    # -- choices and pages -----------------------------------------------------------------------------------------

    def action_string(self, steps: int) -> None:
        """Choose the string above or below in the picture."""
        if self.bench is not None:
            numbers = sorted(self.bench.setting.instrument.numbers)
            place = min(max(numbers.index(self._string) + steps, 0), len(numbers) - 1)
            self._choose(numbers[place])

    def action_choose(self, number: int) -> None:
        """Choose a string by its number."""
        if self.bench is not None and number in self.bench.setting.instrument.numbers:
            self._choose(number)

    def action_finger(self, steps: int) -> None:
        """Put the finger a fret lower or higher; no steps put it back at the octave fret."""
        bench = self.bench
        if bench is None:
            return
        spec = bench.setting.instrument.string(self._string)
        here = (spec.octave_fret if self._finger is None else self._finger) + steps
        here = min(max(here, spec.start_fret + 1), bench.setting.instrument.neck.frets)
        self._finger = None if steps == 0 or here == spec.octave_fret else here
        self._show()

    def action_foot(self) -> None:
        """Choose the other foot."""
        self._foot = "treble" if self._foot == "bass" else "bass"
        self._show()

    def action_amount(self, steps: int) -> None:
        """Choose a smaller or larger amount."""
        self._amount = min(max(self._amount + steps, 0), len(words.AMOUNTS) - 1)
        self._show()

    def action_why(self) -> None:
        """Say why; after the mark, the whole reckoning."""
        rehearsal = self._rehearsal
        if rehearsal is None:
            return
        if rehearsal.result is not None:
            heard = rehearsal.bench.plan.heard
            said = reckoning_sentences(rehearsal.result, rehearsal.instrument, heard=heard)
            self._open_page("why", "The reckoning", said)
        else:
            self._open_page("why", "Why", [why_sentence(rehearsal.bench)])

    def action_cautions(self) -> None:
        """Say what to mind at a real instrument."""
        instrument = None if self._rehearsal is None else self._rehearsal.instrument
        self._open_page("cautions", "At a real instrument", cautions_for(instrument))

    def _open_page(self, act_id: str, title: str, sentences: Sequence[str]) -> None:
        """Show a page that the keys of an act close too, beside those of help."""
        keys = next((act.keys for act in self.acts_here() if act.id == act_id), ())
        self.app.push_screen(PageScreen(title, sentences, keys))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer the line for words while it is closed."""
        if action == "word":
            return not self.board.line_open
        return super().check_action(action, parameters)

    def action_word(self) -> None:
        """Open the line for acts in words."""
        self.board.show_line(shown=True)

    def action_leave(self) -> None:
        """Leave the bench; from the word line, close the line instead."""
        if self.board.line_open:
            self.board.show_line(shown=False)
        else:
            self._wanted = False
            self.app.pop_screen()

    # -- buttons, clicks and words ---------------------------------------------------------------------------------

    @on(Button.Pressed)
    async def _pressed(self, event: Button.Pressed) -> None:
        self.set_focus(None)
        await self.run_action(ACTIONS[event.button.id or ""])

    @on(BenchPicture.StringChosen)
    def _string_clicked(self, event: BenchPicture.StringChosen) -> None:
        self._choose(event.string)

    @on(BenchPicture.FootChosen)
    def _foot_clicked(self, event: BenchPicture.FootChosen) -> None:
        self._foot = event.foot
        self._show()

    @on(Input.Submitted, "#bench-word")
    def _spoken(self, event: Input.Submitted) -> None:
        text = " ".join(event.value.lower().split())
        event.input.value = ""
        others: dict[str, Callable[[], object]] = {
            "why": self.action_why,
            "cautions": self.action_cautions,
            "volume": self.action_volume,
            "help": partial(self._open_page, "help", "Acts in words", words.HELP),
        }
        if text in {"quit", "q"}:
            self.board.show_line(shown=False)
            self.action_leave()
        elif text in others:
            others[text]()
        elif text:
            try:
                self._do(parse_act(text))
            except UsageError as error:
                self.board.say(words.refused_text(error))

    # -- showing ---------------------------------------------------------------------------------------------------

    def _choose(self, number: int) -> None:
        if number != self._string:
            self._string, self._finger = number, None
            self._show()

    def _show(self) -> None:
        """Draw what there is; nothing of where the bridge belongs until its feet are marked."""
        bench = self.bench
        if bench is None:
            return
        spec = bench.setting.instrument.string(self._string)
        finger = spec.octave_fret if self._finger is None else self._finger
        self.board.status(words.status_line(bench, self._string, finger, self._foot, words.AMOUNTS[self._amount]))
        self._expect(bench)
        self.board.draw(shown_of(bench, chosen=self._string, foot=self._foot, sounding=self._sounding))

    def _expect(self, bench: Bench) -> None:
        """Have the chosen string's sounds prepared: after its harmonic the fretted note first, else the harmonic."""
        here = (bench.acts, self._string, self._finger)
        if self._rehearsal is None or self._expected == here:
            return
        self._expected = here
        chime, fret = Chime(self._string, self._finger), Fret(self._string, self._finger)
        first = (fret, chime) if isinstance(bench.last, Chime) else (chime, fret)
        self._rehearsal.expect(*first, Open(self._string))

    def _answered(self, answer: Answer) -> None:
        bench = self.bench
        if bench is None:
            return
        if answer.heard is not None:
            self._playback, self._sounding = answer.heard.playback, answer.heard.tone.act.string
        self.board.say(words.answer_text(answer, bench))
        self.board.advise(*words.advice_texts(bench))
        due = answer.listened_min
        self.board.caution(words.caution_text(answer) if due is None else words.ears_text(due))
        self._show()
        if answer.result is not None:
            self.in_front(self.action_why)

    def _follow(self) -> None:
        """Notice when a sound has ended, or its device went away."""
        if self._playback is None:
            return
        try:
            over = self._playback.wait(0.0)
        except DeviceError as error:
            self._playback = self._sounding = None
            self._trouble(error, self._show)
            return
        if (lost_s := None if self._rehearsal is None else self._rehearsal.hole_s()) is not None:
            self.board.say(hole_sentence(lost_s, "the tone", again=False, ask="do the same once more"))
        if over:
            self._playback = self._sounding = None
            self._show()

    def _trouble(self, error: CentwiseError, retry: Callable[[], object]) -> None:
        """Tell an error and wait; `retry` does again what failed."""
        begun = self._rehearsal is not None
        self.ask_about_trouble(
            error,
            kept=words.ALL_KEPT if begun else words.NOT_BEGUN,
            begun=begun,
            retry=retry,
            leave=self._stay if begun else self.app.pop_screen,
        )

    def _stay(self) -> None:
        """Stay at the bench: what failed has not been done."""

    # -- off the screen's thread -----------------------------------------------------------------------------------

    @work(group="bench")
    async def _begin(self) -> None:
        try:
            opened = await self.in_turn(partial(self.desk.open_rehearsal, lambda: self._wanted, anew=self._anew))
        except CentwiseError as error:
            self._trouble(error, self._begin)
            return
        if opened is None:
            return
        self._rehearsal, taken_up = opened
        self._string = self._rehearsal.instrument.bass_string
        self.board.say(words.opening_text(self._rehearsal.bench, taken_up=taken_up))
        self.board.advise(*words.advice_texts(self._rehearsal.bench))
        self._show()

    @work(group="bench")
    async def _do(self, act: Act) -> None:
        self._asked_twice = None
        if self._rehearsal is None:
            return
        try:
            answer = await self.in_turn(partial(self._rehearsal.do, act))
        except UsageError as error:
            self.board.say(error.sentence)
        except CentwiseError as error:
            self._trouble(error, partial(self._do, act))
        else:
            self._answered(answer)
