"""Stand-ins for the ports, for any test: a store in memory, a clock moved by hand, a player that records, a
microphone that hears what it is told.

`calls` of several fakes may be one shared list, so that a test can hold the order in which things happened.
"""

from __future__ import annotations

import itertools
import math
import time
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from centwise.errors import DeviceError, ElsewhereError, StoreError
from centwise.model import (
    ESTIMATE_METHOD,
    BenchAct,
    BenchPlan,
    BenchResult,
    BlockPlan,
    BlockResult,
    Condition,
    Listener,
    Sound,
    Trial,
)
from centwise.ports import (
    BlockOutline,
    BlockSummary,
    Holdings,
    KeptRow,
    Player,
    Recorder,
    Services,
    StoredBench,
    StoredBlock,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

READING_S = 0.0005
"""How long reading a scripted microphone really takes: a loop that does nothing else must not keep the processor."""

START = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)


class ManualClock:
    """A clock that moves only when told to; sleeping moves it at once."""

    def __init__(self, start: datetime = START) -> None:
        self._start = start
        self.passed_s = 0.0

    def now(self) -> datetime:
        return self._start + timedelta(seconds=self.passed_s)

    def monotonic_s(self) -> float:
        return self.passed_s

    def sleep(self, seconds: float) -> None:
        self.advance(seconds)

    def advance(self, seconds: float) -> None:
        self.passed_s += seconds


