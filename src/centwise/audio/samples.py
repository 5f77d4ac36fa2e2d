"""What every player does to a sound before it goes out: check it, apply the level, make whole numbers of it.

Nothing here can make a sample larger than it was rendered. Imports numpy, model and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from centwise.audio.level import gain_from_db
from centwise.errors import InputError
from centwise.model import CEILING_DBFS
from centwise.units import number_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.model import Samples, Sound

PLAYER_RATE_HZ = 48_000
"""The rate players ask for: the mixing rate of today's sound servers (common practice), so none resamples."""

CEILING = float(np.float32(10.0 ** (CEILING_DBFS / 20.0)))
"""As the largest float32 that a sample can have after rounding."""

MIN_RATE_HZ = 22_050
MAX_RATE_HZ = 192_000


def check_samples(samples: Samples, rate_hz: int) -> None:
    """Refuse what is no sound of ours.

    Args:
        samples: float32, shape (frames,), mono, at least one frame, finite, within -1..1.
        rate_hz: 22050 to 192000 frames per second.

    Raises:
        InputError: anything else, named.
    """
    if not isinstance(samples, np.ndarray) or samples.dtype != np.float32 or samples.ndim != 1:
        kind = (
            f"{samples.dtype} of shape {samples.shape}" if isinstance(samples, np.ndarray) else type(samples).__name__
        )
        raise InputError(f"a sound cannot be played as {kind}", "give it as mono float32 samples, shape (frames,)")
    if not len(samples):
        raise InputError("a sound has no samples", "give it at least one")
    peak = float(np.max(np.abs(samples)))
    if not peak <= 1.0:
        raise InputError(f"a sound reaches {number_text(peak)}", "keep every sample finite and within -1 to 1")
    if not MIN_RATE_HZ <= rate_hz <= MAX_RATE_HZ:
        raise InputError(
            f"a rate of {rate_hz} Hz is out of range", f"choose one from {MIN_RATE_HZ} to {MAX_RATE_HZ} Hz"
        )


def check_ceiling(samples: Samples) -> None:
    """Refuse what would be louder than anything centwise sounds: a sample beyond -6 dBFS, at whatever level.

    The last of several guards: whatever renders stays below it by itself, so this speaks only where that has failed.

    Args:
        samples: float32, shape (frames,), checked.

    Raises:
        InputError: a sample is larger; nothing of it may be heard.
    """
    peak = float(np.max(np.abs(samples), initial=0.0))
    if not peak <= CEILING:
        raise InputError(
            f"a sound reaches {20.0 * math.log10(peak):.1f} dBFS, above the {CEILING_DBFS:g} dBFS that are safe",
            "it was not played; make it softer",
        )


def levelled(sound: Sound, level_db: float, rate_hz: int | None = None) -> Samples:
    """Return a checked copy of a sound's samples at a level: the one way to every player.

    Args:
        sound: the sound to play.
        level_db: 0 dB or less.
        rate_hz: the only rate that is taken, or None for any.

    Returns:
        float32, shape (frames,); no sample larger than it was in `sound`.

    Raises:
        InputError: the sound is not mono float32 at the rate, or a sample is beyond the ceiling of -6 dBFS.
        UsageError: the level is above 0 dB.
    """
    check_samples(sound.samples, sound.rate_hz)
    check_ceiling(sound.samples)
    if rate_hz is not None and sound.rate_hz != rate_hz:
        raise InputError(f"the sound {sound.name!r} has {sound.rate_hz} Hz", f"render it at the player's {rate_hz} Hz")
    return sound.samples * np.float32(gain_from_db(level_db))


def whole_numbers(samples: Samples, bits: int) -> NDArray[np.int32]:
    """Round samples to signed whole numbers of so many bits, 1.0 being 2^(bits-1).

    Rounding is to the nearest, but the largest are held below the peak, so that what is read back as n/2^(bits-1)
    never exceeds what was given.

    Args:
        samples: float32, shape (frames,), within -1..1.
        bits: 2 to 24, which a float32 holds exactly.

    Returns:
        int32, shape (frames,).
    """
    scale = 2 ** (bits - 1)
    peak = float(np.max(np.abs(samples), initial=0.0))
    limit = min(math.floor(peak * scale), scale - 1)
    return np.clip(np.rint(samples * np.float64(scale)), -limit, limit).astype(np.int32)
