"""The listening level: advice, a quiet tone to set it by, and small steps that never exceed what was rendered.

A program cannot know how loud it is at the ear; it can start quiet, change in small steps and say what is safe.
Figures: WHO-ITU safe listening, ITU-T H.870: adults, 80 dB(A) for 40 hours a week, half the hours per 3 dB more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.draws import Draws, Purpose
from centwise.strings.library import BUILT_IN
from centwise.strings.names import DEFAULT_NAME
from centwise.tones.single import render_single

if TYPE_CHECKING:
    from centwise.ports import Playback, Player, Store
    from centwise.strings.instrument import Instrument

LEVEL_KEY = "level_db"
START_DB = -12.0
SOFTEST_DB, LOUDEST_DB = -42.0, 0.0
STEP_DB = 2.0

ADVICE = (
    "Turn the volume of this computer down before the first tone, then up until the tone is as loud as quiet talk.",
    "Safe listening for adults: 80 dB(A) for at most 40 hours a week, and half the hours for every 3 dB more.",
    "This is no hearing test: a worry about hearing belongs to an audiologist.",
)


def stored_level_db(store: Store) -> float:
    """Return the level kept from last time, or a quiet one to start with."""
    text = store.setting(LEVEL_KEY)
    try:
        level_db = START_DB if text is None else float(text)
    except ValueError:
        level_db = START_DB
    return min(max(level_db, SOFTEST_DB), LOUDEST_DB) if level_db == level_db else START_DB  # noqa: PLR0124  not NaN


def change_level(player: Player, store: Store, steps: int) -> float:
    """Make the player louder (+) or softer (-) by steps of 2 dB, keep the level, and return it in dB."""
    player.level_db = min(max(player.level_db + steps * STEP_DB, SOFTEST_DB), LOUDEST_DB)
    store.set_setting(LEVEL_KEY, f"{player.level_db:g}")
    return player.level_db


def sound_level_tone(
    player: Player, instrument: Instrument | None = None, string_number: int | None = None
) -> Playback:
    """Sound one open string at the present level, the same each time; without being told, the bass side's."""
    chosen = BUILT_IN.named(DEFAULT_NAME) if instrument is None else instrument
    tone = render_single(
        "open",
        chosen,
        chosen.bass_string if string_number is None else string_number,
        offset_cents=0.0,
        rate_hz=player.rate_hz,
        rng=Draws(0).stream(Purpose.TONES, 0),
    )
    return player.play(tone.sound)