class MemoryStore:
    """Keeps everything in memory. Put a method's name into `broken`, and calling it raises StoreError."""

    def __init__(self, calls: list[str] | None = None) -> None:
        self.calls: list[str] = [] if calls is None else calls
        self.broken: set[str] = set()
        self.closed = False
        self._listeners: dict[str, Listener] = {}
        self._last: str | None = None
        self._blocks: dict[str, StoredBlock] = {}
        self._benches: dict[str, StoredBench] = {}
        self._settings: dict[str, str] = {}
        self._merged: dict[str, str] = {}
        self._class_rows: dict[str, KeptRow] = {}

    def _called(self, name: str) -> None:
        if name in self.broken:
            raise StoreError(f"the store in memory cannot {name}", "mend the test")
        self.calls.append(name)

    def listeners(self) -> tuple[Listener, ...]:
        self._called("listeners")
        return tuple(sorted(self._listeners.values(), key=lambda who: (who.id != self._last, who.name.casefold())))

    def listener_named(self, name: str) -> Listener | None:
        self._called("listener_named")
        return next((who for who in self._listeners.values() if who.name.casefold() == name.casefold()), None)

    def add_listener(self, listener: Listener) -> None:
        self._called("add_listener")
        if listener.id in self._listeners or self.listener_named(listener.name) is not None:
            raise StoreError(f"the listener {listener.name!r} is there already", "choose another name")
        self._listeners[listener.id] = listener

    def set_scale_mm(self, listener_id: str, scale_mm: float) -> None:
        self._called("set_scale_mm")
        self._listeners[listener_id] = replace(self._listeners[listener_id], scale_mm=scale_mm)

    def listener_with_id(self, listener_id: str) -> Listener | None:
        self._called("listener_with_id")
        return self._listeners.get(self._merged.get(listener_id, listener_id))

    def change_listener(self, listener: Listener, *, was: Listener | None = None) -> None:
        self._called("change_listener")
        namesake = self.listener_named(listener.name)
        if namesake is not None and namesake.id != listener.id:
            raise StoreError(f"the name {listener.name!r} is taken", "choose another name")
        self._listeners[listener.id] = listener

    def holdings(self, listener_id: str) -> Holdings:
        self._called("holdings")
        blocks = [block for block in self._blocks.values() if block.plan.listener_id == listener_id]
        counts = {"blocks": len(blocks), "trials": sum(len(block.trials) for block in blocks)}
        return Holdings(self._listeners[listener_id], {table: count for table, count in counts.items() if count})

    def remove_listener(self, listener_id: str, *, keep_copy: bool, told: Holdings | None = None) -> Path | None:
        self._called("remove_listener")
        del self._listeners[listener_id]
        self._blocks = {k: block for k, block in self._blocks.items() if block.plan.listener_id != listener_id}
        self._benches = {k: bench for k, bench in self._benches.items() if bench.plan.listener_id != listener_id}
        return Path("copies", "removed-1") if keep_copy else None

    def merge_listeners(self, from_id: str, into_id: str) -> Path:
        self._called("merge_listeners")
        goes, stays = self._listeners.pop(from_id), self._listeners[into_id]
        self._listeners[into_id] = replace(stays, note="\n".join(n for n in (stays.note, goes.note) if n))
        for key, block in self._blocks.items():
            if block.plan.listener_id == from_id:
                self._blocks[key] = replace(block, plan=replace(block.plan, listener_id=into_id))
        for key, bench in self._benches.items():
            if bench.plan.listener_id == from_id:
                self._benches[key] = replace(bench, plan=replace(bench.plan, listener_id=into_id))
        self._merged[from_id] = into_id
        return Path("copies", "merged-1")

    def summaries(self, listener_id: str | None = None) -> tuple[BlockSummary, ...]:
        self._called("summaries")
        found = [b for b in self._blocks.values() if listener_id in {None, b.plan.listener_id}]
        found.sort(key=lambda block: (block.plan.listener_id, block.plan.started_at))
        return tuple(map(summary_of, found))

    def outlines(self, listener_id: str | None = None) -> tuple[BlockOutline, ...]:
        return tuple(block.outline for block in self.summaries(listener_id))

    def class_rows(self) -> tuple[KeptRow, ...]:
        self._called("class_rows")
        found = []
        for listener in self.listeners():
            revision = sum(
                1 + len(block.trials) + (block.result is not None)
                for block in self._blocks.values()
                if block.plan.listener_id == listener.id
            )
            kept = self._class_rows.get(listener.id)
            good = kept is not None and kept.row is not None and kept.revision == revision
            row = replace(kept.row, listener=listener) if good else None
            found.append(KeptRow(listener, revision, row))
        return tuple(found)

    def keep_class_rows(self, rows: Sequence[KeptRow]) -> None:
        self._called("keep_class_rows")
        self._class_rows.update({row.listener.id: row for row in rows})

    def begin_block(self, plan: BlockPlan) -> None:
        self._called("begin_block")
        self._blocks[plan.id] = StoredBlock(plan, (), None)
        self._last = plan.listener_id

    def add_trial(self, block_id: str, trial: Trial) -> None:
        self._called("add_trial")
        block = self._open(block_id)
        if any(kept.n == trial.n for kept in block.trials):
            raise ElsewhereError(f"trial {trial.n} is kept already", "go on there")
        self._blocks[block_id] = replace(block, trials=(*block.trials, trial))

    def end_block(self, block_id: str, result: BlockResult, ended_at: datetime, *, answers: int | None = None) -> None:
        self._called("end_block")
        block = self._open(block_id)
        if answers not in {None, len(block.trials)}:
            raise ElsewhereError(f"{len(block.trials)} answers are kept and not {answers}", "go on there")
        self._blocks[block_id] = replace(block, result=result)

    def blocks(self, listener_id: str, condition: Condition | None = None) -> tuple[StoredBlock, ...]:
        self._called("blocks")
        return tuple(
            block
            for block in self._blocks.values()
            if block.plan.listener_id == listener_id and condition in {None, block.plan.condition}
        )

    def block_with_id(self, block_id: str) -> StoredBlock | None:
        self._called("block_with_id")
        return self._blocks.get(block_id)

    def begin_bench(self, plan: BenchPlan, first_act: BenchAct | None = None) -> None:
        self._called("begin_bench")
        self._benches[plan.id] = StoredBench(plan, () if first_act is None else (first_act,), None)
        self._last = plan.listener_id

    def add_bench_act(self, bench_id: str, act: BenchAct, result: BenchResult | None = None) -> None:
        self._called("add_bench_act")
        bench = self._benches[bench_id]
        if bench.result is not None or any(kept.n == act.n for kept in bench.acts):
            raise ElsewhereError(f"the rehearsal {bench_id!r} has ended or has act {act.n}", "begin a new one")
        self._benches[bench_id] = replace(bench, acts=(*bench.acts, act), result=result)

    def benches(self, listener_id: str) -> tuple[StoredBench, ...]:
        self._called("benches")
        return tuple(bench for bench in self._benches.values() if bench.plan.listener_id == listener_id)

    def unfinished_bench(self, listener_id: str) -> StoredBench | None:
        self._called("unfinished_bench")
        found = [b for b in self._benches.values() if b.plan.listener_id == listener_id and b.result is None]
        return found[-1] if found else None

    def setting(self, key: str) -> str | None:
        self._called("setting")
        return self._settings.get(key)

    def set_setting(self, key: str, value: str) -> None:
        self._called("set_setting")
        self._settings[key] = value

    def close(self) -> None:
        self.closed = True

    def block(self, block_id: str) -> StoredBlock:
        """Return one block, without a record of the call."""
        return self._blocks[block_id]

    def _open(self, block_id: str) -> StoredBlock:
        if block_id not in self._blocks:
            raise StoreError(f"there is no block {block_id!r}", "begin it first")
        block = self._blocks[block_id]
        if block.result is not None:
            raise ElsewhereError(f"the block {block_id!r} has ended", "begin a new one")
        return block


