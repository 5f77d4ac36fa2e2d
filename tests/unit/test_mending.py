"""Mending: summaries and results worked out anew from the answers, which stay as they are."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import astuple
from typing import TYPE_CHECKING

import numpy as np
import pytest

from centwise.chain.store import check_store
from centwise.drill.result import block_result
from centwise.errors import InputError
from centwise.mending import mend
from centwise.model import ESTIMATE_METHOD, JUDGEMENTS, Trial
from centwise.store.sqlite import FILE_NAME, SqliteStore
from fakes import START, block_plan
from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqliteStore]:
    make_class(tmp_path, MadeClass(listeners=3, blocks_each=3, trials_each=12))
    store = SqliteStore.open(tmp_path)
    yield store
    store.close()


def changed(store: SqliteStore, statement: str) -> None:
    with closing(sqlite3.connect(store.path, isolation_level=None)) as connection:
        connection.execute(statement)


def test_a_sound_store_is_left_alone(store: SqliteStore, tmp_path: Path) -> None:
    before = store.summaries()
    found = mend(store)
    assert (found.summaries, found.results, found.left, found.copy) == (0, 0, 0, None)
    assert store.summaries() == before
    assert not (tmp_path / "copies").exists()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE blocks SET answered = answered - 1 WHERE number = 2",
        "UPDATE blocks SET last_answer_at = NULL WHERE number = 2",
        "UPDATE blocks SET practised_s = -5 WHERE number = 2",
    ],
)
def test_summaries_that_went_wrong_fail_the_check_and_are_mended(
    store: SqliteStore, tmp_path: Path, statement: str
) -> None:
    before = store.summaries()
    changed(store, statement)
    line = check_store(tmp_path)[0]
    assert (line.status, line.to_do) == ("failed", "centwise check --mend works them out anew")
    assert "the summaries of 1 block do not say" in line.finding
    found = mend(store)
    assert (found.summaries, found.results) == (1, 0)
    assert store.summaries() == before
    assert check_store(tmp_path)[0].status == "passed"


def test_results_of_an_earlier_method_are_worked_out_anew_after_a_copy(store: SqliteStore, tmp_path: Path) -> None:
    changed(store, "UPDATE blocks SET method = 1, threshold_cents = 99.0 WHERE number <= 4")
    blocks = {block.plan.id: block for who in store.listeners() for block in store.blocks(who.id)}
    line = check_store(tmp_path)[0]
    assert line.status == "passed"
    assert "4 results came from an earlier estimate" in line.finding
    told: list[tuple[int, int]] = []
    found = mend(store, lambda done, every: told.append((done, every)))
    assert (found.results, told[-1], len(told)) == (4, (4, 4), 4)
    for summary in store.summaries():
        block = blocks[summary.plan.id]
        assert summary.method == ESTIMATE_METHOD
        mended = int(summary.plan.id.removeprefix("block-")) <= 4
        assert summary.result == (block_result(block.plan, block.trials) if mended else block.result)
    assert [b.trials for w in store.listeners() for b in store.blocks(w.id)] == [b.trials for b in blocks.values()]
    assert found.copy == tmp_path / "copies" / "mended-1"
    with closing(sqlite3.connect(found.copy / FILE_NAME)) as copy:
        assert copy.execute("SELECT count(*) FROM blocks WHERE threshold_cents = 99.0").fetchone() == (4,)


def test_a_block_of_an_instrument_not_known_here_is_mended_too(store: SqliteStore) -> None:
    changed(store, "UPDATE blocks SET method = 1, instrument = 'somebody''s own' WHERE number = 1")
    assert mend(store).results == 1
    assert store.outdated_blocks() == ()


def test_a_result_that_cannot_be_worked_out_stays_as_it_was(
    store: SqliteStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(plan: object, trials: object) -> object:
        raise InputError("these answers make no estimate", "look at them")

    monkeypatch.setattr("centwise.mending.block_result", refuse)
    changed(store, "UPDATE blocks SET method = 1 WHERE number = 1")
    before = store.summaries()
    found = mend(store)
    assert (found.results, found.left) == (0, 1)
    assert store.summaries() == before


def test_from_the_command_line(store: SqliteStore, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from centwise.cli.main import run

    changed(store, "UPDATE blocks SET method = 1 WHERE number = 1")
    assert run(["check", "--mend", "--data", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Worked out anew: the summaries of 0 blocks and 1 result.\nThe store as it was is in ")
    assert run(["check", "--mend", "--data", str(tmp_path)]) == 0
    assert capsys.readouterr().out.startswith("There is nothing to mend")
    assert run(["check", "--mend", "--loop"]) == 2
    assert "mending the store is a run of its own" in capsys.readouterr().err


SAID = {
    2: (3.004, 1.9083, 4.5739, -0.3347, -2.0336, 1.1687, 2.842, 1.1599, 0.7362, 1.7685),
    3: (3.0026, 1.9081, 4.57, -0.3255, -1.9643, 1.1324, 2.8446, 1.1594, 0.7361, 1.767),
}
"""The figures of `answers` by each method, as its code gave them: no outside check, only a watch on change."""


def answers() -> list[Trial]:
    """Forty answers of a made-up listener."""
    rng = np.random.default_rng(20)
    offsets = rng.choice((-16.0, -8.0, -4.0, 0.0, 4.0, 8.0, 16.0), 40)
    heard = offsets + rng.normal(1.0, 7.0, 40)
    words = [JUDGEMENTS[1] if abs(x) < 4.0 else JUDGEMENTS[0] if x < 0 else JUDGEMENTS[2] for x in heard]
    return [
        Trial(n, float(offset), "harmonic", word, START)
        for n, (offset, word) in enumerate(zip(offsets, words, strict=True), start=1)
    ]


def test_whoever_changes_the_estimate_gives_it_a_new_number() -> None:
    # Results are kept beside their method's number: other figures under the same number would never be worked out anew.
    result = block_result(block_plan(), answers())
    figures = [x for x in astuple(result) if isinstance(x, float)]
    assert ESTIMATE_METHOD in SAID, f"enter the figures of the new method: {tuple(round(x, 4) for x in figures)}"
    assert figures == pytest.approx(SAID[ESTIMATE_METHOD], rel=1e-3), "raise model.ESTIMATE_METHOD"
