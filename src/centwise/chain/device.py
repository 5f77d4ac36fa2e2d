"""The output: whether it opens, what it is, at what rate it runs, and how it takes a second of silence.

Imports numpy, audio and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.audio.miniaudio_player import MiniaudioPlayer
from centwise.chain.line import CheckLine, by_error, not_checked
from centwise.errors import DeviceError
from centwise.model import Sound, uses_device
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.ports import Clock, Player

TITLE = "Output"
SILENCE_S = 1.0
EARLY_S, LATE_S = 0.35, 1.0
"""How far from real time a second of silence may be over: its buffers, and a busy machine (judgement)."""


def check_device(open_player: Callable[[], Player], clock: Clock) -> CheckLine:
    """Open the output and give it a second of silence.

    Args:
        open_player: opens the player that is meant.
        clock: the time.
    """
    try:
        player = open_player()
    except DeviceError as error:
        return by_error("device", TITLE, "failed", error)
    try:
        if not uses_device(player.name):
            return not_checked(
                "device", TITLE, f"the player {player.name} uses no sound device", "choose another with --player"
            )
        began_s = clock.monotonic_s()
        silence = np.zeros(round(SILENCE_S * player.rate_hz), np.float32)
        player.play(Sound(silence, player.rate_hz, "silence")).wait()
        took_s = clock.monotonic_s() - began_s
        return _line(player, took_s)
    except DeviceError as error:
        return by_error("device", TITLE, "failed", error)
    finally:
        player.close()


def _line(player: Player, took_s: float) -> CheckLine:
    figures: dict[str, object] = {
        "player": player.name,
        "rate_hz": player.rate_hz,
        "silence_s": SILENCE_S,
        "silence_took_s": round(took_s, 3),
    }
    if isinstance(player, MiniaudioPlayer):
        found = player.description
        figures |= {
            "device": found.name or None,
            "backend": found.backend or None,
            "device_rate_hz": found.rate_hz,
            "device_channels": found.channels,
        }
        channels = "" if found.channels is None else f", {counted(found.channels, 'channel')}"
        what = f"{found.name or 'a device the system does not name'} through {found.backend}{channels}"
        rate = _rate_text(player.rate_hz, found.rate_hz)
    else:
        what, rate = f"the standard device, as {player.name} finds it", f"sounds are sent at {player.rate_hz} Hz"
    if not SILENCE_S - EARLY_S <= took_s <= SILENCE_S + LATE_S:
        return CheckLine(
            "device",
            TITLE,
            "failed",
            f"{what}: a second of silence was over after {took_s:.2f} s, so it does not keep time",
            "close programs that use it, or choose another device in the system's sound settings",
            figures,
        )
    return CheckLine("device", TITLE, "passed", f"{what}; {rate}", figures=figures)


def _rate_text(sent_hz: int, own_hz: int | None) -> str:
    if own_hz is None:
        return f"sounds are sent at {sent_hz} Hz; the system does not say at which rate it runs"
    if own_hz == sent_hz:
        return f"it runs at {own_hz} Hz, as sounds are sent, so nothing is resampled"
    return f"it runs at {own_hz} Hz and sounds are sent at {sent_hz} Hz, so the system resamples both tones alike"
