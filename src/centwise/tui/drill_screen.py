"""The drill: hear a pair, judge it, learn the truth. Wires keys, buttons and words to the sitting; draws what it says.

Sounding and keeping run in workers, one at a time; what they bring comes back as a call on the screen's own thread.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar, Literal, cast

from textual import on, work
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Input, ProgressBar, Static

from centwise.drill.words import Feedback
from centwise.errors import CentwiseError, DeviceError
from centwise.model import JUDGEMENTS, SIGNS, TONES, Judgement, Tone
from centwise.tui.acts import DRILL, bindings
from centwise.tui.drill_words import asking_text, told_text, word_act
from centwise.tui.pictures import LeanPicture, StringPicture
from centwise.tui.place import Place

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.timer import Timer

    from centwise.conductor import Part, Sitting, Sounding, Taken
    from centwise.drill.words import Noted
    from centwise.model import PairSound
    from centwise.ports import Playback

Phase = Literal["opening", "asking", "keeping", "told", "trouble", "over"]

FEEDBACK_S = 2.5
"""How long the truth stands before the next pair begins by itself; hearing something again stops that."""
FRAME_S = 1 / 12
SWING_FALL_S = 0.9


class DrillScreen(Place):
    """One block."""

    ACTS = DRILL
    ABOUT = (
        "You hear the harmonic and the note fretted at the octave. Say whether the fretted note is flat (lower), "
        "in unison, or sharp (higher). Flat, the bridge would go forward, toward the neck; sharp, back."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(DRILL)]

    def __init__(self) -> None:
        super().__init__()
        self._phase: Phase = "opening"
        self._sitting: Sitting | None = None
        self._heard: tuple[PairSound, Part, Playback] | None = None
        self._next_timer: Timer | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(id="drill"):
            with Horizontal(id="top"):
                yield Static("", id="where", markup=False)
                yield ProgressBar(total=1, show_eta=False, show_percentage=False, id="bar")
            yield StringPicture()
            yield Static("One moment: the first pair is being made.", id="asked", markup=False)
            yield LeanPicture()
            yield Static("", id="told", markup=False)
            with Horizontal(id="answers"):
                for word in JUDGEMENTS:
                    yield Button(f"{word[0]}  {SIGNS[word]} {word}", id=word, classes="answer")
            with Horizontal(id="hear"):
                yield Button("a again", id="again", compact=True)
                yield Button("h harmonic", id="harmonic", compact=True)
                yield Button("t fretted", id="fretted", compact=True)
                yield Button("⏎ next", id="next", compact=True)
            yield Input(placeholder="flat, unison, sharp, again, harmonic, fretted, quit", id="word")
        yield Footer()

    def on_mount(self) -> None:
        """Begin the block, and keep the drawing moving."""
        self.query_one("#word", Input).display = False
        self.set_interval(FRAME_S, self._draw_sounding)
        self._open()

    def on_unmount(self) -> None:
        """Stop the sound with the screen."""
        if self._sitting is not None:
            self._sitting.close()

    # -- acts ------------------------------------------------------------------------------------------------------

    def action_answer(self, word: str) -> None:
        """Judge the present pair."""
        if self._phase != "asking":
            return
        self._phase = "keeping"
        self._keep(cast("Judgement", word))

    def action_again(self) -> None:
        """Hear the pair again."""
        self._hear("pair")

    def action_alone(self, tone: str) -> None:
        """Hear one tone alone."""
        self._hear(cast("Tone", tone))

    def action_next(self) -> None:
        """Go to the next pair at once."""
        if self._phase == "told":
            self._ask()

    def action_word(self) -> None:
        """Open the line for an answer in a word."""
        line = self.query_one("#word", Input)
        line.display = True
        line.value = ""
        line.focus()

    def action_volume(self) -> None:
        """Set the listening level; the next pair waits."""
        from centwise.tui.level_screen import LevelScreen  # noqa: PLC0415  start-up path

        self._hold()
        self.app.push_screen(LevelScreen())

    def action_leave(self) -> None:
        """End the block here; from the word line, close the line instead."""
        line = self.query_one("#word", Input)
        if line.display:
            self._close_line()
            return
        if self._sitting is None or self._phase == "keeping":
            if self._phase == "opening":
                self.app.pop_screen()
            return
        self._hold()
        self._phase = "over"
        self._leave()

    # -- what comes in ---------------------------------------------------------------------------------------------

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        name = event.button.id or ""
        self.set_focus(None)
        if name in JUDGEMENTS:
            self.action_answer(name)
        elif name == "again":
            self.action_again()
        elif name == "next":
            self.action_next()
        else:
            self.action_alone(name)

    @on(Input.Submitted, "#word")
    async def _spoken(self, event: Input.Submitted) -> None:
        act = word_act(event.value)
        self._close_line()
        if act is None:
            self._say(f"{event.value.strip()[:40]!r} is no word here: flat, unison, sharp, again, quit.")
            return
        await self.run_action(act)

    def _opened(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.query_one(ProgressBar).update(total=sitting.drill.total, progress=0)
        self._ask()

    def _sounds(self, heard: Sounding) -> None:
        self._heard = (heard.pair, heard.part, heard.playback)
        if self._phase == "opening":
            self._phase = "asking"
            self._say(asking_text(heard.spec))

    def _kept(self, taken: Taken) -> None:
        sitting = self._sitting
        if sitting is None or taken.told is None:
            return
        self.query_one(ProgressBar).update(progress=len(sitting.drill.trials))
        self._tell(taken.told)
        if taken.result is not None:
            self._phase = "over"
            pause_s = FEEDBACK_S if isinstance(taken.told, Feedback) else 0.0
            self._next_timer = self.set_timer(max(pause_s, FRAME_S), self._show_result)
            return
        self._phase = "told"
        if isinstance(taken.told, Feedback):
            self._next_timer = self.set_timer(FEEDBACK_S, self._ask)
        else:
            self._ask()

    def _failed(self, error: CentwiseError) -> None:
        from centwise.tui.trouble_screen import TroubleScreen  # noqa: PLC0415  rarely needed

        self._hold()
        self._heard = None
        self._phase = "trouble"
        self.app.push_screen(TroubleScreen(error, may_go_silent=self._sitting is None), self._after_trouble)

    def _after_trouble(self, choice: str | None) -> None:
        if choice == "leave":
            if self._sitting is None:
                self.app.pop_screen()
            else:
                self._phase = "over"
                self._leave()
            return
        if choice == "silent":
            self.desk.go_silent()
        self._phase = "opening"
        if self._sitting is None:
            self._open()
        else:
            self._sound("pair", again=False)

    # -- showing ---------------------------------------------------------------------------------------------------

    def _ask(self) -> None:
        sitting = self._sitting
        if sitting is None or sitting.drill.pair is None:
            return
        self._hold()
        spec = sitting.drill.pair
        plan = sitting.drill.plan
        self.query_one("#where", Static).update(
            f"String {plan.condition.string} · pair {spec.n} of {sitting.drill.total}"
        )
        self._phase = "opening"
        self.query_one("#told", Static).update("")
        self.query_one(StringPicture).advise(None)
        self.query_one(LeanPicture).show(None, None)
        self._sound("pair", again=False)

    def _tell(self, told: Feedback | Noted) -> None:
        said = self.query_one("#told", Static)
        said.update(told_text(told))
        if isinstance(told, Feedback):
            said.set_class(told.trial.correct, "right")
            said.set_class(not told.trial.correct, "wrong")
            self.query_one(StringPicture).advise(told.travel.direction)
            self.query_one(LeanPicture).show(told.trial.offset_cents, told.trial.answer)
            self._say("Press enter to go on, or a to hear this pair again.")
        else:
            self.query_one(LeanPicture).show(None, told.answer)

    def _show_result(self) -> None:
        from centwise.tui.result_screen import ResultScreen  # noqa: PLC0415  loads what only the end needs

        sitting = self._sitting
        if sitting is not None and sitting.result is not None:
            self.app.switch_screen(ResultScreen(sitting.result, sitting.drill))

    def _draw_sounding(self) -> None:
        tone: Tone | None = None
        swing = 0.0
        if self._heard is not None:
            pair, part, playback = self._heard
            try:
                over = playback.wait(0)
            except DeviceError as error:
                self._failed(error)
                return
            if over:
                self._heard = None
            else:
                tone, since_s = _tone_at(pair, part, playback.position_s())
                swing = math.exp(-since_s / SWING_FALL_S)
        self.query_one(StringPicture).swing(tone, swing)

    def _say(self, sentence: str) -> None:
        self.query_one("#asked", Static).update(sentence)

    def _hold(self) -> None:
        """Keep the next pair from beginning by itself."""
        if self._next_timer is not None:
            self._next_timer.stop()
            self._next_timer = None

    def _close_line(self) -> None:
        self.query_one("#word", Input).display = False
        self.set_focus(None)

    # -- workers ---------------------------------------------------------------------------------------------------

    def _hear(self, part: Part) -> None:
        if self._phase == "asking":
            self._sound(part, again=True)
        elif self._phase == "told":
            self._hold()
            self._sound_judged(part)

    @work(thread=True, group="sitting")
    def _open(self) -> None:
        try:
            sitting = self.desk.open_sitting()
        except CentwiseError as error:
            self.app.call_from_thread(self._failed, error)
        else:
            self.app.call_from_thread(self._opened, sitting)

    @work(thread=True, group="sitting")
    def _sound(self, part: Part, *, again: bool) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            heard = sitting.again(part) if again else sitting.sound(part)
        except CentwiseError as error:
            self.app.call_from_thread(self._failed, error)
        else:
            self.app.call_from_thread(self._sounds, heard)

    @work(thread=True, group="sitting")
    def _sound_judged(self, part: Part) -> None:
        sitting = self._sitting
        if sitting is None or sitting.judged is None:
            return
        try:
            playback = sitting.sound_judged(part)
        except CentwiseError as error:
            self.app.call_from_thread(self._failed, error)
            return
        if playback is not None:
            self._heard = (sitting.judged, part, playback)

    @work(thread=True, group="sitting")
    def _keep(self, judgement: Judgement) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            taken = sitting.answer(judgement)
        except CentwiseError as error:
            self.app.call_from_thread(self._failed, error)
        else:
            self.app.call_from_thread(self._kept, taken)

    @work(thread=True, group="sitting")
    def _leave(self) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            sitting.leave()
        except CentwiseError as error:
            self.app.call_from_thread(self._failed, error)
        else:
            self.app.call_from_thread(self._show_result)


def _tone_at(pair: PairSound, part: Part, position_s: float) -> tuple[Tone | None, float]:
    """Return which tone sounds at a place of the sound, and for how long it has."""
    if part != "pair":
        return part, position_s
    for tone in TONES:
        span = pair.span(tone)
        if span.start_s <= position_s < span.end_s:
            return tone, position_s - span.start_s
    return None, 0.0
