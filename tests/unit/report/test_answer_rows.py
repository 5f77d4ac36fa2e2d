"""Answers in bins of offset, and as rows of a spreadsheet."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.model import JUDGEMENTS, Judgement, Listener, Trial
from centwise.ports import StoredBlock
from centwise.report.answers import answer_rows, pooled_trials
from centwise.report.spreadsheet import COLUMNS, answer_cells, plain_cell, write_answers
from fakes import START, block_plan


def trial(n: int, offset: float, answer: Judgement, *, scored: bool = True) -> Trial:
    return Trial(n, offset, "harmonic", answer, START, scored=scored)


def test_bins_from_the_flattest_to_the_sharpest() -> None:
    rows = answer_rows(
        [
            trial(1, 0.0, "unison"),
            trial(2, -2.0, "flat"),
            trial(3, -2.01, "unison"),
            trial(4, 40.0, "sharp"),
            trial(5, 32.0, "sharp"),
            trial(6, 0.0, "sharp"),
            trial(7, -1.0, "sharp"),
        ]
    )
    assert [(row.label, row.asked, row.flat, row.unison, row.sharp, row.correct) for row in rows] == [
        ("flat, 2 to 4", 1, 0, 1, 0, 0),
        ("flat, up to 2", 2, 1, 0, 1, 1),
        ("unison", 2, 0, 1, 1, 1),
        ("sharp, 16 to 32", 1, 0, 0, 1, 1),
        ("sharp, over 32", 1, 0, 0, 1, 1),
    ]
    assert rows[1].mean_cents == -1.5


@given(st.lists(st.tuples(st.floats(-100, 100), st.sampled_from(JUDGEMENTS)), max_size=60))
def test_every_answer_is_in_one_bin(answers: list[tuple[float, Judgement]]) -> None:
    trials = [trial(n, offset, answer) for n, (offset, answer) in enumerate(answers, start=1)]
    rows = answer_rows(trials)
    assert sum(row.asked for row in rows) == len(trials)
    assert sum(row.flat + row.unison + row.sharp for row in rows) == len(trials)
    assert sum(row.correct for row in rows) == sum(t.correct for t in trials)
    assert [row.mean_cents for row in rows] == sorted(row.mean_cents for row in rows)


def test_the_last_blocks_are_pooled_without_what_does_not_count() -> None:
    def block(number: int, **plan: object) -> StoredBlock:
        trials = (trial(1, 4.0, "flat", scored=False), trial(2, float(number), "sharp"))
        return StoredBlock(block_plan(id=str(number), **plan), trials, None)

    blocks = [block(number) for number in range(1, 8)]
    blocks[3] = block(4, player="silent")
    blocks[4] = replace(block(5), trials=())
    blocks[5] = block(6, given_cents=(6.0,))
    assert [t.offset_cents for t in pooled_trials(blocks)] == [1.0, 2.0, 3.0, 7.0]
    assert [t.offset_cents for t in pooled_trials([block(n) for n in range(1, 8)])] == [3.0, 4.0, 5.0, 6.0, 7.0]


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "\r=1", "\n=1", "\uff1d1", "=cmd|' /C calc'!A0", "=", "\u00a0=1"],
)
def test_no_cell_is_a_formula(text: str) -> None:
    assert plain_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["Ada", "", "1", "Ada = Ben", "'=1", "עדה", "a-b"])
def test_other_cells_are_left_alone(text: str) -> None:
    assert plain_cell(text) == text


def test_one_row_an_answer() -> None:
    plan = block_plan(listener_id="l", player="file:/x")
    block = StoredBlock(plan, (trial(1, -8.0, "flat"), trial(2, 4.0, "unison", scored=False)), None)
    out = io.StringIO(newline="")
    assert write_answers(out, answer_cells(Listener("l", '=HYPERLINK("x", "y")\n'), [block])) == 2
    first, second = csv.DictReader(io.StringIO(out.getvalue(), newline=""))
    assert tuple(first) == COLUMNS
    assert first["listener"] == '\'=HYPERLINK("x", "y")\n'
    assert (first["n"], first["offset_cents"], first["truth"], first["correct"]) == ("1", "-8.0", "flat", "1")
    assert (second["answer"], second["correct"], second["scored"]) == ("unison", "0", "0")
    assert out.getvalue().count("\r\n") == 3
