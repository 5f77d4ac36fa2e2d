"""What to mind at a real instrument, for wherever the bench's acts are shown (common practice, no source).

Imports strings and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.strings.physics import N_PER_LBF

if TYPE_CHECKING:
    from centwise.strings.instrument import Instrument

CAUTIONS = (
    "Keep your face away, and wear eye protection when you raise tension or cut wire.",
    "Never slacken all strings at once: the bridge falls over and its place is lost.",
    "Make small moves, 1/16 in at a time, and ease the tension rather than force a foot that grips.",
    "Keep the bridge upright: look from the side after each move.",
    "Turn the volume down first.",
    "Unsure? A repair shop does this every day.",
)
"""What goes for every instrument."""


def cautions_for(instrument: Instrument | None) -> tuple[str, ...]:
    """Return all that is to be minded at an instrument, its strings' pull first, as set and scale have it at pitch.

    Args:
        instrument: the one at hand, at its scale length; None where it cannot be read.
    """
    return (pull_sentence(instrument), *CAUTIONS)


def pull_sentence(instrument: Instrument | None) -> str:
    """Say how hard the strings pull, each and all of them, every string of a course counted."""
    if instrument is None:
        return "The strings pull hard: raise tension slowly."
    each = sorted(round(spec.tension_n) for spec in instrument.strings)
    pounds = sorted({round(newtons / N_PER_LBF) for newtons in (each[0], each[-1])})
    whole = round(sum(spec.course * spec.tension_n for spec in instrument.strings), -1)
    return (
        f"The strings pull with {each[0]} to {each[-1]} newtons each ({' to '.join(map(str, pounds))} lbf), "
        f"about {whole:.0f} in all: raise tension slowly."
    )


ACT_CAUTIONS = {
    "move": "On the instrument: small moves, bridge upright, and ease the strings rather than force a foot that grips.",
    "retune": "On the instrument: face away, eyes protected when you raise tension; never slacken all strings at once.",
    "slide": "On the instrument: slide the feet a little at a time and keep the bridge upright.",
}
"""The one caution that belongs to an act."""
SHORT_CAUTIONS = {
    "": "On a real one: face away, small moves, bridge upright.",
    "move": "Real bridge: small moves, upright; never force a foot.",
    "retune": "Real strings: face away, eyes guarded; never all slack.",
    "slide": "Real bridge: a little at a time, and keep it upright.",
}
"""The same in one line of 56 columns, and what goes for every act."""
