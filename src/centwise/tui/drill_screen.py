"""The drill: hear a pair, judge it, learn the truth. Wires keys, buttons and words to the sitting; draws what it says.

Sounding and keeping are done off the screen's thread, one after the other (`Desk.in_turn`). What comes back is heeded
only if the screen is still in the phase that asked for it.
"""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, ClassVar, Literal, cast

from textual import on, work
from textual.containers import Horizontal, Vertical
from textual.widgets import Button, Footer, Input, ProgressBar, Static

from centwise.drill.words import Feedback
from centwise.errors import CentwiseError, DeviceError
from centwise.model import JUDGEMENTS, SIGNS, TONES, Judgement, Tone
from centwise.tui import drill_words as words
from centwise.tui.acts import DRILL, bindings
from centwise.tui.heard import Heard
from centwise.tui.pictures import LeanPicture, StringPicture
from centwise.tui.place import Place
from centwise.tui.plain_input import PlainInput

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.timer import Timer

    from centwise.conductor import Part, Sitting
    from centwise.drill.words import Noted

Phase = Literal["opening", "asking", "keeping", "told", "trouble", "over"]

RIGHT_S, WRONG_S = 2.5, 5.0
"""How long the truth stands before the next pair begins by itself, longer where there is more to take in (judgements).
Hearing something again, or looking elsewhere, stops that."""
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
        self._wanted = True
        self._leave_once_kept = False
        self._heard: Heard | None = None
        self._begun: set[Tone] = set()
        self._asked_of_player = False
        self._next_timer: Timer | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(id="drill"):
            with Horizontal(id="top"):
                yield Static("", id="where", markup=False)
                yield ProgressBar(total=1, show_eta=False, show_percentage=False, id="bar")
            yield StringPicture()
            yield Static(words.OPENING, id="asked", markup=False)
            yield LeanPicture()
            yield Static("", id="told", markup=False)
            with Horizontal(id="answers"):
                for word in JUDGEMENTS:
                    yield Button(f"{word[0]}  {SIGNS[word]} {word}", id=word, classes="answer")
            yield PlainInput(placeholder="flat, unison, sharp, again, quit; esc closes", max_length=80, id="word")
            with Horizontal(id="hear"):
                yield Button("a again", id="again", compact=True)
                yield Button("h harmonic", id="harmonic", compact=True)
                yield Button("t fretted", id="fretted", compact=True)
                yield Button("⏎ next", id="next", compact=True)
        yield Footer()

    def on_mount(self) -> None:
        """Begin the block, and keep the drawing moving."""
        self._show_line(shown=False)
        self.set_interval(FRAME_S, self._follow)
        self._begin()

    def on_unmount(self) -> None:
        """Stop the sound with the screen."""
        self._wanted = False
        if self._sitting is not None:
            self._sitting.close()

    # -- acts ------------------------------------------------------------------------------------------------------

    def action_answer(self, word: str) -> None:
        """Judge the present pair, once both its tones have begun: a key that bounces must not judge the next one."""
        if self._phase != "asking":
            return
        self._listen()
        if self._begun.issuperset(TONES):
            self._phase = "keeping"
            self._keep(cast("Judgement", word))
        else:
            self._say(words.LISTEN_FIRST)

    def action_again(self) -> None:
        """Hear the pair again."""
        self._hear("pair")

    def action_alone(self, tone: str) -> None:
        """Hear one tone alone."""
        self._hear(cast("Tone", tone))

    def action_next(self) -> None:
        """Go to the next pair at once, or to the result."""
        if self._phase == "told" and self._sitting is not None:
            if self._sitting.result is None:
                self._ask()
            else:
                self._show_result()

    def action_word(self) -> None:
        """Open the line for answers in words."""
        self._show_line(shown=True)

    def action_volume(self) -> None:
        """Set the listening level; the next pair waits."""
        from centwise.tui.level_screen import LevelScreen  # noqa: PLC0415  start-up path

        self._pause()
        if self._phase == "asking":
            self._say(words.HEAR_AGAIN)
        self.app.push_screen(LevelScreen())

    def action_help(self) -> None:
        """Show what can be done here; the next pair waits."""
        self._pause()
        super().action_help()

    def action_leave(self) -> None:
        """End the block here; from the word line, close the line instead."""
        if self.query_one("#word", Input).display:
            self._show_line(shown=False)
        elif self._sitting is None:
            self._wanted = False
            self.app.pop_screen()
        elif self._phase == "keeping":
            self._leave_once_kept = True
        elif self._phase != "over":
            self._end()

    # -- buttons and words -----------------------------------------------------------------------------------------

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        name = event.button.id or ""
        self.set_focus(None)
        if name in JUDGEMENTS:
            self.action_answer(name)
        elif name in TONES:
            self.action_alone(name)
        elif name == "again":
            self.action_again()
        else:
            self.action_next()

    @on(Input.Changed, "#word")
    def _typing(self, event: Input.Changed) -> None:
        if event.value:
            self._pause()

    @on(Input.Submitted, "#word")
    async def _spoken(self, event: Input.Submitted) -> None:
        act = words.word_act(event.value)
        event.input.value = ""
        if act is None:
            self._say(words.no_word_text(event.value))
            return
        if act == "leave":
            self._show_line(shown=False)
        await self.run_action(act)

    # -- showing ---------------------------------------------------------------------------------------------------

    def _ask(self) -> None:
        sitting = self._sitting
        if sitting is None or sitting.drill.pair is None:
            return
        self._hold()
        self._phase = "opening"
        self._begun = set()
        plan = sitting.drill.plan
        self.query_one("#where", Static).update(
            f"String {plan.condition.string} · pair {sitting.drill.pair.n} of {sitting.drill.total}"
        )
        if not plan.assess:
            self.query_one("#told", Static).update("")
        self.query_one(StringPicture).advise(None)
        self.query_one(LeanPicture).show(None, None)
        self._sound("pair", again=False)

    def _tell(self, told: Feedback | Noted) -> None:
        said = self.query_one("#told", Static)
        said.update(words.told_text(told))
        if isinstance(told, Feedback):
            said.set_class(told.trial.correct, "right")
            said.set_class(not told.trial.correct, "wrong")
            self.query_one(StringPicture).advise(told.travel.direction)
            self.query_one(LeanPicture).show(told.trial.offset_cents, told.trial.answer)

    def _wait_to_go_on(self, told: Feedback | Noted) -> None:
        """Let the truth stand for a while; an assessment goes on at once."""
        self._phase = "told"
        over = self._sitting is not None and self._sitting.result is not None
        if isinstance(told, Feedback):
            self._say(words.LAST if over else words.GOES_ON)
            self._next_timer = self.set_timer(RIGHT_S if told.trial.correct else WRONG_S, self._go_on_by_itself)
        else:
            self.in_front(self.action_next)

    def _go_on_by_itself(self) -> None:
        self._next_timer = None
        if self.is_active:
            self.action_next()
        else:
            self._say(words.WAITS)

    def _show_result(self) -> None:
        from centwise.tui.result_screen import ResultScreen  # noqa: PLC0415  loads what only the end needs

        sitting = self._sitting
        self._hold()
        if sitting is not None and sitting.result is not None:
            self._phase = "over"
            self.app.switch_screen(ResultScreen(sitting.result, sitting.drill))

    def _follow(self) -> None:
        """Draw what sounds, and notice a device that went away."""
        tone: Tone | None = None
        swing = 0.0
        heard = self._heard
        if heard is not None:
            try:
                over = heard.over()
            except DeviceError as error:
                self._heard = None
                if self._phase in {"asking", "told"}:
                    self._trouble(error, self._ask_once_more if self._phase == "asking" else self._rest)
                return
            self._listen()
            if over:
                self._heard = None
            else:
                tone, since_s = heard.tone_now()
                swing = math.exp(-since_s / SWING_FALL_S)
        self.query_one(StringPicture).swing(tone, swing)

    def _listen(self) -> None:
        if self._heard is not None and self._phase == "asking":
            self._begun |= self._heard.begun()

    def _say(self, sentence: str) -> None:
        self.query_one("#asked", Static).update(sentence)

    def _hold(self) -> None:
        """Keep the next pair from beginning by itself."""
        if self._next_timer is not None:
            self._next_timer.stop()
            self._next_timer = None

    def _pause(self) -> None:
        """Leave it to the listener when to go on, and say so."""
        if self._next_timer is not None:
            self._hold()
            self._say(words.WAITS)

    def _show_line(self, *, shown: bool) -> None:
        line = self.query_one("#word", Input)
        line.display = shown
        line.value = ""
        self.query_one("#answers").display = not shown
        self.set_focus(line if shown else None)

    # -- trouble ---------------------------------------------------------------------------------------------------

    def _trouble(self, error: CentwiseError, retry: Callable[[], object]) -> None:
        """Tell an error and wait; `retry` does again what failed."""
        from centwise.tui import trouble_screen as trouble  # noqa: PLC0415  rarely needed

        self._hold()
        self._heard = None
        before, self._phase = self._phase, "trouble"
        kept = {"keeping": trouble.ANSWER_NOT_KEPT, "over": trouble.RESULT_NOT_KEPT}.get(before, trouble.ALL_KEPT)
        if before == "keeping" and self._sitting is not None and self._sitting.drill.over:
            kept = trouble.RESULT_NOT_KEPT
        page = trouble.TroubleScreen(
            error, kept=kept, may_go_silent=self._sitting is None and isinstance(error, DeviceError)
        )
        self.in_front(lambda: self.app.push_screen(page, partial(self._after_trouble, before, retry)))

    def _after_trouble(self, before: Phase, retry: Callable[[], object], choice: str | None) -> None:
        self._phase = before
        if choice == "leave":
            if self._sitting is None or before == "over":
                self.app.pop_screen()
            else:
                self._end()
            return
        if choice == "silent":
            self.desk.go_silent()
        retry()

    def _ask_once_more(self) -> None:
        """Sound the pair that was cut off; that is no replay of the listener's."""
        self._phase = "opening"
        self._sound("pair", again=False)

    def _rest(self) -> None:
        """Stay with the truth that is shown."""

    # -- off the screen's thread -----------------------------------------------------------------------------------

    @work(group="sitting")
    async def _begin(self) -> None:
        try:
            sitting = await self.desk.in_turn(partial(self.desk.open_sitting, lambda: self._wanted))
        except CentwiseError as error:
            self._trouble(error, self._begin)
            return
        if sitting is not None:
            self._sitting = sitting
            self.query_one(ProgressBar).update(total=sitting.drill.total, progress=0)
            self.in_front(self._ask)

    def _hear(self, part: Part) -> None:
        if self._asked_of_player or self._phase not in {"asking", "told"}:
            return
        self._pause()
        self._asked_of_player = True
        if self._phase == "asking":
            self._sound(part, again=True)
        else:
            self._sound_judged(part)

    @work(group="sitting")
    async def _sound(self, part: Part, *, again: bool) -> None:
        sitting, phase = self._sitting, self._phase
        if sitting is None:
            return
        try:
            heard = await self.desk.in_turn(partial(sitting.again if again else sitting.sound, part))
        except CentwiseError as error:
            if self._phase == phase:
                self._trouble(error, partial(self._sound, part, again=again))
            return
        finally:
            self._asked_of_player = False
        if self._phase == phase:
            self._heard = Heard(heard.pair, heard.part, heard.playback)
            self._phase = "asking"
            self._say(words.asking_text(heard.spec))

    @work(group="sitting")
    async def _sound_judged(self, part: Part) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            playback = await self.desk.in_turn(partial(sitting.sound_judged, part))
        except CentwiseError as error:
            if self._phase == "told":
                self._trouble(error, partial(self._sound_judged, part))
            return
        finally:
            self._asked_of_player = False
        if playback is not None and sitting.judged is not None and self._phase == "told":
            self._heard = Heard(sitting.judged, part, playback)

    @work(group="sitting")
    async def _keep(self, judgement: Judgement) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            taken = await self.desk.in_turn(partial(sitting.answer, judgement))
        except CentwiseError as error:
            self._trouble(error, self._end if sitting.drill.over else partial(self._keep, judgement))
            return
        self.query_one(ProgressBar).update(progress=len(sitting.drill.trials))
        if taken.told is not None:
            self._tell(taken.told)
            self._wait_to_go_on(taken.told)
        if self._leave_once_kept:
            self._end()

    @work(group="sitting")
    async def _end(self) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        self._hold()
        self._phase = "over"
        self._say(words.CLOSING)
        try:
            await self.desk.in_turn(sitting.leave)
        except CentwiseError as error:
            self._trouble(error, self._end)
        else:
            self.in_front(self._show_result)
