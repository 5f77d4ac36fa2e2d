"""What one run of the app holds: services, player, listener, sitting. No widgets; its slow methods run in workers.

Loads the heavy half (numpy, tones, the player's library) only when it is first needed, after the first screen stands.
Imports what lies below tui; of tui keymap, sound and turns.
"""

from __future__ import annotations

import threading
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from centwise.bench_planning import BenchRequest, left_rehearsal, next_instrument
from centwise.errors import CentwiseError, InputError, UsageError
from centwise.planning import (
    BlockRequest,
    listener_for,
    listener_for_request,
    plan_block,
    request_on_their_instrument,
    scale_for,
    warm_up_pairs,
    with_instrument,
)
from centwise.practice import next_string, sides_of
from centwise.resting import EarTime, ear_time
from centwise.resuming import block_left, check_player
from centwise.tui.keymap import keymap_of
from centwise.tui.sound import Sound
from centwise.tui.turns import Turns

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.conductor import Sitting
    from centwise.lessons.lesson import Lesson, Standpoint
    from centwise.model import Listener
    from centwise.ports import Playback, Player, Services, StoredBench, StoredBlock
    from centwise.rehearsal import Rehearsal
    from centwise.settings.load import Settings
    from centwise.strings.instrument import Instrument

T = TypeVar("T")


