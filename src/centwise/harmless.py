"""Text from anybody, made harmless to show: nothing in it steers a terminal or a reader. No I/O.

Imports nothing of centwise.
"""

from __future__ import annotations

import unicodedata

JOINERS = "\u200c\u200d"
"""Zero-width joiner and non-joiner: some scripts need them, and they turn nothing round."""

_STEERING = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Controls, formatting such as marks of direction, halves of characters, line and paragraph separators."""


def harmless(text: str, instead: str = "\N{REPLACEMENT CHARACTER}") -> str:
    """Return the text without what could steer a terminal or turn the writing round.

    Args:
        text: anybody's.
        instead: what stands in place of each such character.
    """
    return "".join(ch if ch in JOINERS or unicodedata.category(ch) not in _STEERING else instead for ch in text)
