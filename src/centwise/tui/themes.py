"""Two themes of our own, light and dark: the colours of maple, calfskin and brass. Imports textual only."""

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
