"""The head from above: neck at the left, the strings, the bridge on its two feet, the edges of the fingerboard.

Text only, no widgets. The feet are drawn from where the bridge was found, so the picture says what was moved and
nothing of where the bridge belongs; that is drawn only once the feet are marked.
Imports the standard library; types from below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from centwise.bench.machine import Bench
    from centwise.strings.bridge import Feet, Margins, Side

MM_A_COLUMN = 0.5
TICK_MM = 2.0
NECK_SHARE = 0.3
LEAST_WIDTH = 50
_LABEL = 2

FootPair = tuple[float, float]
"""Treble foot and bass foot, millimetres from where each was found, + away from the neck."""


@dataclass(frozen=True, slots=True)
class Shown:
    """All that the picture shows.

    Attributes:
        strings: numbers from the treble side down to the bass side.
        chosen: the string that acts are for.
        foot: the foot that moves are for.
        muted: whether the other strings are muted.
        sounding: the string that sounds now, or None.
        feet: where the bridge stands.
        pencil: where the last pencil line is, or None.
        right: where the bridge belongs, once the feet are marked; else None.
        margins: what was seen at the fingerboard's edges, or None where nobody has looked since the last slide.
        slid_mm: how far the bridge has gone sideways since it was found, + toward the treble side.
    """

    strings: tuple[int, ...]
    chosen: int
    foot: Side
    muted: bool
    sounding: int | None
    feet: FootPair
    pencil: FootPair | None
    right: FootPair | None
    margins: Margins | None
    slid_mm: float = 0.0


def shown_of(bench: Bench, *, chosen: int, foot: Side, sounding: int | None) -> Shown:
    """Return what may be shown of a bench: where it belongs only once its feet are marked."""
    start = bench.setting.start

    def from_start(feet: Feet) -> FootPair:
        return feet.treble_mm - start.treble_mm, feet.bass_mm - start.bass_mm

    return Shown(
        strings=tuple(sorted(bench.setting.instrument.numbers)),
        chosen=chosen,
        foot=foot,
        muted=bench.muted,
        sounding=sounding,
        feet=from_start(bench.feet),
        pencil=None if bench.pencil is None else from_start(bench.pencil),
        right=from_start(bench.setting.right) if bench.marked else None,
        margins=bench.margins,
        slid_mm=bench.feet.side_mm - start.side_mm,
    )


def bench_picture(width: int, shown: Shown) -> list[str]:
    """Draw the head.

    Args:
        width: columns, 50 or more.
        shown: what may be seen.

    Returns:
        Three lines more than there are strings, each of exactly `width` columns: the treble edge with the treble foot,
        the strings, the bass edge with the bass foot, and a ruler.
    """
    neck = _LABEL + round((width - _LABEL) * NECK_SHARE)
    middle = neck + (width - neck) // 2
    rows = len(shown.strings) + 2
    lines = []
    for row in range(rows):
        cells = [" "] * width
        if row in {0, rows - 1}:
            _edge(cells, shown, neck, treble=row == 0)
        else:
            _string(cells, shown, shown.strings[row - 1], neck)
        share = row / (rows - 1)
        for pair, mark in ((shown.right, "░"), (shown.pencil, "┆"), (shown.feet, "█")):
            if pair is not None and (mark != "┆" or row in {0, rows - 1}):
                cells[_column(pair, share, middle, neck + 3, width - 3)] = mark
        if row in {0, rows - 1}:
            _foot(cells, shown, _column(shown.feet, share, middle, neck + 3, width - 3), treble=row == 0)
            _slid(cells, shown, neck, treble=row == 0)
        lines.append("".join(cells))
    lines.append(_ruler(width, shown, neck, middle))
    return lines


def _column(pair: FootPair, share: float, middle: int, least: int, most: int) -> int:
    """Return the column of the bridge between treble foot (share 0) and bass foot (share 1), kept within the head."""
    offset_mm = pair[0] + share * (pair[1] - pair[0])
    return min(max(middle + round(offset_mm / MM_A_COLUMN), least), most)


def _edge(cells: list[str], shown: Shown, neck: int, *, treble: bool) -> None:
    cells[_LABEL:neck] = "━" * (neck - _LABEL)
    cells[neck] = "┓" if treble else "┛"
    if shown.margins is not None:
        margin_mm = shown.margins.treble_mm if treble else shown.margins.bass_mm
        _put(cells, _LABEL + 2, f" {margin_mm:.1f} mm ")


def _string(cells: list[str], shown: Shown, number: int, neck: int) -> None:
    line = "─"
    if number == shown.sounding:
        line = "≈"
    elif number == shown.chosen:
        line = "═"
    elif shown.muted:
        line = "┄"
    cells[_LABEL:] = line * (len(cells) - _LABEL)
    cells[neck] = "┃"
    for fret in range(1, 3):
        cells[_LABEL + fret * (neck - _LABEL) // 3] = "┃"
    _put(cells, 0, "▸" if number == shown.chosen else " ")
    _put(cells, 1, str(number))


def _foot(cells: list[str], shown: Shown, column: int, *, treble: bool) -> None:
    side = "treble" if treble else "bass"
    _put(cells, column - 1, "▐█▌")
    text = f"▸ {side} foot" if shown.foot == side else f"{side} foot"
    # Beside the foot, on the side where there is room and no line.
    for start in (column + 3, column - 3 - len(text)):
        if start + len(text) <= len(cells) and not "".join(cells[start - 1 : start + len(text) + 1]).strip():
            _put(cells, start, text)
            return


def _slid(cells: list[str], shown: Shown, neck: int, *, treble: bool) -> None:
    """Say at the edge it went toward how far the bridge was slid: a row is far more than a slide, so in figures."""
    if round(abs(shown.slid_mm), 1) == 0 or (shown.slid_mm > 0) != treble:
        return
    text = f"{'▲' if treble else '▼'} slid {abs(shown.slid_mm):.1f} mm"
    for start in (len(cells) - len(text) - 1, neck + 2):
        if not "".join(cells[start - 1 : start + len(text) + 1]).strip():
            _put(cells, start, text)
            return


def _ruler(width: int, shown: Shown, neck: int, middle: int) -> str:
    cells = [" "] * width
    step = round(TICK_MM / MM_A_COLUMN)
    for column in range(middle % step, width, step):
        if column > neck:
            cells[column] = "┼" if column == middle else "╵"
    _put(cells, _LABEL, "◂ forward")
    told = "back ▸"
    if shown.right is not None:
        told = "░ right place"
    elif shown.pencil is not None:
        told = "┆ your last line"
    _put(cells, width - len(told) - 1, f" {told}")
    return "".join(cells)


def _put(cells: list[str], start: int, text: str) -> None:
    cells[start : start + len(text)] = text
