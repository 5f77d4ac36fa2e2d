"""The ranges tones can be rendered in, each refusal naming the value. Imports model and below."""

from __future__ import annotations

from centwise.errors import UsageError
from centwise.model import MAX_OFFSET_CENTS
from centwise.units import number_text

MIN_RATE_HZ = 22_050
MAX_RATE_HZ = 192_000


def check_rate_hz(rate_hz: int) -> int:
    """Return `rate_hz` if tones can be made at it (22 050 to 192 000 Hz), else raise UsageError."""
    if not MIN_RATE_HZ <= rate_hz <= MAX_RATE_HZ:
        raise UsageError(
            f"a rate of {rate_hz} Hz is outside {MIN_RATE_HZ} to {MAX_RATE_HZ}", "choose one such as 48000"
        )
    return rate_hz


def check_offset_cents(offset_cents: float) -> float:
    """Return `offset_cents` if it is within a semitone either way, else raise UsageError."""
    if not -MAX_OFFSET_CENTS <= offset_cents <= MAX_OFFSET_CENTS:
        raise UsageError(
            f"an offset of {number_text(offset_cents)} cents is outside -{MAX_OFFSET_CENTS:g} to {MAX_OFFSET_CENTS:g}",
            "choose a smaller one",
        )
    return offset_cents


def check_likeness(likeness: float) -> float:
    """Return `likeness` if it is within 0 and 1, else raise UsageError."""
    if not 0.0 <= likeness <= 1.0:
        raise UsageError(
            f"a likeness of {number_text(likeness)} is outside 0 to 1", "0 is the real difference, 1 is one voice"
        )
    return likeness
