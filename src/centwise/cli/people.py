"""Listeners by name on the command line: found, or refused with the names that come near. Imports ports and below."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from centwise.errors import UsageError

if TYPE_CHECKING:
    from centwise.model import Listener
    from centwise.ports import Store

SHOWN_LENGTH = 60


def name_text(name: str) -> str:
    """Return a name fit to stand in a sentence: quoted, one line, not endless."""
    short = name if len(name) <= SHOWN_LENGTH else f"{name[: SHOWN_LENGTH - 1]}…"
    return repr(short)


def known_listener(store: Store, name: str) -> Listener:
    """Return the listener of that name.

    Raises:
        UsageError: there is none; names that come near are told.
    """
    found = store.listener_named(name)
    if found is not None:
        return found
    by_key = {listener.name.casefold(): listener.name for listener in store.listeners()}
    near = get_close_matches(name[:200].casefold(), list(by_key), n=3)
    hint = (
        f"did you mean {' or '.join(name_text(by_key[key]) for key in near)}"
        if near
        else "centwise listeners shows who there is"
    )
    raise UsageError(f"there is no listener named {name_text(name)}", hint)
