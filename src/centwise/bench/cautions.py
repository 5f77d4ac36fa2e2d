"""What to mind at a real instrument, for wherever the bench's acts are shown (common practice, no source)."""

from __future__ import annotations

CAUTIONS = (
    "The strings pull with 45 to 65 newtons each (10 to 15 lbf), about 280 in all: raise tension slowly.",
    "Keep your face away, and wear eye protection when you raise tension or cut wire.",
    "Never slacken all strings at once: the bridge falls over and its place is lost.",
    "Make small moves, 1/16 in at a time, and ease the tension rather than force a foot that grips.",
    "Keep the bridge upright: look from the side after each move.",
    "Turn the volume down first.",
    "Unsure? A repair shop does this every day.",
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
