"""The string seen from the side: nut, frets, the touched node, the bridge on the head. Text only, no widgets.

The picture shows which tone sounds: as a harmonic the string swings in two halves about the touched node; fretted, only
the part between fret and bridge swings. It is the same for every pair, so it tells no answer. Imports strings alone.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from centwise.strings.geometry import fret_distance_mm

if TYPE_CHECKING:
    from centwise.model import Direction, Tone

SWING_ROWS = 3
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_BLANK = 0x2800
_LAST_FRET = 19
_AFTER_BRIDGE = 5


class DotCanvas:
    """Dots two a column and four a row, as braille characters."""

    def __init__(self, columns: int, rows: int) -> None:
        self._cells = [[0] * columns for _ in range(rows)]
        self.width, self.height = columns * 2, rows * 4

    def dot(self, x: int, y: int) -> None:
        """Set one dot; what lies outside is left out."""
        if 0 <= x < self.width and 0 <= y < self.height:
            self._cells[y // 4][x // 2] |= _DOTS[y % 4][x % 2]

    def lines(self) -> list[str]:
        """Return the rows; empty cells are spaces."""
        return ["".join(chr(_BLANK + cell) if cell else " " for cell in row) for row in self._cells]


def string_picture(width: int, sounding: Tone | None, swing: float, direction: Direction | None) -> list[str]:
    """Draw the string.

    Args:
        width: columns, 40 or more.
        sounding: the tone that sounds now, or None.
        swing: how wide it swings, 0 to 1.
        direction: the move the bridge would want, once it may be told; else None.

    Returns:
        Six lines of exactly `width` columns.
    """
    nut, bridge = 2, width - 2 - _AFTER_BRIDGE
    length = bridge - nut
    node = nut + round(length / 2)
    rows = [_labels(width, nut, node, bridge, sounding)]
    swinging = _swing(width, nut, bridge, sounding, swing)
    for number, line in enumerate(swinging):
        cells = list(line)
        cells[nut - 1] = "┃"
        if number == SWING_ROWS // 2:
            cells[node] = {"harmonic": "●", "fretted": "▼", None: "○"}[sounding]
            cells[bridge] = "╿"
        elif number > SWING_ROWS // 2:
            cells[bridge] = "┃"
        rows.append("".join(cells))
    rows.extend((_neck(width, nut, length, bridge), _advice(width, bridge, direction)))
    return rows


def _swing(width: int, nut: int, bridge: int, sounding: Tone | None, swing: float) -> list[str]:
    canvas = DotCanvas(width, SWING_ROWS)
    middle, reach = (canvas.height - 1) / 2, (canvas.height - 2) / 2
    start, end = nut * 2, bridge * 2
    for x in range(start, end + 1):
        along = (x - start) / (end - start)
        if sounding == "harmonic":
            wide = abs(math.sin(2 * math.pi * along))
        elif sounding == "fretted" and along > 0.5:
            wide = abs(math.sin(2 * math.pi * (along - 0.5)))
        else:
            wide = 0.0
        for side in (-1, 1):
            canvas.dot(x, round(middle + side * wide * reach * swing))
    return canvas.lines()


def _labels(width: int, nut: int, node: int, bridge: int, sounding: Tone | None) -> str:
    line = [" "] * width
    centre = {"harmonic": "touched here", "fretted": "fretted here", None: "octave fret"}[sounding]
    for text, start in (("neck", nut - 1), (centre, node - len(centre) // 2), ("bridge", bridge - 3)):
        line[start : start + len(text)] = text
    return "".join(line)


def _neck(width: int, nut: int, length: int, bridge: int) -> str:
    """Draw the fingerboard with its frets where they lie, and the head with the bridge's foot."""
    end = nut + round(fret_distance_mm(_LAST_FRET + 3, 1.0) * length)
    line = [" "] * width
    line[nut - 1 : end] = "━" * (end - nut + 1)
    line[nut - 1] = "┗"
    for fret in range(1, _LAST_FRET + 1):
        line[nut + round(fret_distance_mm(fret, 1.0) * length)] = "┷"
    line[end:width] = "─" * (width - end)
    line[bridge - 1 : bridge + 2] = "▟█▙"
    return "".join(line)


def _advice(width: int, bridge: int, direction: Direction | None) -> str:
    """Put the move under the bridge: forward lies on the neck's side."""
    if direction is None:
        return " " * width
    text = {"forward": "◀── forward", "back": "back ──▶", "leave": "leave it"}[direction]
    start = {"forward": bridge - len(text), "back": bridge - 3, "leave": bridge - 4}[direction]
    return (" " * min(start, width - len(text)) + text).ljust(width)
