"""What the core asks of the world outside: protocols of player, recorder, store and clock, and the store's records.

Adapters live in audio and store; bootstrap alone builds them; tests bring their own. Imports strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime
    from pathlib import Path

    from centwise.model import (
        BenchAct,
        BenchPlan,
        BenchResult,
        BlockPlan,
        BlockResult,
        Condition,
        Listener,
        Samples,
        Sound,
        Trial,
    )
    from centwise.strings.library import Instruments


class Playback(Protocol):
    """One sound on its way out."""

    @property
    def path(self) -> Path | None:
        """The file it was written to, for players that write files."""

    def position_s(self) -> float:
        """Return how much of the sound has been heard, in seconds; its whole length once it has ended."""

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait until the sound has been heard to its end or was stopped.

        Returns:
            True when it is over, False when `timeout_s` ran out first.

        Raises:
            DeviceError: the device went away while it played.
        """

    def lost_s(self) -> float:
        """Return the longest hole in it so far, in seconds: time in which the device had nothing of it to play.

        Told within a tenth of a second; 0 where the player cannot tell.
        """

    def stop(self) -> None:
        """Fade the sound out at once, silent within 50 ms; nothing happens when it is over already."""


class Player(Protocol):
    """Something that makes a sound heard."""

    name: str
    rate_hz: int
    """The rate it wants its sounds at."""
    level_db: float
    """Gain on every sound, 0 dB at most: a player never makes a sound louder than it was rendered."""

    def play(self, sound: Sound) -> Playback:
        """Start a sound, stopping the one before.

        Raises:
            DeviceError: no device takes it.
            InputError: a file could not be written.
        """

    def close(self) -> None:
        """Stop and let the device go; may be called twice."""


class Recorder(Protocol):
    """A microphone that listens from its opening to its closing. One thread reads; any thread may look at the level."""

    device: str
    """What the system calls the microphone: free text."""
    rate_hz: int
    """Frames per second it hands over."""
    device_rate_hz: int | None
    """The device's own, where the system tells it."""

    def read(self, timeout_s: float) -> Samples:
        """Return what has come in since the last call, in order; wait for something at most so long.

        Returns:
            float32, shape (frames,), mono, full scale at 1; no frames when nothing came in time.

        Raises:
            DeviceError: the device went away, told about a second after it did, once what came before it was read.
        """

    def lag_s(self) -> float:
        """Return by how much what came in lags behind the clock, at the least over the last half second.

        Only its changes mean anything: it grows by what was lost on the way, and drifts with the device's clock.
        """

    def level_dbfs(self) -> float:
        """Return the largest sample of the last tenth of a second in dB of full scale, minus infinity for silence."""

    def close(self) -> None:
        """Stop listening and let the device go; may be called twice."""


class Clock(Protocol):
    """The time. All instants carry their zone, UTC."""

    def now(self) -> datetime:
        """Return this instant."""

    def monotonic_s(self) -> float:
        """Return seconds that never run back."""

    def sleep(self, seconds: float) -> None:
        """Wait."""


@dataclass(frozen=True, slots=True)
class StoredBlock:
    """A block as the store holds it: the plan, the trials so far, and the result once it has ended."""

    plan: BlockPlan
    trials: tuple[Trial, ...]
    result: BlockResult | None


@dataclass(frozen=True, slots=True)
class BlockSummary:
    """A block without its trials: what a history of many blocks is made of.

    Attributes:
        plan: what was asked for.
        result: what it says about the ear, None while it has not ended.
        answered: how many pairs were judged, those to warm up too.
        practised_s: time spent on them in seconds: from answer to answer, a pause counted as a minute at most.
        last_answer_at: when the last one was judged, None when none was.
        method: version of the way from answers to result (`model.ESTIMATE_METHOD`), None without a result.
    """

    plan: BlockPlan
    result: BlockResult | None
    answered: int
    practised_s: float
    last_answer_at: datetime | None
    method: int | None

    @property
    def outline(self) -> BlockOutline:
        """What the class view needs of it."""
        plan, result = self.plan, self.result
        known = result is not None and result.doubt is None
        return BlockOutline(
            plan.listener_id,
            plan.condition,
            plan.heard,
            plan.started_at,
            result.threshold_cents if result is not None and known else None,
            result.low_cents if result is not None and known else None,
            result.high_cents if result is not None and known else None,
            self.answered,
            self.practised_s,
            self.last_answer_at,
        )


class BlockOutline(NamedTuple):
    """What the class view needs of a block: a row is made of each listener's, tens of thousands at once.

    Attributes:
        listener_id: whose.
        condition: what was heard.
        heard: whether it made a sound.
        started_at: when.
        threshold_cents: with `low_cents` and `high_cents` what it says of the ear; None without, or in doubt.
        answered: as in `BlockSummary`; `practised_s` and `last_answer_at` likewise.
    """

    listener_id: str
    condition: Condition
    heard: bool
    started_at: datetime
    threshold_cents: float | None
    low_cents: float | None
    high_cents: float | None
    answered: int
    practised_s: float
    last_answer_at: datetime | None


@dataclass(frozen=True, slots=True)
class StoredBench:
    """A rehearsal as the store holds it: the plan, the acts so far, and the reckoning once the feet are marked."""

    plan: BenchPlan
    acts: tuple[BenchAct, ...]
    result: BenchResult | None


@dataclass(frozen=True, slots=True)
class Holdings:
    """How much the store holds of one listener: rows by table, as `{"blocks": 12, "trials": 480}`, none left out."""

    listener: Listener
    counts: dict[str, int]


