"""Builds the adapters and hands them out as Services. Nothing else of the package makes a clock, an id or a seed.

Imports listening and below.
"""

from __future__ import annotations

import secrets
import time
import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from centwise.audio.open import check_choice, device_name, open_player, open_recorder
from centwise.draws import MAX_SEED
from centwise.ports import Services
from centwise.settings.instruments import OwnInstruments
from centwise.store.sqlite import SqliteStore

if TYPE_CHECKING:
    from centwise.ports import Player, Recorder
    from centwise.settings.load import Settings


class SystemClock:
    """The machine's own clock."""

    def now(self) -> datetime:
        """Return this instant in UTC."""
        return datetime.now(UTC)  # noqa: TID251  the one place that asks the machine

    def monotonic_s(self) -> float:
        """Return seconds that never run back."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """Wait."""
        time.sleep(seconds)


def new_seed() -> int:
    """Draw a seed for a command that was given none."""
    return secrets.randbelow(MAX_SEED + 1)


def open_store(settings: Settings) -> SqliteStore:
    """Open the store alone, for what needs nothing else.

    Raises:
        StoreError: it cannot be opened.
    """
    return SqliteStore.open(settings.data_dir)


def build_services(settings: Settings, *, player: str | None = None) -> Services:
    """Open the store and return what a front end works with; the player opens when it is first asked for.

    Args:
        settings: where the data lie and which player is meant.
        player: the player to use instead of the settings' one.

    Raises:
        UsageError: no such player.
        StoreError: the store cannot be opened.
    """
    chosen = check_choice(player or settings.player)
    clock = SystemClock()
    store = SqliteStore.open(settings.data_dir)

    def open_chosen_player() -> Player:
        # Loads numpy, which the first screen does not need.
        from centwise.listening import settle_level, stored_level_db  # noqa: PLC0415

        # A file is not heard at once: it holds what was rendered, whatever the listening level is.
        level_db = 0.0 if chosen.startswith("file:") else stored_level_db(store)
        player = open_player(chosen, clock, level_db=level_db)
        settle_level(player, store, device_name(player))
        return player

    def open_microphone() -> Recorder:
        return open_recorder(clock)

    return Services(
        store=store,
        clock=clock,
        new_id=lambda: str(uuid.uuid4()),
        new_seed=new_seed,
        open_player=open_chosen_player,
        open_recorder=open_microphone,
        instruments=OwnInstruments(settings.instruments_dir),
    )
