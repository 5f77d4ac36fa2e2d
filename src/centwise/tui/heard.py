"""What sounds now, as the drill's screen follows it: which tone, for how long, and which have begun.

Imports model and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.model import TONES, Tone

if TYPE_CHECKING:
    from centwise.conductor import Part
    from centwise.model import PairSound
    from centwise.ports import Playback


@dataclass(frozen=True, slots=True)
class Heard:
    """A pair, or one of its tones alone, on its way out."""

    pair: PairSound
    part: Part
    playback: Playback

    def over(self) -> bool:
        """Return whether it has ended.

        Raises:
            DeviceError: the device went away.
        """
        return self.playback.wait(0.0)

    def tone_now(self) -> tuple[Tone | None, float]:
        """Return which tone sounds, and for how many seconds it has."""
        position_s = self.playback.position_s()
        if self.part != "pair":
            return self.part, position_s
        for tone in TONES:
            span = self.pair.span(tone)
            if span.start_s <= position_s < span.end_s:
                return tone, position_s - span.start_s
        return None, 0.0

    def begun(self) -> set[Tone]:
        """Return the tones that have begun to sound."""
        if self.part != "pair":
            return {self.part}
        position_s = self.playback.position_s()
        return {tone for tone in TONES if position_s >= self.pair.span(tone).start_s}
