"""The store against a plain model in memory: whatever is done, what is read after reopening is the same."""

from __future__ import annotations

import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from centwise.errors import StoreError
from centwise.model import JUDGEMENTS, TONES, VOICES, BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.ports import StoredBlock
from centwise.store.sqlite import SqliteStore

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
        self.last_used: str | None = None
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
        if id_ in self.listeners or name.casefold() in taken:
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
            self.listeners[id_] = Listener(id_, self.listeners[id_].name, scale_mm)

    @rule(id_=ids, listener_id=ids, condition=conditions, at=instants, until=maybe, assess=st.booleans())
    def begin(
        self, id_: str, listener_id: str, condition: Condition, at: datetime, until: float | None, assess: bool
    ) -> None:
        plan = BlockPlan(
            id_, listener_id, condition, "weighted", 3, assess, 2**32 - 1, 650.0, "silent", at, 2, until, None, until
        )
        if id_ in self.plans or listener_id not in self.listeners:
            with pytest.raises(StoreError):
                self.store.begin_block(plan)
        else:
            self.store.begin_block(plan)
            self.plans[id_] = plan
            self.trials[id_] = {}
            self.last_used = listener_id

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
        by_name.sort(key=lambda known: known.id != self.last_used)
        assert list(self.store.listeners()) == by_name
        for listener in by_name:
            assert self.store.listener_named(listener.name.upper()) == listener
            # sorted() is stable, so blocks begun at one instant keep the order they were begun in.
            mine = sorted(
                (id_ for id_, plan in self.plans.items() if plan.listener_id == listener.id),
                key=lambda id_: self.plans[id_].started_at,
            )
            assert list(self.store.blocks(listener.id)) == [self.stored(id_) for id_ in mine]
            for condition in {self.plans[id_].condition for id_ in mine}:
                of_condition = [self.stored(id_) for id_ in mine if self.plans[id_].condition == condition]
                assert list(self.store.blocks(listener.id, condition)) == of_condition
            unfinished = [id_ for id_ in mine if id_ not in self.results]
            expected = self.stored(unfinished[-1]) if unfinished else None
            assert self.store.unfinished_block(listener.id) == expected
        for key in ("a", "b", "c"):
            assert self.store.setting(key) == self.settings.get(key)


TestStoreAndModel = StoreAndModel.TestCase
TestStoreAndModel.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)
