"""A player at the bench who knows nothing but the sound files and the exact law, and does the job by the trade's order.

The pitch is read by phase (`pitch_meter`), not by the program's own reading. The law is that of a string whose bridge
stands d away from its place, S the scale length: fretted over harmonic = -1200 log2((S + 2d)/(S + d)), so
d = S(r - 1)/(2 - r) with r = 2^(-cents/1200) (derived in the facts of this project; rederived in the unit tests).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import soundfile
from pitch_meter import partial_hz

if TYPE_CHECKING:
    from listener_by_ear import Conversation

SCALE_MM = 26.25 * 25.4
OCTAVE_HZ = {1: 587.330, 2: 493.883, 3: 391.995, 4: 293.665, 5: 783.991}
"""The octave notes of g D G B D (ISO 16:1975, twelve-tone equal temperament)."""
SETTLED_S = 0.35
"""What the pick and the body add has died away by then."""
READ_S = 1.2
CONTENT_CENTS = 0.4
ROUNDS = 6
LEAST_MM = 0.05


class BenchPlayer:
    """Speaks with `centwise bench --events`."""

    def __init__(self, talk: Conversation) -> None:
        self.talk = talk
        self.opening = talk.hear()
        self.moves = 0

    def ask(self, words: str) -> dict[str, Any]:
        """Say an act and return what is answered."""
        self.talk.say(words)
        return self.talk.hear()

    def pitch_hz(self, words: str, near_hz: float) -> float:
        """Do a sounding act and return the pitch of its first partial."""
        return first_partial_hz(self.ask(words), near_hz)

    def compared_cents(self, string: int, times: int = 3) -> float:
        """Return the mean of a few comparisons: the fretted note over the harmonic."""
        near_hz = OCTAVE_HZ[string]
        found = []
        for _ in range(times):
            harmonic = self.pitch_hz(f"chime {string}", near_hz)
            found.append(1200.0 * np.log2(self.pitch_hz(f"fret {string}", near_hz) / harmonic))
        return float(np.mean(found))

    def set_side(self, side: str, string: int) -> float:
        """Compare, and move the foot by the exact law unless content; return what was heard."""
        heard = self.compared_cents(string)
        if abs(heard) > CONTENT_CENTS:
            travel_mm = offset_mm(heard)
            way = "back" if heard > 0 else "forward"
            answer = self.ask(f"{side} {way} {max(abs(travel_mm), LEAST_MM):.3f}mm")
            assert answer["event"] == "done", answer
            self.moves += 1
            self.ask("retune")
        return heard

    def set_bridge(self, rounds: int = ROUNDS, *, recheck_bass: bool = True) -> int:
        """Set bass and treble side by turns until both are content; return how many rounds it took.

        Without the recheck of the bass, the bass side is set once and for all, then the treble side.
        """
        self.ask("mute")
        self.ask("retune")
        if not recheck_bass:
            for side, string in (("bass", 4), ("treble", 1)):
                for _ in range(rounds):
                    if abs(self.set_side(side, string)) <= CONTENT_CENTS:
                        break
            return rounds
        for number in range(1, rounds + 1):
            heard = [self.set_side("bass", 4), self.set_side("treble", 1)]
            if max(map(abs, heard)) <= CONTENT_CENTS:
                return number
        return rounds


def first_partial_hz(sound: dict[str, Any], near_hz: float, width_hz: float = 25.0) -> float:
    """Return the pitch of the first partial in the file of a sound event."""
    assert sound["event"] == "sound", sound
    samples, rate_hz = soundfile.read(sound["file"])
    (span,) = sound["sounds"].values()
    start = round((span["start_s"] + SETTLED_S) * rate_hz)
    return partial_hz(samples[start : start + round(READ_S * rate_hz)], rate_hz, near_hz, width_hz)


def offset_mm(cents: float, scale_mm: float = SCALE_MM) -> float:
    """Return how far the bridge stands too far back, by the exact inverse law."""
    ratio = 2.0 ** (-cents / 1200.0)
    return scale_mm * (ratio - 1.0) / (2.0 - ratio)