class RecordedPlayback:
    """A sound that was handed over. It is over at once unless its player was made with a clock."""

    path: Path | None = None

    def __init__(self, player: RecordingPlayer, sound: Sound) -> None:
        self._player = player
        self._sound = sound
        self._clock = player.clock
        self._started_s = 0.0 if player.clock is None else player.clock.monotonic_s()
        self.stopped_at_s: float | None = None
        self.holes = player.holes

    def lost_s(self) -> float:
        return self.holes

    def position_s(self) -> float:
        if self.stopped_at_s is not None:
            return self.stopped_at_s
        if self._clock is None:
            return self._sound.duration_s
        return min(self._clock.monotonic_s() - self._started_s, self._sound.duration_s)

    def wait(self, timeout_s: float | None = None) -> bool:
        if self._player.fails_at_wait:
            raise DeviceError("the loudspeaker went away", "plug it in again")
        left_s = 0.0 if self.stopped_at_s is not None else self._sound.duration_s - self.position_s()
        if timeout_s is not None and left_s > timeout_s:
            return False
        if self._clock is not None:
            self._clock.sleep(max(left_s, 0.0))
        return True

    def stop(self) -> None:
        if self.stopped_at_s is None:
            self.stopped_at_s = self.position_s()


class RecordingPlayer:
    """Remembers every sound handed to it, in `sounds`; fails at `play` or at `wait` when told to."""

    name = "recording"
    rate_hz = 48_000

    def __init__(self, calls: list[str] | None = None, clock: ManualClock | None = None) -> None:
        self.calls: list[str] = [] if calls is None else calls
        self.clock = clock
        self.level_db = -12.0
        self.sounds: list[Sound] = []
        self.playbacks: list[RecordedPlayback] = []
        self.holes = 0.0
        self.fails_at_play = False
        self.fails_at_wait = False
        self.closed = False

    def play(self, sound: Sound) -> RecordedPlayback:
        if self.fails_at_play:
            raise DeviceError("no loudspeaker takes the sound", "plug one in")
        self.calls.append(f"play {sound.name}")
        if self.playbacks:
            self.playbacks[-1].stop()
        self.sounds.append(sound)
        self.playbacks.append(RecordedPlayback(self, sound))
        return self.playbacks[-1]

    def close(self) -> None:
        self.closed = True


