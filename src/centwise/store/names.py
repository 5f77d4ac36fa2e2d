"""Listeners' names: free text in any script, made safe to keep and to compare. Imports model and below."""

from __future__ import annotations

import unicodedata

from centwise.errors import UsageError
from centwise.model import MAX_NAME_LENGTH, MAX_NOTE_LENGTH

_DROPPED_CATEGORIES = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Control characters, lone surrogates (UTF-8 cannot hold them), line and paragraph separators."""

_UNSEEN = frozenset({"Cf", "Me", "Mn", "Zs"})
"""Categories of which a name does not consist alone: nobody could see it, or choose it from a list."""

_REORDERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Embeddings, overrides and isolates of the Unicode bidirectional algorithm (UAX #9): left open, they would turn
the rest of a line round. Scripts that run right to left need none of them."""


def cleaned_name(name: str) -> str:
    """Return a name without control characters and outer space, composed (NFC).

    Raises:
        UsageError: nothing is left of it, or more than 200 characters.
    """
    kept = _without_controls(name).strip()
    if not any(unicodedata.category(c) not in _UNSEEN for c in kept):
        raise UsageError(f"{name!r} is no name", "give one of at least one letter, in any script")
    if len(kept) > MAX_NAME_LENGTH:
        raise UsageError(f"a name of {len(kept)} characters is too long", f"give one of {MAX_NAME_LENGTH} at most")
    return kept


def name_key(name: str) -> str:
    """Return what makes two names the same: caseless matching of the composed name (Unicode 3.13, D145)."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", name).casefold())


def cleaned_note(note: str) -> str:
    """Return a note, which may be empty, without control characters but its line ends, and without outer space.

    Raises:
        UsageError: more than 2000 characters.
    """
    lines = note.replace("\r\n", "\n").split("\n")
    kept = "\n".join(_without_controls(line).rstrip() for line in lines).strip()
    if len(kept) > MAX_NOTE_LENGTH:
        raise UsageError(f"a note of {len(kept)} characters is too long", f"give one of {MAX_NOTE_LENGTH} at most")
    return kept


def _without_controls(text: str) -> str:
    kept = "".join(c for c in text if unicodedata.category(c) not in _DROPPED_CATEGORIES and c not in _REORDERING)
    return unicodedata.normalize("NFC", kept)