@dataclass(frozen=True, slots=True)
class ClassRow:
    """One listener in the class view.

    Attributes:
        listener: who.
        blocks: how many that were heard.
        answered: pairs judged in them.
        practised_s: seconds practised.
        last_seen: the last answer, None for who never began a block.
        instrument: what the last threshold was heard on, None without one, as everything below.
        string: on which string.
        threshold_cents: where the threshold stands there, with its 90 % band.
        low_cents: low end of the band.
        high_cents: high end.
        improvement_chance: probability that the ear has become finer there, None below three blocks.
    """

    listener: Listener
    blocks: int
    answered: int
    practised_s: float
    last_seen: datetime | None
    instrument: str | None = None
    string: int | None = None
    threshold_cents: float | None = None
    low_cents: float | None = None
    high_cents: float | None = None
    improvement_chance: float | None = None


@dataclass(frozen=True, slots=True)
class KeptRow:
    """A listener with the row that is kept, or None where their blocks have changed since: then it is worked out anew.

    `revision` counts the changes of the listener's blocks; a row is kept together with the one read before its blocks.
    """

    listener: Listener
    revision: int
    row: ClassRow | None


class Store(Protocol):
    """Where listeners, blocks and trials are kept. Every method raises StoreError when it cannot do its work.

    The id of who was merged into another means that other from then on, but where a listener is changed or removed.
    """

    def listeners(self) -> Sequence[Listener]:
        """Return all listeners, the one used last first, then by name."""

    def listener_named(self, name: str) -> Listener | None:
        """Return the listener of that name, upper and lower case alike, or None."""

    def add_listener(self, listener: Listener) -> None:
        """Keep a new listener; its id and name must be new."""

    def set_scale_mm(self, listener_id: str, scale_mm: float) -> None:
        """Change a listener's scale length."""

    def listener_with_id(self, listener_id: str) -> Listener | None:
        """Return a listener by id, or the one they were merged into; None when there is none."""

    def change_listener(self, listener: Listener, *, was: Listener | None = None) -> None:
        """Keep a listener's name, scale length, instrument and note anew; the id says whose.

        Of what is still as it `was` when the change was begun, nothing is kept: another window may have changed it.
        """

    def holdings(self, listener_id: str) -> Holdings:
        """Return what would go if the listener went."""

    def remove_listener(self, listener_id: str, *, keep_copy: bool, told: Holdings | None = None) -> Path | None:
        """Remove a listener and all that is theirs, and return the folder of a store of its own that holds it still.

        Without a copy it is gone for good, and None is returned.

        Raises:
            ElsewhereError: by now the store holds something else of theirs than was `told`; nothing was removed.
        """

    def merge_listeners(self, from_id: str, into_id: str) -> Path:
        """Give all that is one listener's to another, and return the folder of a copy of the first as they were.

        The one who stays keeps name, scale length and instrument; the notes are joined. Each block keeps the scale
        length it was taken with. From now on the first one's id means the second.
        """

    def summaries(self, listener_id: str | None = None) -> Sequence[BlockSummary]:
        """Return the blocks of one listener, oldest first, or of all, each listener's together."""

    def outlines(self, listener_id: str | None = None) -> Sequence[BlockOutline]:
        """Return the same blocks in the same order, with what the class view needs of each."""

    def class_rows(self) -> Sequence[KeptRow]:
        """Return all listeners with their rows of the class view, the one used last first, then by name."""

    def keep_class_rows(self, rows: Sequence[KeptRow]) -> None:
        """Keep rows that were worked out."""

    def begin_block(self, plan: BlockPlan) -> None:
        """Keep a block's plan, on disk when this returns; its listener becomes the one used last."""

    def add_trial(self, block_id: str, trial: Trial) -> None:
        """Keep one answer, on disk when this returns.

        Raises:
            ElsewhereError: another window ended the block, or answered that pair.
        """

    def end_block(self, block_id: str, result: BlockResult, ended_at: datetime, *, answers: int | None = None) -> None:
        """Keep a block's result, on disk when this returns.

        Raises:
            ElsewhereError: another window ended the block, or it holds not just the `answers` the result is made of.
        """

    def blocks(self, listener_id: str, condition: Condition | None = None) -> Sequence[StoredBlock]:
        """Return a listener's blocks, oldest first, of one condition or of all."""

    def block_with_id(self, block_id: str) -> StoredBlock | None:
        """Return one block, whoever it belongs to by now, or None."""

    def begin_bench(self, plan: BenchPlan, first_act: BenchAct | None = None) -> None:
        """Keep a rehearsal's plan, with its first act where one begins it, both or nothing, on disk when this returns.

        Its listener becomes the one used last.
        """

    def add_bench_act(self, bench_id: str, act: BenchAct, result: BenchResult | None = None) -> None:
        """Keep one act, and with the mark its reckoning, which ends the rehearsal; on disk when this returns."""

    def benches(self, listener_id: str) -> Sequence[StoredBench]:
        """Return a listener's rehearsals, oldest first."""

    def unfinished_bench(self, listener_id: str) -> StoredBench | None:
        """Return the listener's latest rehearsal whose feet are not marked yet, or None."""

    def setting(self, key: str) -> str | None:
        """Return a small value kept beside the data (the listening level, say), or None."""

    def set_setting(self, key: str, value: str) -> None:
        """Keep a small value."""

    def close(self) -> None:
        """Close the store; may be called twice."""


def _built_in() -> Instruments:
    from centwise.strings.library import BUILT_IN  # noqa: PLC0415  start-up path

    return BUILT_IN


@dataclass(frozen=True, slots=True)
class Services:
    """What a front end is given to work with, built by bootstrap."""

    store: Store
    clock: Clock
    new_id: Callable[[], str]
    new_seed: Callable[[], int]
    open_player: Callable[[], Player]
    open_recorder: Callable[[], Recorder]
    instruments: Instruments = field(default_factory=_built_in)