class Desk:
    """The state of the app between its screens.

    Args:
        services: the ports.
        settings: what the user set.
        request: the block asked for on the command line; screens change it.
        lesson: the lesson to follow; then it says what the next block is.
        bench: the rehearsal asked for on the command line; then the bench comes first.
        silent_player: makes a player without sound, for looking around where there is no device.

    Raises:
        InputError: the settings give keys that cannot be.
    """

    def __init__(
        self,
        services: Services,
        settings: Settings,
        request: BlockRequest,
        *,
        instrument_asked: bool = False,
        lesson: Lesson | None = None,
        bench: BenchRequest | None = None,
        silent_player: Callable[[], Player],
    ) -> None:
        self.services = services
        self.settings = settings
        self.keymap = keymap_of(settings.keys, settings.config_file)
        self.request = request
        self.lesson = lesson
        # A lesson of last time gives way to whatever the command line says of the block.
        said_nothing = BlockRequest(
            instrument=request.instrument, rule=request.rule, seed=request.seed, warm_up=request.warm_up
        )
        self._recalls_lesson = lesson is None and request == said_nothing and not instrument_asked
        self.bench_first = bench is not None
        self.bench_request = BenchRequest() if bench is None else bench
        self.rehearsal: Rehearsal | None = None
        self.listener: Listener | None = None
        self.new_listener = False
        self.sitting: Sitting | None = None
        self._instrument_asked = instrument_asked
        self.sound = Sound(services, silent_player)
        self._closed = False
        self._ear_times: dict[str, EarTime] = {}
        self._going_on: StoredBlock | None = None
        self._turns = Turns()

    async def in_turn(self, work: Callable[[], T], *, keeps: bool = False) -> T:
        """Do slow work off the screen's thread, one piece after the other; what keeps an answer `close` sees to."""
        return await self._turns.take(work, keeps=keeps)

    def choose_listener(self, name: str | None) -> Listener:
        """Take the listener of that name, a new one if the name is new, or the last used without a name.

        Where what they play is described nowhere any more, they are taken all the same: the next block's place says so.
        """
        store, new_id = self.services.store, self.services.new_id
        try:
            instruments = self.services.instruments
            request = request_on_their_instrument(
                store, name, self.request, instrument_asked=self._instrument_asked, instruments=instruments
            )
            self.listener, self.new_listener = listener_for_request(
                store, name, request, new_id=new_id, scale_mm=self.settings.scale_mm, instruments=instruments
            )
            self.request = request
        except (InputError, UsageError):
            if self._instrument_asked:
                raise
            self.listener, self.new_listener = listener_for(store, name, new_id, self.settings.scale_mm)
            self.request = replace(self.request, instrument=self.listener.instrument)
        if self._recalls_lesson:
            self.lesson = self._lesson_of(self.listener)
        return self.listener

    def take_lesson(self, lesson: Lesson | None) -> None:
        """Follow a lesson, or none, and remember it for this listener's next time if the store takes it."""
        self.lesson = lesson
        if self.listener is not None:
            with suppress(CentwiseError):
                self.services.store.set_setting(f"lesson {self.listener.id}", "" if lesson is None else lesson.name)

    def _lesson_of(self, listener: Listener) -> Lesson | None:
        """Return the lesson that the listener took last time, unless it is there no more."""
        with suppress(CentwiseError):
            if name := self.services.store.setting(f"lesson {listener.id}"):
                from centwise.lessons.finding import lesson_named  # noqa: PLC0415  start-up path

                return lesson_named(name, self.settings.lessons_dir, self.services.instruments)
        return None

    def listener_changed(self, listener: Listener) -> None:
        """Take a listener's new data where they are the one who listens."""
        if self.listener is not None and self.listener.id == listener.id:
            self.listener = listener

    def listener_gone(self, listener: Listener) -> None:
        """Forget a listener who was removed or merged."""
        if self.listener is not None and self.listener.id == listener.id:
            self.listener = None

    def standpoint(self) -> Standpoint | None:
        """Return where the listener stands in the lesson taken; None without one."""
        from centwise.lessons.lesson import standpoint  # noqa: PLC0415  start-up path

        if self.lesson is None or self.listener is None:
            return None
        return standpoint(self.lesson, self.services.store.summaries(self.listener.id))

    @property
    def instrument(self) -> Instrument:
        """The instrument of the next block.

        Raises:
            CentwiseError: it is described nowhere, or not as it should be.
        """
        return self.services.instruments.named(self.request.instrument)

    def scale_mm(self) -> float:
        """Return the scale length the listener has on the instrument of the next block, in millimetres.

        Raises:
            CentwiseError: the instrument is described nowhere, or the store cannot be read.
        """
        return self.request.scale_mm or self.scale_mm_on(self.instrument)

    def scale_mm_on(self, instrument: Instrument) -> float:
        """Return the scale length the listener has on an instrument, its usual one before a listener is chosen.

        Raises:
            StoreError: the store cannot be read.
        """
        if self.listener is None:
            return instrument.scale_mm
        blocks = self.services.store.summaries(self.listener.id)
        return scale_for(instrument, self.listener, blocks, self.services.instruments)

    def choose_instrument(self, name: str) -> None:
        """From here on play that instrument; the listener is kept with it.

        Raises:
            CentwiseError: there is none of that name, its file cannot be used, or the store does not take it.
        """
        instrument = self.services.instruments.named(name)
        if self.listener is not None:
            blocks = self.services.store.summaries(self.listener.id)
            self.listener = with_instrument(
                self.services.store, self.listener, instrument.name, blocks, self.services.instruments
            )
        self._instrument_asked = False
        self.request = replace(self.request, instrument=name, string=None, scale_mm=None)

    def pairs_before(self, request: BlockRequest) -> int:
        """Return how many pairs that do not count would come first in such a block of the listener's.

        Raises:
            StoreError: the store cannot be read.
        """
        blocks = () if self.listener is None else self.services.store.summaries(self.listener.id)
        return warm_up_pairs(request, blocks)

    def usual_string(self) -> int:
        """Return the string the listener would practise next."""
        if self.request.string is not None or self.listener is None:
            return self.request.string or self.instrument.bass_string
        return next_string(self.services.store.summaries(self.listener.id), sides_of(self.instrument))

    def ask_for(self, **changes: object) -> None:
        """Change what the next block will be."""
        self.request = replace(self.request, **changes)  # type: ignore[arg-type]

    def tone(self) -> Playback:
        """Sound the quiet tone for the listening level, on the string that would be practised next."""
        return self.sound.tone(self.instrument, self.usual_string())

    def open_sitting(self, wanted: Callable[[], bool]) -> Sitting | None:
        """Begin the block asked for; None when it is wanted no more once the device is open.

        Raises:
            InputError: the take asked for cannot be read or measured; nothing has been begun.
            DeviceError: there is no sound device; nothing has been begun.
            StoreError: the block cannot be kept; nothing has been begun.
        """
        from centwise.conductor import Sitting  # noqa: PLC0415  loads numpy
        from centwise.takes.voice import OwnVoice, open_take  # noqa: PLC0415

        if self.listener is None:
            raise RuntimeError("a listener is chosen before a block begins")
        asked = self.request
        instruments = self.services.instruments
        take = None
        if asked.take is not None:
            take = open_take(
                asked.take, asked.instrument, asked.string, asked=self._instrument_asked, instruments=instruments
            )
        player = self.sound.player()
        if self._closed or not wanted():
            return None
        if (left := self._going_on) is not None:
            check_player(left.plan, player.name)
            self._going_on = None
            self.sitting = Sitting(
                self.services.store,
                self.services.clock,
                player,
                left.plan,
                left.trials,
                ears=self._ears(),
                instruments=self.services.instruments,
            )
            return self.sitting
        stand = self.standpoint() if take is None else None
        voice = None if take is None else OwnVoice(take, player.rate_hz, instruments)
        plan = plan_block(
            self.request if stand is None else stand.request(self.request),
            self.listener,
            store=self.services.store,
            at=self.services.clock.now(),
            new_id=self.services.new_id,
            new_seed=self.services.new_seed,
            player=player.name,
            take=take,
            take_error_cents=voice.error_cents if voice is not None and asked.shifted else None,
            instruments=instruments,
        )
        self.sitting = Sitting(
            self.services.store,
            self.services.clock,
            player,
            plan,
            ears=self._ears(),
            maker=voice,
            instruments=instruments,
        )
        # Seed, string and take were asked for one block: the next draws its own and takes its turn.
        self.request = replace(self.request, seed=None, string=None, take=None, shifted=False)
        return self.sitting

    def block_left(self) -> StoredBlock | None:
        """Return the listener's block that was cut off, where one waits."""
        return None if self.listener is None else block_left(self.services.store, self.listener.id)

    def go_on(self, *, wanted: bool = True) -> None:
        """Let the next sitting go on with the block that was cut off, or begin another all the same."""
        self._going_on = self.block_left() if wanted else None

    def left_rehearsal(self) -> StoredBench | None:
        """Return the rehearsal the listener left, if it is one that is asked for."""
        if self.listener is None:
            return None
        return left_rehearsal(self.bench_request, self.listener, self.services)

    def bench_instrument(self) -> Instrument | None:
        """Return the instrument of the next rehearsal, None before a listener is chosen.

        Raises:
            InputError: what describes it cannot be used.
            UsageError: there is no such instrument.
        """
        return None if self.listener is None else next_instrument(self.bench_request, self.listener, self.services)

    def open_rehearsal(self, wanted: Callable[[], bool], *, anew: bool) -> tuple[Rehearsal, bool] | None:
        """Begin a rehearsal or take up the one that was left; None when it is wanted no more once the device is open.

        Returns:
            The rehearsal, and whether it was taken up.

        Raises:
            DeviceError: there is no sound device; nothing has been begun.
            StoreError: it cannot be kept; nothing has been begun.
        """
        from centwise.bench_planning import open_rehearsal  # noqa: PLC0415  loads numpy

        if self.listener is None:
            raise RuntimeError("a listener is chosen before a rehearsal begins")
        player = self.sound.player()
        if self._closed or not wanted():
            return None
        request = replace(self.bench_request, anew=anew or self.bench_request.anew)
        opened = open_rehearsal(request, self.listener, self.services, player, first_is_guided=True, ears=self._ears())
        self.rehearsal = opened[0]
        # Seed and a fresh start were asked for one rehearsal, and so was what the next has of its own.
        self.bench_request = replace(self.bench_request, seed=None, anew=False)
        return opened

    def _ears(self) -> EarTime | None:
        """Return how long the listener has been listening, counted on over the blocks of this run."""
        if self.listener is None:
            return None
        if self.listener.id not in self._ear_times:
            self._ear_times[self.listener.id] = ear_time(self.services.store, self.services.clock, self.listener.id)
        return self._ear_times[self.listener.id]

    def warm_up(self) -> None:
        """Begin to load the heavy half ahead of its first use, in a thread that nobody waits for when the app ends."""
        threading.Thread(target=self._load, name="warm-up", daemon=True).start()

    def _load(self) -> None:
        import centwise.conductor  # noqa: PLC0415  loads numpy
        import centwise.listening  # noqa: F401, PLC0415

        try:
            player = self.sound.player()
        except CentwiseError:
            return  # told when it is needed
        if self._closed:
            player.close()

    def close(self, *, ending: bool = False) -> int | None:
        """Finish what is being kept, close the sitting and let the device go; what was answered is kept.

        Args:
            ending: whether a block under way ends here with its result; else it stays open.

        Returns:
            How many answers the block under way has, warm-up included; None where no block was.

        Raises:
            StoreError: an answer or the result could not be kept; everything is closed all the same.
        """
        self._closed = True
        unkept = self._turns.finish()
        try:
            return self._end_block(unkept, ending=ending)
        finally:
            if self.sitting is not None:
                self.sitting.close()
            if self.rehearsal is not None:
                self.rehearsal.close()
            self.sound.close()

    def _end_block(self, unkept: Callable[[], object] | None, *, ending: bool) -> int | None:
        sitting = self.sitting
        if sitting is None or sitting.result is not None:
            return None
        if unkept is not None and not sitting.drill.over:
            unkept()
        if ending:
            sitting.leave()
        return len(sitting.drill.trials)