class ScriptedRecorder:
    """A microphone that hears what a test wrote, at the pace of a clock moved by hand: reading moves it.

    Args:
        clock: moved by `read`.
        heard: float32, shape (frames,); silence follows it for ever.
        lost_at_s: when the device goes away, counted from the opening; None for never.
        calls: as in the other fakes.
    """

    device = "a microphone of the tests"
    device_rate_hz: int | None = 44_100

    def __init__(
        self,
        clock: ManualClock,
        heard: NDArray[np.float32],
        *,
        rate_hz: int = 48_000,
        lost_at_s: float | None = None,
        calls: list[str] | None = None,
    ) -> None:
        self.rate_hz = rate_hz
        self.calls: list[str] = [] if calls is None else calls
        self.closed = False
        self.lag = 0.0
        self._clock = clock
        self._opened_s = clock.monotonic_s()
        self._heard = heard
        self._lost_at_s = lost_at_s
        self._at = self._from = 0
        self._latest = np.zeros(0, np.float32)

    def hear(self, heard: NDArray[np.float32]) -> None:
        """Let something be heard from now on, in place of what was to come."""
        self._heard, self._from = heard, self._at

    def read(self, timeout_s: float) -> NDArray[np.float32]:
        self.calls.append("read")
        passed_s = self._clock.monotonic_s() - self._opened_s
        if self._lost_at_s is not None and passed_s >= self._lost_at_s:
            raise DeviceError("the microphone went away", "plug it in again")
        self._clock.sleep(timeout_s)
        time.sleep(READING_S)
        since, self._at = self._at, round((passed_s + timeout_s) * self.rate_hz)
        self._latest = np.zeros(self._at - since, np.float32)
        there = self._heard[since - self._from : self._at - self._from]
        self._latest[: len(there)] = there
        return self._latest

    def lag_s(self) -> float:
        return self.lag

    def level_dbfs(self) -> float:
        peak = float(np.max(np.abs(self._latest), initial=0.0))
        return 20.0 * math.log10(peak) if peak > 0.0 else -math.inf

    def close(self) -> None:
        self.closed = True


@dataclass
class FakeWorld:
    """All fakes together, sharing one list of calls, and the Services made of them."""

    calls: list[str] = field(default_factory=list)
    clock: ManualClock = field(default_factory=ManualClock)
    seed: int = 11

    def __post_init__(self) -> None:
        self.store = MemoryStore(self.calls)
        self.player = RecordingPlayer(self.calls)
        self._ids = itertools.count(1)
        self.no_device = False
        self.recorder: ScriptedRecorder | None = None

    @property
    def services(self) -> Services:
        return Services(
            store=self.store,
            clock=self.clock,
            new_id=lambda: f"id-{next(self._ids)}",
            new_seed=lambda: self.seed,
            open_player=self._open_player,
            open_recorder=self._open_recorder,
        )

    def _open_recorder(self) -> Recorder:
        if self.recorder is None:
            raise DeviceError("there is no microphone", "plug one in, or use centwise measure on files")
        return self.recorder

    def _open_player(self) -> Player:
        if self.no_device:
            raise DeviceError("there is no sound device", "plug one in or use --player silent")
        return self.player


def summary_of(block: StoredBlock) -> BlockSummary:
    """Return a block without its trials."""
    instants = [block.plan.started_at, *(trial.answered_at for trial in block.trials)]
    gaps = [(after - before).total_seconds() for before, after in itertools.pairwise(instants)]
    return BlockSummary(
        plan=block.plan,
        result=block.result,
        answered=len(block.trials),
        practised_s=sum(min(max(gap, 0.0), 60.0) for gap in gaps),
        last_answer_at=max((trial.answered_at for trial in block.trials), default=None),
        method=None if block.result is None else ESTIMATE_METHOD,
    )


def block_plan(**changes: Any) -> BlockPlan:
    """Return a plan of 40 pairs on the 4th string by the balanced rule, with changes to plan or condition."""
    condition = Condition(**{key: changes.pop(key) for key in tuple(changes) if key in _CONDITION})
    values: dict[str, Any] = {
        "id": "block-1",
        "listener_id": "listener-1",
        "condition": condition,
        "rule": "balanced",
        "trials": 40,
        "assess": False,
        "seed": 11,
        "scale_mm": 666.75,
        "player": "recording",
        "started_at": START,
    }
    return BlockPlan(**(values | changes))


_CONDITION = {"instrument", "string", "muted", "likeness", "order", "voice"}
