"""The parts of `centwise check` in their order; each loads what it needs when it is its turn.

Imports bootstrap and below.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from centwise.audio.open import check_choice, open_player, open_recorder, open_sided_player
from centwise.chain.line import CheckLine, not_checked
from centwise.cli.diagnostics import narrate
from centwise.cli.output import say
from centwise.cli.waiting import waiting
from centwise.errors import StoreError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from centwise.ports import Clock, Player
    from centwise.settings.load import Settings
    from centwise.strings.instrument import Instrument

EAR_WORDS = {"l": "left", "r": "right", "b": "both", "n": "nothing", "a": "again", "q": "quit"}


class ChainRun:
    """The parts of one check, in the order of the chain.

    Args:
        settings: where the store is.
        player: the words of the player that is meant.
        instrument: whose tones are rendered and sent round.
        seed: every draw comes from it.
        clock: the time.
        as_json: whether stdout is kept for the record; then people are spoken to on stderr.
    """

    def __init__(
        self, settings: Settings, player: str, instrument: Instrument, seed: int, clock: Clock, *, as_json: bool
    ) -> None:
        self._settings = settings
        self._choice = check_choice(player)
        self._clock = clock
        self._instrument = instrument
        self._seed = seed
        self._tell: Callable[[str], None] = narrate if as_json else say

    def lines(self, wanted: set[str], *, ears: bool, loop: bool) -> Iterator[CheckLine]:
        """Look at the wanted parts one after the other and give each line as soon as it is known."""
        if "tones" in wanted:
            from centwise.chain.tones import check_tones  # noqa: PLC0415

            with waiting("tones are being rendered and measured"):
                line = check_tones(self._instrument, self._seed)
            yield line
        if "players" in wanted:
            from centwise.chain.players import check_players  # noqa: PLC0415

            with waiting("the players are being tried"):
                lines = tuple(check_players())
            yield from lines
        if "device" in wanted:
            with waiting("the output is being opened"):
                line = self._device()
            yield line
        if "ears" in wanted:
            yield self._ears(asked=ears)
        if "loop" in wanted:
            yield from self._loop(asked=loop)
        if "store" in wanted:
            from centwise.chain.store import check_store  # noqa: PLC0415

            with waiting("the store is being looked through"):
                lines = tuple(check_store(self._settings.data_dir))
            yield from lines
        if "estimate" in wanted:
            from centwise.chain.estimate import check_estimate  # noqa: PLC0415

            with waiting("the estimate is being tried on simulated listeners"):
                line = check_estimate()
            yield line

    def _device(self) -> CheckLine:
        from centwise.chain.device import TITLE, check_device  # noqa: PLC0415

        if self._choice.startswith("file:"):
            # Not opened: its folder would be made.
            return not_checked("device", TITLE, "files need no sound device", "choose another with --player")
        return check_device(self._open_player, self._clock)

    def _ears(self, *, asked: bool) -> CheckLine:
        from centwise.chain.ears import ASK_FOR_IT, TITLE, check_ears  # noqa: PLC0415

        if not asked:
            return not_checked("ears", TITLE, "nobody was asked", ASK_FOR_IT)
        if self._choice not in {"auto", "miniaudio"}:
            return not_checked(
                "ears", TITLE, f"the player {self._choice} does not sound each side apart", "use --player miniaudio"
            )
        for sentence in (
            "Three soft tones follow: left, right and both sides, in a drawn order.",
            "After each say left, right, both or nothing; again repeats it, quit ends this. This is no hearing test.",
        ):
            self._tell(sentence)
        self._announce("Turn the volume down before the first.")
        return check_ears(lambda: open_sided_player(self._clock), self._ask, self._tell, self._seed)

    def _announce(self, sentence: str) -> None:
        """Tell what is about to sound, and give somebody at a terminal the time they need."""
        waits = sys.stdin.isatty()
        self._tell(f"{sentence} Press enter when you are ready." if waits else sentence)
        if waits:
            sys.stdin.readline()

    def _ask(self, number: int) -> str | None:
        while True:
            self._tell(f"Tone {number}: where was it?")
            text = sys.stdin.readline()
            if not text:
                return None
            word = text.strip().casefold()
            word = EAR_WORDS.get(word, word)
            if word in EAR_WORDS.values():
                return word
            self._tell("Say left, right, both, nothing, again or quit; one letter is enough.")

    def _loop(self, *, asked: bool) -> Iterator[CheckLine]:
        from centwise.chain.loop import ASK_FOR_IT, TITLE, check_loop  # noqa: PLC0415

        if not asked:
            yield not_checked("loop", TITLE, "no sound was sent round", ASK_FOR_IT)
            return
        if self._choice.startswith("file:"):
            yield not_checked("loop", TITLE, "files sound nothing", "choose another with --player")
            return
        yield from check_loop(
            self._open_player,
            lambda: open_recorder(self._clock),
            self._clock,
            self._instrument,
            self._seed,
            self._announce,
        )

    def _open_player(self) -> Player:
        return open_player(self._choice, self._clock, level_db=_level_db(self._settings))


def _level_db(settings: Settings) -> float:
    """Return the listening level that is kept, or the quiet one to start with; no store is made for it."""
    from centwise.audio.level import START_DB  # noqa: PLC0415  start-up path
    from centwise.bootstrap import open_store  # noqa: PLC0415
    from centwise.listening import stored_level_db  # noqa: PLC0415
    from centwise.store.sqlite import is_there  # noqa: PLC0415

    if not is_there(settings.data_dir):
        return START_DB
    try:
        store = open_store(settings)
    except StoreError:
        # Told on its own line; the level falls back to the quiet one.
        return START_DB
    try:
        return stored_level_db(store)
    finally:
        store.close()
