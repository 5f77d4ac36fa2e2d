"""The store against a plain model in memory: whatever is done, what is read after reopening is the same."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from centwise.class_view import class_rows
from centwise.errors import StoreError, UsageError
from centwise.model import JUDGEMENTS, TONES, VOICES, BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.ports import StoredBlock
from centwise.progress import class_row_of
from centwise.store.sqlite import SqliteStore
from fakes import summary_of

ids = st.sampled_from(["a", "b", "c"])
names = st.sampled_from(["Ann", "ann", "Bo", "Élan", "élan", "李"])
conditions = st.builds(
    Condition,
    string=st.integers(1, 2),
    muted=st.booleans(),
    likeness=st.sampled_from([0.0, 0.5]),
    order=st.sampled_from(["harmonic-first", "both"]),
    voice=st.sampled_from(VOICES),
)
instants = st.integers(0, 5).map(lambda days: datetime(2026, 3, 1, tzinfo=UTC) + timedelta(days=days))
maybe = st.none() | st.floats(-100.0, 100.0)
trials = st.builds(
    Trial,
    n=st.integers(1, 4),
    offset_cents=st.floats(-100.0, 100.0),
    first=st.sampled_from(TONES),
    answer=st.sampled_from(JUDGEMENTS),
    answered_at=instants,
    replays=st.integers(0, 3),
    scored=st.booleans(),
)
results = st.builds(
    BlockResult,
    trials=st.integers(0, 40),
    correct=st.integers(0, 40),
    threshold_cents=maybe,
    low_cents=maybe,
    high_cents=maybe,
    bias_cents=maybe,
    bias_low_cents=maybe,
    bias_high_cents=maybe,
    unison_window_cents=maybe,
    travel_mm=maybe,
    travel_low_mm=maybe,
    travel_high_mm=maybe,
    travel_sixty_fourths=st.none() | st.integers(-64, 64),
)


class StoreAndModel(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.store = SqliteStore.open(self.folder)
        self.listeners: dict[str, Listener] = {}
        self.used: list[str] = []
        self.merged: dict[str, str] = {}
        self.plans: dict[str, BlockPlan] = {}
        self.trials: dict[str, dict[int, Trial]] = {}
        self.results: dict[str, BlockResult] = {}
        self.settings: dict[str, str] = {}

    def teardown(self) -> None:
        self.store.close()
        shutil.rmtree(self.folder)

    @rule(id_=ids, name=names, scale_mm=st.floats(1.0, 2000.0))
    def add_listener(self, id_: str, name: str, scale_mm: float) -> None:
        listener = Listener(id_, name, scale_mm)
        taken = {known.name.casefold() for known in self.listeners.values()}
        if id_ in self.listeners or id_ in self.merged or name.casefold() in taken:
            with pytest.raises(StoreError):
                self.store.add_listener(listener)
        else:
            self.store.add_listener(listener)
            self.listeners[id_] = listener

    @rule(id_=ids, scale_mm=st.floats(1.0, 2000.0))
    def set_scale(self, id_: str, scale_mm: float) -> None:
        if id_ not in self.listeners:
            with pytest.raises(StoreError):
                self.store.set_scale_mm(id_, scale_mm)
        else:
            self.store.set_scale_mm(id_, scale_mm)
            self.listeners[id_] = replace(self.listeners[id_], scale_mm=scale_mm)

    @rule(id_=ids, name=names, note=st.sampled_from(["", "hears well", "two\nlines"]))
    def change(self, id_: str, name: str, note: str) -> None:
        changed = replace(self.listeners.get(id_, Listener(id_, name)), name=name, note=note)
        taken = {known.name.casefold() for known in self.listeners.values() if known.id != id_}
        if id_ not in self.listeners or name.casefold() in taken:
            with pytest.raises(StoreError):
                self.store.change_listener(changed)
        else:
            self.store.change_listener(changed)
            self.listeners[id_] = changed

    @rule(id_=ids, keep_copy=st.booleans())
    def remove(self, id_: str, keep_copy: bool) -> None:
        if id_ not in self.listeners:
            with pytest.raises(StoreError):
                self.store.remove_listener(id_, keep_copy=keep_copy)
            return
        folder = self.store.remove_listener(id_, keep_copy=keep_copy)
        if folder is not None:
            copy = SqliteStore.open(folder)
            assert copy.listeners() == (self.listeners[id_],)
            assert list(copy.blocks(id_)) == [self.stored(block) for block in self.of(id_)]
            copy.close()
        for block in self.of(id_):
            del self.plans[block], self.trials[block]
            self.results.pop(block, None)
        del self.listeners[id_]
        self.merged = {one: into for one, into in self.merged.items() if into != id_}
        self.used = [one for one in self.used if one != id_]

    @rule(goes=ids, stays=ids)
    def merge(self, goes: str, stays: str) -> None:
        if goes == stays or goes not in self.listeners or stays not in self.listeners:
            with pytest.raises((StoreError, UsageError)):
                self.store.merge_listeners(goes, stays)
            return
        self.store.merge_listeners(goes, stays)
        notes = (self.listeners[stays].note, self.listeners.pop(goes).note)
        joined = "\n".join(dict.fromkeys(note for note in notes if note))
        self.listeners[stays] = replace(self.listeners[stays], note=joined)
        for block in self.of(goes):
            self.plans[block] = replace(self.plans[block], listener_id=stays)
        self.used = [one for one in self.used if one != goes]
        self.merged = {one: stays if into == goes else into for one, into in self.merged.items()} | {goes: stays}

    def of(self, listener_id: str) -> list[str]:
        """Return a listener's blocks, oldest first, those begun at one instant in the order they were begun in."""
        mine = [id_ for id_, plan in self.plans.items() if plan.listener_id == listener_id]
        return sorted(mine, key=lambda id_: self.plans[id_].started_at)

    @rule(
        id_=ids,
        listener_id=ids,
        condition=conditions,
        at=instants,
        until=maybe,
        assess=st.booleans(),
        player=st.sampled_from(["silent", "miniaudio"]),
    )
    def begin(
        self,
        id_: str,
        listener_id: str,
        condition: Condition,
        at: datetime,
        until: float | None,
        assess: bool,
        player: str,
    ) -> None:
        plan = BlockPlan(
            id_, listener_id, condition, "weighted", 3, assess, 2**32 - 1, 650.0, player, at, 2, until, None, until
        )
        if id_ in self.plans or listener_id not in self.listeners:
            with pytest.raises(StoreError):
                self.store.begin_block(plan)
        else:
            self.store.begin_block(plan)
            self.plans[id_] = plan
            self.trials[id_] = {}
            self.used.append(listener_id)

    @rule(id_=ids, trial=trials)
    def answer(self, id_: str, trial: Trial) -> None:
        if id_ not in self.plans or id_ in self.results or trial.n in self.trials[id_]:
            with pytest.raises(StoreError):
                self.store.add_trial(id_, trial)
        else:
            self.store.add_trial(id_, trial)
            self.trials[id_][trial.n] = trial

    @rule(id_=ids, result=results, at=instants)
    def end(self, id_: str, result: BlockResult, at: datetime) -> None:
        if id_ not in self.plans or id_ in self.results:
            with pytest.raises(StoreError):
                self.store.end_block(id_, result, at)
        else:
            self.store.end_block(id_, result, at)
            self.results[id_] = result

    @rule(key=ids, value=st.text(st.characters(exclude_categories=["Cs"]), max_size=5))
    def set_setting(self, key: str, value: str) -> None:
        self.store.set_setting(key, value)
        self.settings[key] = value

    @rule()
    def reopen(self) -> None:
        self.store.close()
        self.store = SqliteStore.open(self.folder)

    def stored(self, id_: str) -> StoredBlock:
        ordered = tuple(trial for _, trial in sorted(self.trials[id_].items()))
        return StoredBlock(self.plans[id_], ordered, self.results.get(id_))

    @invariant()
    def the_same(self) -> None:
        by_name = sorted(self.listeners.values(), key=lambda known: known.name.casefold())
        last_used = self.used[-1] if self.used else None
        by_name.sort(key=lambda known: known.id != last_used)
        assert list(self.store.listeners()) == by_name
        for listener in by_name:
            assert self.store.listener_named(listener.name.upper()) == listener
            mine = self.of(listener.id)
            assert list(self.store.blocks(listener.id)) == [self.stored(id_) for id_ in mine]
            for condition in {self.plans[id_].condition for id_ in mine}:
                of_condition = [self.stored(id_) for id_ in mine if self.plans[id_].condition == condition]
                assert list(self.store.blocks(listener.id, condition)) == of_condition
            assert [self.store.block_with_id(id_) for id_ in mine] == [self.stored(id_) for id_ in mine]
            summaries = self.store.summaries(listener.id)
            assert [(found.plan, found.answered, found.last_answer_at) for found in summaries] == [
                (one.plan, one.answered, one.last_answer_at) for one in map(summary_of, map(self.stored, mine))
            ]
        assert [row.listener for row in class_rows(self.store)] == by_name
        assert [kept.row for kept in self.store.class_rows()] == [
            class_row_of(listener, [one.outline for one in self.store.summaries(listener.id)]) for listener in by_name
        ]
        assert self.store.stale_summaries() == 0
        for id_, into in self.merged.items():
            assert self.store.listener_with_id(id_) == self.listeners[into]
        for key in ("a", "b", "c"):
            assert self.store.setting(key) == self.settings.get(key)


TestStoreAndModel = StoreAndModel.TestCase
TestStoreAndModel.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)
