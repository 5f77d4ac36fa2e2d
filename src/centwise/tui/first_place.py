"""Where one goes once it is known who listens: the next block or the bench, by way of the level for a newcomer.

Imports tui, each place late.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from textual.screen import Screen

    from centwise.tui.desk import Desk
    from centwise.tui.place import Place


def first_place(desk: Desk) -> Screen[None]:
    """Return the screen that follows the choice of the listener."""
    from centwise.tui.level_screen import LevelScreen  # noqa: PLC0415  start-up path

    place = _bench() if desk.bench_first else _block()
    return LevelScreen(then=place) if desk.new_listener else place()


def _bench() -> type[Place]:
    from centwise.tui.bench_choice_screen import BenchChoiceScreen  # noqa: PLC0415  start-up path

    return BenchChoiceScreen


def _block() -> type[Place]:
    from centwise.tui.block_screen import BlockScreen  # noqa: PLC0415  start-up path

    return BlockScreen
