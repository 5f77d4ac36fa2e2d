"""The drill: hear a pair, judge it, learn the truth. Wires keys, buttons and words to the sitting; draws what it says.

Sounding and keeping are done off the screen's thread, one after the other (`Desk.in_turn`). What comes back is heeded
only if the screen is still in the phase that asked for it. Imports Textual, tui and below.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar, cast

from textual import on, work
from textual.widgets import Button, Footer, Input

from centwise.drill.advice import ANSWER_NOT_KEPT, RESULT_NOT_KEPT
from centwise.drill.words import NOTED_S, Feedback
from centwise.errors import CentwiseError, ElsewhereError
from centwise.model import JUDGEMENTS, TONES, Judgement, Tone
from centwise.tui import drill_words as words
from centwise.tui.acts import DRILL, bindings
from centwise.tui.drill_board import DrillBoard
from centwise.tui.drill_hearing import FRAME_S, DrillHearing, Phase

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult
    from textual.binding import BindingType
    from textual.events import Key
    from textual.timer import Timer

    from centwise.conductor import Taken

RIGHT_S, WRONG_S = 2.5, 5.0
"""How long the truth stands before the next pair begins by itself, longer where there is more to take in (judgements).
Hearing something again, or looking elsewhere, stops that."""


class DrillScreen(DrillHearing):
    """One block."""

    ACTS = DRILL
    ABOUT = (
        "You hear the harmonic and the note fretted at the octave. Say whether the fretted note is flat (lower), "
        "in unison, or sharp (higher). Flat, the bridge would go forward, toward the neck; sharp, back."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(DRILL)]

    def __init__(self) -> None:
        super().__init__()
        self._wanted = True
        self._leave_once_kept = False
        self._next_timer: Timer | None = None

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        yield DrillBoard()
        yield Footer()

    def on_mount(self) -> None:
        """Begin the block, and keep the drawing moving."""
        self.board.show_line(shown=False)
        self.set_interval(FRAME_S, self._follow)
        self._begin()

    def show_busy(self, *, busy: bool) -> None:
        """Say under the string that work goes on; while the first pair is made that is said already."""
        if self._sitting is not None or not busy:
            self.board.busy(busy=busy)

    def on_unmount(self) -> None:
        """Stop the sound with the screen."""
        self._wanted = False
        if self._sitting is not None:
            self._sitting.close()

    # -- acts ------------------------------------------------------------------------------------------------------

    def action_answer(self, word: str) -> None:
        """Judge the present pair, once both its tones have begun: a key that bounces must not judge the next one."""
        if self._phase != "asking" or self._told_a_hole():
            return
        self._listen()
        if self._begun.issuperset(TONES):
            self._phase = "keeping"
            self._keep(cast("Judgement", word))
        else:
            self.board.say(words.LISTEN_FIRST)

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

    def action_directions(self) -> None:
        """Practise the directions before the pairs that count."""
        if self._may_practise():
            self._pause()
            before, self._phase = self._phase, "opening"
            self._practise(before)
        elif self._phase in {"asking", "told"} and self._sitting is not None:
            self.board.refuse(words.no_directions_text(self._sitting.drill))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Let the footer offer what can be done now; the key for directions goes on to say why not."""
        if action == "word":
            return not self.board.line_open
        if action == "directions":
            return self._may_practise()
        return super().check_action(action, parameters)

    def on_key(self, event: Key) -> None:
        """Say why directions are not practised now: while they can be, the act takes the key."""
        directions = next(act for act in self.acts_here() if act.id == "directions")
        if event.key in directions.keys:
            self.action_directions()

    def _may_practise(self) -> bool:
        return self._phase in {"asking", "told"} and self._sitting is not None and self._sitting.drill.may_practise

    def action_word(self) -> None:
        """Open the line for answers in words."""
        self.board.show_line(shown=True)

    def action_volume(self) -> None:
        """Set the listening level; the next pair waits."""
        self._pause()
        if self._phase == "asking":
            self.board.say(words.HEAR_AGAIN)
        super().action_volume()

    def action_help(self) -> None:
        """Show what can be done here; the next pair waits."""
        self._pause()
        super().action_help()

    def action_leave(self) -> None:
        """End the block here; from the word line, close the line instead."""
        if self.board.line_open:
            self.board.show_line(shown=False)
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
            drill = None if self._sitting is None else self._sitting.drill
            known = words.words_now(drill, judged=self._phase == "told")
            self.board.say(words.no_word_text(event.value, known))
            return
        if act == "leave":
            self.board.show_line(shown=False)
        if act == "directions":
            self.action_directions()
        else:
            await self.run_action(act)

    # -- showing ---------------------------------------------------------------------------------------------------

    def _ask(self) -> None:
        sitting = self._sitting
        if sitting is None or sitting.drill.pair is None:
            return
        self._hold()
        self._phase = "opening"
        self._begun = set()
        self.board.ask(sitting.drill, sitting.drill.pair)
        self._sound("pair", again=False)

    def _wait_to_go_on(self, taken: Taken) -> None:
        """Let the truth stand for a while; an assessment goes on after a short pause, but for its rests."""
        self._phase = "told"
        self.refresh_bindings()
        told = taken.told
        if taken.swapped:
            self.board.say(words.SWAPPED)
        elif taken.rest is not None:
            self.board.say(words.rest_text(taken.rest))
        elif taken.listened_min is not None and taken.result is None:
            self.board.say(words.ears_text(taken.listened_min))
        elif isinstance(told, Feedback):
            self.board.say(words.GOES_ON if taken.result is None else words.LAST)
            self._next_timer = self.set_timer(RIGHT_S if told.trial.correct else WRONG_S, self._go_on_by_itself)
        elif self._sitting is not None and self._sitting.drill.plan.paced:
            self.board.say(words.NOTED)
            self._next_timer = self.set_timer(NOTED_S, self._go_on_by_itself)
        else:
            self.in_front(self.action_next)

    def _go_on_by_itself(self) -> None:
        self._next_timer = None
        if self.is_active:
            self.action_next()
        else:
            self._say_waits()

    def _show_result(self) -> None:
        from centwise.tui.result_screen import ResultScreen  # noqa: PLC0415  loads what only the end needs

        sitting = self._sitting
        self._hold()
        if sitting is not None and sitting.result is not None:
            self._phase = "over"
            self.app.switch_screen(
                ResultScreen(sitting.result, sitting.drill, sitting.standing, rest_due=sitting.rest_due)
            )

    def _hold(self) -> None:
        """Keep the next pair from beginning by itself."""
        if self._next_timer is not None:
            self._next_timer.stop()
            self._next_timer = None

    def _pause(self) -> None:
        """Leave it to the listener when to go on, and say so."""
        if self._next_timer is not None:
            self._hold()
            self._say_waits()

    def _say_waits(self) -> None:
        assess = self._sitting is not None and self._sitting.drill.plan.assess
        self.board.say(words.WAITS_NOTED if assess else words.WAITS)

    # -- trouble ---------------------------------------------------------------------------------------------------

    def _trouble(self, error: CentwiseError, retry: Callable[[], object]) -> None:
        """Tell an error and wait; `retry` does again what failed."""
        from centwise.tui import trouble_screen as trouble  # noqa: PLC0415  rarely needed

        self._hold()
        self._heard = None
        before, self._phase = self._phase, "trouble"
        kept = {"keeping": ANSWER_NOT_KEPT, "over": RESULT_NOT_KEPT}.get(before, trouble.ALL_KEPT)
        if before == "keeping" and self._sitting is not None and self._sitting.drill.over:
            kept = RESULT_NOT_KEPT
        if isinstance(error, ElsewhereError):
            kept = trouble.ANSWERED_ELSEWHERE
        begun = self._sitting is not None
        leave = self._end if begun and before != "over" else self.app.pop_screen
        self.ask_about_trouble(
            error,
            kept=kept,
            begun=begun,
            in_a_block=begun,
            retry=partial(self._back_to, before, retry),
            leave=partial(self._back_to, before, leave),
        )

    def _back_to(self, before: Phase, then: Callable[[], object]) -> None:
        self._phase = before
        then()

    # -- off the screen's thread -----------------------------------------------------------------------------------

    @work(group="sitting")
    async def _begin(self) -> None:
        try:
            sitting = await self.in_turn(partial(self.desk.open_sitting, lambda: self._wanted))
        except CentwiseError as error:
            self._trouble(error, self._begin)
            return
        if sitting is not None:
            self._sitting = sitting
            # A block taken up after its last answer lacks only its result.
            self.in_front(self._end if sitting.drill.over else self._ask)

    @work(group="sitting")
    async def _practise(self, before: Phase) -> None:
        if self._sitting is None:
            return
        if await self.in_turn(self._sitting.practise_directions):
            self._ask()
        else:
            self._phase = before
            self.board.refuse(words.no_directions_text(self._sitting.drill))

    @work(group="sitting")
    async def _keep(self, judgement: Judgement) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            taken = await self.in_turn(partial(sitting.answer, judgement), keeps=True)
        except ElsewhereError as error:
            # Whatever is asked now is another pair than the one that was judged.
            self._trouble(error, self._end if sitting.drill.over else self._ask)
            return
        except CentwiseError as error:
            self._trouble(error, self._end if sitting.drill.over else partial(self._keep, judgement))
            return
        self.board.progress(sitting.drill)
        if taken.told is not None:
            self.board.tell(taken.told)
            self._wait_to_go_on(taken)
        if self._leave_once_kept:
            self._end()

    @work(group="sitting")
    async def _end(self) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        self._hold()
        self._phase = "over"
        self.board.say(words.CLOSING)
        try:
            await self.in_turn(sitting.leave)
        except CentwiseError as error:
            self._trouble(error, self._end)
        else:
            self.in_front(self._show_result)
