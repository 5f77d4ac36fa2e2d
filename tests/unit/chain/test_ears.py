"""The tone to each side: soft at first, never above its ceiling, and every way of hearing it told apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from centwise.chain.ears import LOUDEST_DB, PEAK_DBFS, START_DB, check_ears, ear_tone
from centwise.errors import DeviceError
from fakes import RecordingPlayer

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.chain.line import CheckLine
    from centwise.model import Sound


class SidedFake(RecordingPlayer):
    """Remembers for each sound where and how loud it was."""

    def __init__(self) -> None:
        super().__init__()
        self.sides = (1.0, 1.0)
        self.heard: list[tuple[tuple[float, float], float]] = []

    def play(self, sound: Sound) -> object:
        self.heard.append((self.sides, self.level_db))
        return super().play(sound)

    @property
    def side(self) -> str:
        return {(1.0, 0.0): "left", (0.0, 1.0): "right", (1.0, 1.0): "both"}[self.sides]


def asked(answer: Callable[[SidedFake], str | None], seed: int = 1) -> tuple[CheckLine, SidedFake]:
    player = SidedFake()
    line = check_ears(lambda: player, lambda _number: answer(player), lambda _sentence: None, seed)
    assert player.closed
    return line, player


def test_the_tone_rises_and_falls_and_stays_below_its_ceiling() -> None:
    tone = ear_tone(48_000)
    assert np.max(np.abs(tone.samples)) <= 10.0 ** (PEAK_DBFS / 20.0) + 1e-7
    assert tone.samples[0] == tone.samples[-1] == 0.0
    # Within its first and last 10 ms no more than a fortieth of its peak (sin^2 of 9 degrees): no click.
    assert np.max(np.abs(tone.samples[:480])) < 0.025 * np.max(np.abs(tone.samples))
    assert np.max(np.abs(tone.samples[-480:])) < 0.025 * np.max(np.abs(tone.samples))


def test_each_side_heard_where_it_sounded_passes() -> None:
    line, player = asked(lambda player: player.side)
    assert line.status == "passed"
    assert "no hearing test" in line.finding
    assert {side for side, _level in player.heard} == {(1.0, 0.0), (0.0, 1.0), (1.0, 1.0)}
    assert all(level == START_DB for _side, level in player.heard)


def test_the_order_is_drawn() -> None:
    orders = {tuple(side for side, _ in asked(lambda player: player.side, seed)[1].heard) for seed in range(40)}
    assert len(orders) == 6


@pytest.mark.parametrize(
    ("hears", "words"),
    [
        ({"left": "right", "right": "left", "both": "both"}, "changed places"),
        ({"left": "both", "right": "both", "both": "both"}, "this output is mono"),
        ({"left": "nothing", "right": "right", "both": "right"}, "nothing was heard on the left"),
        ({"left": "nothing", "right": "nothing", "both": "nothing"}, "nothing was heard on the left or the right"),
        (
            {"left": "right", "right": "nothing", "both": "left"},
            "nothing was heard on the right; left sounded and right was heard, both sounded and left was heard",
        ),
        ({"left": "left", "right": "right", "both": "left"}, "both sounded and left was heard"),
    ],
)
def test_every_other_way_of_hearing_it_fails_with_its_reason(hears: dict[str, str], words: str) -> None:
    line, _player = asked(lambda player: hears[player.side])
    assert line.status == "failed"
    assert words in line.finding
    assert line.to_do
    assert line.figures["heard"] == hears


def test_nothing_makes_it_louder_step_by_step_up_to_the_ceiling_and_the_next_side_is_soft_again() -> None:
    line, player = asked(lambda player: "nothing" if player.side == "left" else player.side)
    assert line.status == "failed"
    left = [level for side, level in player.heard if side == (1.0, 0.0)]
    assert left == [float(level) for level in range(-30, 1, 3)]
    assert max(left) == LOUDEST_DB
    assert {level for side, level in player.heard if side != (1.0, 0.0)} == {START_DB}
    assert line.figures["loudest_dbfs"] == PEAK_DBFS


def test_again_repeats_at_the_same_level() -> None:
    answers = iter(["again", "again"])
    line, player = asked(lambda player: next(answers, None) or player.side)
    assert line.status == "passed"
    assert len(player.heard) == 5
    assert {level for _side, level in player.heard} == {START_DB}


@pytest.mark.parametrize("ending", [None, "quit"])
def test_no_answer_is_not_checked(ending: str | None) -> None:
    line, _player = asked(lambda _player: ending)
    assert line.status == "not checked"
    assert "tone 1 of 3" in line.finding


def test_no_device_is_not_checked_and_one_that_goes_away_fails() -> None:
    def no_device() -> SidedFake:
        raise DeviceError("no sound device was found", "plug one in")

    line = check_ears(no_device, lambda _: "left", lambda _: None, 1)
    assert (line.status, line.finding) == ("not checked", "no sound device was found")
    player = SidedFake()
    player.fails_at_wait = True
    assert check_ears(lambda: player, lambda _: "left", lambda _: None, 1).status == "failed"
    assert player.closed
