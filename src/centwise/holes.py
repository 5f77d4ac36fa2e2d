"""Holes in a sound: times at which the device had nothing to play. From what length on they are told, and how.

Imports nothing of centwise.
"""

from __future__ import annotations

HOLE_S = 0.01
"""A hole from this length on is told. Silences of some 3 ms are heard in noise (Plomp 1964, from memory); they are read
to within 5 ms, so shorter ones cannot be told from none."""


def hole_sentence(lost_s: float, what: str, *, again: bool, ask: str) -> str:
    """Say that a sound had a hole, as in `Pair 3 had a hole of 0.19 s in it`, and what comes next.

    Args:
        lost_s: the hole's length in seconds.
        what: what sounded, as `pair 3`.
        again: whether it follows once more by itself.
        ask: how it is asked for otherwise, as `say again`.
    """
    then = "here it is once more" if again else f"close other programs, then {ask}"
    name = f"{what[:1].upper()}{what[1:]}"
    return f"{name} had a hole of {lost_s:.2f} s in it, because this computer was busy: {then}."
