"""Two themes of our own, light and dark: the colours of maple, calfskin and brass. Imports Textual only."""

from __future__ import annotations

from textual.theme import Theme

LIGHT = Theme(
    name="centwise-light",
    primary="#7a4a10",
    secondary="#5b5346",
    accent="#11616b",
    success="#2c6432",
    warning="#825400",
    error="#9c2f22",
    foreground="#27221b",
    background="#faf6ee",
    surface="#f1eadc",
    panel="#e6dcc8",
    dark=False,
)
DARK = Theme(
    name="centwise-dark",
    primary="#e3b566",
    secondary="#b3a68f",
    accent="#7cc4c6",
    success="#8fc78a",
    warning="#e6b450",
    error="#ec8b78",
    foreground="#ece5d8",
    background="#181511",
    surface="#221e18",
    panel="#2f2920",
    dark=True,
)

LIGHT_OF_16 = Theme(
    name="centwise-light-16",
    primary="#0000aa",
    secondary="#000000",
    accent="#0000aa",
    success="#0000aa",
    warning="#aa0000",
    error="#aa0000",
    foreground="#000000",
    background="#ffffff",
    surface="#ffffff",
    panel="#aaaaaa",
    dark=False,
)
DARK_OF_16 = Theme(
    name="centwise-dark-16",
    primary="#ffff55",
    secondary="#aaaaaa",
    accent="#55ffff",
    success="#55ff55",
    warning="#ffff55",
    error="#ffff55",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#0000aa",
    dark=True,
)
"""For terminals of 16 colours, which have no maple: exactly the colours that Rich maps to the standard numbers, chosen
so that they are told from each other in the palette of xterm and that of a text console alike. Maple brown would become
dark yellow on white there, which nobody can read."""


def themes_for(color_system: str | None) -> tuple[Theme, Theme]:
    """Return the light and the dark theme of a terminal, by what Rich calls its colours; None for no terminal."""
    return (LIGHT_OF_16, DARK_OF_16) if color_system in {"standard", "windows"} else (LIGHT, DARK)
