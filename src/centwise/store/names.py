"""Listeners' names: free text in any script, made safe to keep and to compare."""

from __future__ import annotations

import unicodedata

from centwise.errors import UsageError

MAX_NAME_LENGTH = 200

_DROPPED_CATEGORIES = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Control characters, lone surrogates (UTF-8 cannot hold them), line and paragraph separators."""

_REORDERING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Embeddings, overrides and isolates of the Unicode bidirectional algorithm (UAX #9): left open, they would turn
the rest of a line round. Scripts that run right to left need none of them."""


def cleaned_name(name: str) -> str:
    """Return a name without control characters and outer space, composed (NFC).

    Raises:
        UsageError: nothing is left of it, or more than 200 characters.
    """
    kept = "".join(c for c in name if unicodedata.category(c) not in _DROPPED_CATEGORIES and c not in _REORDERING)
    kept = unicodedata.normalize("NFC", kept).strip()
    if not kept:
        raise UsageError(f"{name!r} is no name", "give one of at least one letter, in any script")
    if len(kept) > MAX_NAME_LENGTH:
        raise UsageError(f"a name of {len(kept)} characters is too long", f"give one of {MAX_NAME_LENGTH} at most")
    return kept


def name_key(name: str) -> str:
    """Return what makes two names the same: caseless matching of the composed name (Unicode 3.13, D145)."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFD", name).casefold())
