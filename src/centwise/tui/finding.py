"""Finding listeners by typing: letters with or without their accents, words in any order. Standard library only."""

from __future__ import annotations

import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from centwise.model import Listener


def bare(text: str) -> str:
    """Return a text without case and accents: `Béla` as `bela`."""
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    return "".join(ch for ch in decomposed if not unicodedata.combining(ch))


def found(listeners: Iterable[Listener], typed: str) -> list[Listener]:
    """Return the listeners whose names hold every word typed.

    That very name comes first, then names that begin so, then those with a word that does, then the rest; within each
    the order stays. Nothing typed finds everybody.
    """
    wanted = bare(typed).split()
    if not wanted:
        return list(listeners)
    ranked: list[tuple[int, Listener]] = []
    for listener in listeners:
        name = bare(listener.name)
        if not all(word in name for word in wanted):
            continue
        if listener.name.casefold() == typed.strip().casefold():
            rank = 0
        elif name.startswith(wanted[0]):
            rank = 1
        else:
            rank = 2 if any(word.startswith(wanted[0]) for word in name.split()) else 3
        ranked.append((rank, listener))
    ranked.sort(key=lambda one: one[0])
    return [listener for _rank, listener in ranked]
