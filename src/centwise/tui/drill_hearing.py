"""The half of the drill's screen that sounds: plays the present pair or the one judged last, and follows it.

What comes back from the device is heeded only if the screen is still in the phase that asked for it.
Imports Textual, tui and below.
"""

from __future__ import annotations

import math
from functools import partial
from typing import TYPE_CHECKING, Literal

from textual import work

from centwise.errors import CentwiseError, DeviceError
from centwise.tui import drill_words as words
from centwise.tui.drill_board import DrillBoard
from centwise.tui.heard import Heard
from centwise.tui.place import Place

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.conductor import Part, Sitting
    from centwise.model import Tone

Phase = Literal["opening", "asking", "keeping", "told", "trouble", "over"]

FRAME_S = 1 / 12
SWING_FALL_S = 0.9


class DrillHearing(Place):
    """A block's pairs as they sound."""

    def __init__(self) -> None:
        super().__init__()
        self._phase: Phase = "opening"
        self._sitting: Sitting | None = None
        self._heard: Heard | None = None
        self._begun: set[Tone] = set()
        self._asked_of_player = False
        self._said_first = ""

    @property
    def board(self) -> DrillBoard:
        """What is shown."""
        return self.query_one(DrillBoard)

    def _trouble(self, error: CentwiseError, retry: Callable[[], object]) -> None:
        """Tell an error and wait; `retry` does again what failed."""
        raise NotImplementedError

    def _pause(self) -> None:
        """Leave it to the listener when to go on."""
        raise NotImplementedError

    def _hear(self, part: Part) -> None:
        if self._asked_of_player or self._phase not in {"asking", "told"} or self._sitting is None:
            return
        if self._phase == "told" and self._sitting.drill.plan.assess:
            return
        self._pause()
        self._listen()
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
            heard = await self.in_turn(partial(sitting.again if again else sitting.sound, part))
        except CentwiseError as error:
            if self._phase == phase:
                self._trouble(error, partial(self._sound, part, again=again))
            return
        finally:
            self._asked_of_player = False
        if self._phase == phase:
            self._heard = Heard(heard.pair, heard.part, heard.playback)
            self._phase = "asking"
            self.board.say(self._said_first or words.asking_text(heard.spec))
            self._said_first = ""
            self.refresh_bindings()

    @work(group="sitting")
    async def _sound_judged(self, part: Part) -> None:
        sitting = self._sitting
        if sitting is None:
            return
        try:
            playback = await self.in_turn(partial(sitting.sound_judged, part))
        except CentwiseError as error:
            if self._phase == "told":
                self._trouble(error, partial(self._sound_judged, part))
            return
        finally:
            self._asked_of_player = False
        if playback is not None and sitting.judged is not None and self._phase == "told":
            self._heard = Heard(sitting.judged, part, playback)

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
            if self._told_a_hole():
                return
            self._listen()
            if over:
                self._heard = None
            else:
                tone, since_s = heard.tone_now()
                # Without motion the string is drawn once for each tone: which one sounds is told all the same.
                still = self.app.animation_level == "none"
                swing = 1.0 if still else math.exp(-since_s / SWING_FALL_S)
        self.board.swing(tone, swing)

    def _listen(self) -> None:
        if self._heard is not None and self._phase == "asking":
            self._begun |= self._heard.begun()

    def _ask_once_more(self) -> None:
        """Sound the pair that was cut off; that is no replay of the listener's."""
        self._phase = "opening"
        self._sound("pair", again=False)

    def _told_a_hole(self) -> bool:
        """Tell a hole in the present pair, and sound it once more by itself; False where it is to be judged as it is.

        It is looked for while the pair sounds and again before it is judged.
        """
        sitting = self._sitting
        hole = None if sitting is None or self._phase != "asking" else sitting.hole()
        if hole is None or sitting is None or sitting.drill.pair is None:
            return False
        if not hole.again:
            self.board.say(words.hole_text(hole))
        else:
            self._said_first = words.hole_text(hole)
            self._heard = None
            self._begun = set()
            self._ask_once_more()
        return hole.again

    def _rest(self) -> None:
        """Stay with the truth that is shown."""
