"""What stands in for a sign the output's code page does not have, as in a pipe on Windows or under an ASCII locale.

Imports nothing of centwise.
"""

from __future__ import annotations

import codecs

PLAIN = "centwise.plain"
"""Name of the error handler that `register` makes known to the codecs."""
STAND_INS = {
    "±": "+/-",
    "·": ".",
    "…": "...",
    "–": "-",
    "↓": "v",
    "↑": "^",
    "←": "<",
    "→": ">",
    "♭": "b",
    "♯": "#",
    "●": "o",
    "■": "#",
    "─": "-",
    "━": "=",
    "│": "|",
    "┤": "|",
    "┼": "+",
    "└": "+",
    "┴": "+",
    "≈": "~",
    "“": '"',
    "”": '"',
}
"""Words carry every result; with these its signs and the chart stay. Letters of names become a question mark."""


def plain_letters(error: UnicodeError) -> tuple[str, int]:
    """Return what stands in for the signs that could not be written, and where to go on; see codecs.register_error.

    Raises:
        UnicodeError: something else than writing went wrong.
    """
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(STAND_INS.get(sign, "?") for sign in error.object[error.start : error.end]), error.end


def register() -> str:
    """Make the handler known to the codecs, and return its name."""
    codecs.register_error(PLAIN, plain_letters)
    return PLAIN
