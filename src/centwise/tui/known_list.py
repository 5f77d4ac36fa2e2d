"""A list of names one can type in: as many as one looks through, however many there are."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widgets.option_list import Option

from centwise.tui.place import shown_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.widgets import OptionList

    from centwise.model import Listener

MOST = 100
"""Nobody reads on further: typing finds the rest, and each key has its list at once."""
NAME_WIDTH = 40


def fill(known: OptionList, listeners: Sequence[Listener], new_name: str | None = None) -> list[Listener]:
    """Fill a list with the first hundred, and with a new name at its end, if there is one; return those shown."""
    shown = list(listeners[:MOST])
    names = [shown_name(listener.name, NAME_WIDTH) for listener in shown]
    if new_name is not None:
        names.append(f"{shown_name(new_name, NAME_WIDTH)}, a new listener")
    known.clear_options()
    # As content, so that no name is read as markup.
    options = [Option(Content(name)) for name in names]
    if len(listeners) > MOST:
        options.append(Option(Content(f"and {len(listeners) - MOST:,} more: type part of a name"), disabled=True))
    known.add_options(options)
    known.highlighted = 0 if names else None
    return shown
