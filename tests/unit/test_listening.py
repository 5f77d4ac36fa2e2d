"""The listening level: quiet at first, small steps, never louder than rendered."""

from __future__ import annotations

import numpy as np
import pytest

from banjo import FIVE_STRING
from centwise.listening import (
    ADVICE,
    DEVICE_KEY,
    LEVEL_KEY,
    change_level,
    level_now,
    settle_level,
    sound_level_tone,
    stored_level_db,
)
from centwise.strings.library import BUILT_IN
from fakes import MemoryStore, RecordingPlayer


@pytest.mark.parametrize(
    ("kept", "level_db"),
    [
        (None, -12.0),
        ("-20", -20.0),
        ("0", 0.0),
        ("6", -12.0),
        ("inf", -12.0),
        ("-inf", -42.0),
        ("-90", -42.0),
        ("nan", -12.0),
        ("loud", -12.0),
        ("", -12.0),
    ],
)
def test_whatever_is_kept_the_level_is_within_its_range(kept: str | None, level_db: float) -> None:
    store = MemoryStore()
    if kept is not None:
        store.set_setting(LEVEL_KEY, kept)
    assert stored_level_db(store) == level_db


def test_steps_are_kept_and_stop_at_both_ends() -> None:
    store, player = MemoryStore(), RecordingPlayer()
    assert change_level(player, store, 1) == player.level_db == stored_level_db(store) == -10.0
    assert change_level(player, store, 99) == player.level_db == stored_level_db(store) == 0.0
    assert change_level(player, store, -99) == player.level_db == stored_level_db(store) == -42.0
    assert change_level(player, store, 0) == -42.0


@pytest.mark.parametrize("string", [1, 2, 3, 4, 5])
def test_the_tone_is_the_same_each_time_and_below_the_peak(string: int) -> None:
    player = RecordingPlayer()
    sound_level_tone(player, FIVE_STRING, string)
    sound_level_tone(player, FIVE_STRING, string)
    first, second = (sound.samples for sound in player.sounds)
    np.testing.assert_array_equal(first, second)
    assert np.abs(first).max() <= 10 ** (-6 / 20)
    assert player.sounds[0].name == f"open-string-{string}"


def test_without_being_told_it_is_the_bass_sides_string() -> None:
    player = RecordingPlayer()
    sound_level_tone(player)
    sound_level_tone(player, BUILT_IN.named("archtop-guitar"))
    assert [sound.name for sound in player.sounds] == ["open-string-4", "open-string-6"]


def test_the_advice_is_in_sentences_and_names_the_standards_figures() -> None:
    # WHO-ITU safe listening, ITU-T H.870: adults 80 dB(A) x 40 h a week, 3 dB exchange.
    assert all(sentence.endswith(".") for sentence in ADVICE)
    said = " ".join(ADVICE)
    for words in ("80 dB(A)", "40 hours a week", "half the hours per 3 dB", "H.870", "no hearing test", "audiologist"):
        assert words in said


def test_another_output_than_last_time_begins_quietly() -> None:
    # Loudspeakers yesterday, a headphone today: the same level may be far louder at the ear.
    store, player = MemoryStore(), RecordingPlayer()
    store.set_setting(LEVEL_KEY, "-2")
    player.level_db = -2.0
    settle_level(player, store, "loudspeakers")
    assert player.level_db == stored_level_db(store) == -2.0
    settle_level(player, store, "loudspeakers")
    assert player.level_db == -2.0
    settle_level(player, store, "headphones")
    assert player.level_db == stored_level_db(store) == -12.0
    assert store.setting(DEVICE_KEY) == "headphones"
    change_level(player, store, -4)
    settle_level(player, store, "loudspeakers")
    assert player.level_db == -20.0
    settle_level(player, store, "")
    assert store.setting(DEVICE_KEY) == "loudspeakers"


def test_it_is_quiet_even_where_the_store_takes_nothing() -> None:
    store, player = MemoryStore(), RecordingPlayer()
    store.set_setting(DEVICE_KEY, "loudspeakers")
    store.broken.add("set_setting")
    player.level_db = -2.0
    settle_level(player, store, "headphones")
    assert player.level_db == -12.0


def test_a_player_that_stands_at_0_db_makes_no_level_loud() -> None:
    # Looking around without sound, or into files: a step must start from the level kept, never from 0 dB.
    for name in ("silent", "file:wavs"):
        store, player = MemoryStore(), RecordingPlayer()
        store.set_setting(LEVEL_KEY, "-20")
        player.name, player.level_db = name, 0.0
        assert level_now(player, store) == -20.0
        assert change_level(player, store, 1) == stored_level_db(store) == -18.0
        # What a file holds is what was rendered.
        assert player.level_db == (0.0 if name.startswith("file:") else -18.0)
