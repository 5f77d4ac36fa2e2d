"""The listening level: advice, a quiet tone to set it by, and small steps that never exceed what was rendered.

A program cannot know how loud it is at the ear; it can start quiet, change in small steps and say what is safe.
Figures: WHO-ITU safe listening, ITU-T H.870: adults, 80 dB(A) for 40 hours a week, half the hours per 3 dB more.
Imports audio and below.
"""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from centwise.audio.level import START_DB
from centwise.draws import Draws, Purpose
from centwise.errors import StoreError
from centwise.strings.library import BUILT_IN
from centwise.strings.names import DEFAULT_NAME
from centwise.tones.single import render_single

if TYPE_CHECKING:
    from centwise.ports import Playback, Player, Store
    from centwise.strings.instrument import Instrument

LEVEL_KEY = "level_db"
DEVICE_KEY = "level_device"
"""The output that the level was kept for: what was quiet talk in a loudspeaker may be loud in a headphone."""
SOFTEST_DB, LOUDEST_DB = -42.0, 0.0
STEP_DB = 2.0

ADVICE = (
    "Turn the volume of this computer down before the first tone, then up until the tone is as loud as quiet talk.",
    "Safe listening for adults: 80 dB(A) for at most 40 hours a week, half the hours per 3 dB more (WHO, ITU-T H.870).",
    "This is no hearing test: a worry about hearing belongs to an audiologist.",
)


def stored_level_db(store: Store) -> float:
    """Return the level kept from last time, or a quiet one: at first, and where what was kept can be none of ours."""
    text = store.setting(LEVEL_KEY)
    try:
        level_db = START_DB if text is None else float(text)
    except ValueError:
        return START_DB
    # Also false for what is no number: damage is met with quiet, never with the loudest there is.
    return max(level_db, SOFTEST_DB) if level_db <= LOUDEST_DB else START_DB


def settle_level(player: Player, store: Store, device: str) -> None:
    """Let a player that has just been opened begin quietly where it speaks to another output than last time.

    Args:
        player: at the level kept.
        store: keeps the level, and for which output.
        device: the system's name of the output; empty where it gives none, and then nothing is known to have changed.
    """
    if not device:
        return
    # A store that takes nothing more must not keep anybody from practising, and the quiet level holds without it.
    with suppress(StoreError):
        before = store.setting(DEVICE_KEY)
        if before == device:
            return
        if before is not None and player.level_db > START_DB:
            player.level_db = START_DB
            store.set_setting(LEVEL_KEY, f"{START_DB:g}")
        store.set_setting(DEVICE_KEY, device)


def level_now(player: Player | None, store: Store) -> float:
    """Return the listening level in dB: what is kept, or less where the player has been made softer.

    A player that writes files, or makes no sound, stands at 0 dB whatever the level is.
    """
    kept_db = stored_level_db(store)
    return kept_db if player is None else max(min(player.level_db, kept_db), SOFTEST_DB)


def change_level(player: Player, store: Store, steps: int) -> float:
    """Make the player louder (+) or softer (-) by steps of 2 dB, keep the level, and return it in dB."""
    level_db = min(max(level_now(player, store) + steps * STEP_DB, SOFTEST_DB), LOUDEST_DB)
    # A file is not heard at once: it holds what was rendered.
    if not player.name.startswith("file:"):
        player.level_db = level_db
    store.set_setting(LEVEL_KEY, f"{level_db:g}")
    return level_db


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
