"""Choosing a listener: a line to type in, a list of whom that finds, and a button.

The screens that offer the choice say what it leads to. Imports Textual, tui and below.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal
from textual.screen import ScreenResultType
from textual.widgets import Button, Input, OptionList, Static

from centwise.tui.finding import found
from centwise.tui.marked_list import MarkedList
from centwise.tui.place import Acting, shown_name
from centwise.tui.plain_input import PlainInput

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from centwise.model import Listener

MOST = 100
"""Nobody reads on further: typing finds the rest, and each key has its list at once."""
NAME_WIDTH = 40
PATIENCE_S = 1.0
"""So long a line is waited for, which takes in letters within milliseconds."""


class Choosing(Acting[ScreenResultType]):
    """A screen at which a listener is chosen: the cursor stays in the line, arrows move the mark in the list beneath.

    Class attributes:
        NEW_NAMES: whether a name that nobody has is offered as a new listener's.
    """

    NEW_NAMES: ClassVar[bool] = False

    def __init__(self, among: Sequence[Listener] = ()) -> None:
        super().__init__()
        self._among = among
        self._offered: list[Listener] = []
        self._new_name: str | None = None
        self._wanted = ""

    def choice(self, placeholder: str, button: str, *others: tuple[str, str], compact: bool = False) -> ComposeResult:
        """Lay out line, list and buttons, and the line in which something is said; other buttons by act and label."""
        yield PlainInput(placeholder=placeholder, max_length=200, id="name", compact=compact)
        yield MarkedList(id="known")
        with Horizontal(classes="row"):
            yield Button(self.told(button), id="choose", variant="primary", compact=True)
            for act, label in others:
                yield Button(self.told(label), id=act, compact=True)
        yield Static("", id="said", markup=False)

    def on_mount(self) -> None:
        """Put the cursor in the line; it stays there."""
        # Not its own `focus`, which comes a turn later.
        self.set_focus(self.query_one(Input))

    def chosen(self, listener: Listener) -> None:
        """Go on with the listener chosen."""
        raise NotImplementedError

    def named(self, name: str | None) -> None:
        """Go on where nobody is offered, or with a new name; None where nothing was typed."""

    def offer(self, typed: str) -> None:
        """List the first hundred whose names hold what was typed, that very name first, and last a new name."""
        self._wanted, wanted = typed, typed.strip()
        listeners = found(self._among, wanted)
        taken = any(one.name.casefold() == wanted.casefold() for one in listeners)
        self._new_name = wanted if self.NEW_NAMES and wanted and not taken else None
        self._offered = listeners[:MOST]
        names = [shown_name(listener.name, NAME_WIDTH) for listener in self._offered]
        if self._new_name is not None:
            names.append(f"{shown_name(self._new_name, NAME_WIDTH)}, a new listener")
        more = f"and {len(listeners) - MOST:,} more: type part of a name" if len(listeners) > MOST else ""
        self.query_one(MarkedList).show(names, more)

    async def typed_so_far(self) -> None:
        """Wait for the letters that an act done ahead has overtaken, and list whom they find."""
        line, done = self.query_one(Input), asyncio.Event()
        if line.call_later(done.set):
            with suppress(TimeoutError):  # a line that is being closed sees to nothing more
                await asyncio.wait_for(done.wait(), PATIENCE_S)
        if line.value != self._wanted:
            self.offer(line.value)

    def marked(self) -> Listener | None:
        """Return the listener marked; None where the mark is on nobody known."""
        place = self.query_one(MarkedList).place
        return self._offered[place] if place < len(self._offered) else None

    def mark(self, listener: Listener) -> bool:
        """Mark a listener in the list, and return whether they are in it."""
        places = [place for place, one in enumerate(self._offered) if one.id == listener.id]
        if places:
            self.query_one(MarkedList).highlighted = places[0]
        return bool(places)

    def action_mark(self, steps: int) -> None:
        """Move the mark in the list."""
        self.query_one(MarkedList).move(steps)

    def action_choose(self) -> None:
        """Go on with the listener marked, or with what was typed."""
        listener = self.marked()
        if listener is not None:
            self.chosen(listener)
        else:
            self.named(self._new_name or self.query_one(Input).value.strip() or None)

    @on(Input.Changed)
    def _narrow(self, event: Input.Changed) -> None:
        self.offer(event.value)

    @on(Input.Submitted)
    def _typed(self) -> None:
        self.action_choose()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        # The keys stay the line's, whoever clicks.
        self.query_one(Input).focus()
        getattr(self, f"action_{event.button.id}")()

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self.query_one(MarkedList).highlighted = event.option_index
        self.action_choose()
