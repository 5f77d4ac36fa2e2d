"""What a front end is given to work with."""

from __future__ import annotations

import math
import uuid
from contextlib import closing
from datetime import UTC, timedelta
from typing import TYPE_CHECKING

import pytest

from centwise.bootstrap import SystemClock, build_services, new_seed
from centwise.draws import MAX_SEED
from centwise.errors import StoreError, UsageError
from centwise.listening import LEVEL_KEY
from centwise.settings.load import Settings

if TYPE_CHECKING:
    from pathlib import Path


def test_the_clock_tells_utc_and_runs_forward() -> None:
    clock = SystemClock()
    assert clock.now().tzinfo is UTC
    start, started = clock.monotonic_s(), clock.now()
    clock.sleep(0.01)
    assert clock.monotonic_s() - start >= 0.009
    assert abs(clock.now() - started) < timedelta(seconds=10)


def test_seeds_fill_their_range() -> None:
    seeds = [new_seed() for _ in range(200)]
    assert all(0 <= seed <= MAX_SEED for seed in seeds)
    # 200 uniform draws all below nine tenths of the range: once in 10^9 runs.
    assert max(seeds) > 0.9 * MAX_SEED
    assert len(set(seeds)) > 190


def test_services_open_store_and_player_at_the_kept_level(tmp_path: Path) -> None:
    services = build_services(Settings(tmp_path / "data", player="silent:hurry"))
    with closing(services.store):
        with closing(services.open_player()) as player:
            assert (player.name, player.level_db) == ("silent:hurry", -12.0)
        services.store.set_setting(LEVEL_KEY, "-30")
        with closing(services.open_player()) as player:
            assert player.level_db == -30.0
        ids = {services.new_id() for _ in range(100)}
        assert len(ids) == 100
        assert all(uuid.UUID(made).version == 4 for made in ids)
        assert math.isfinite(services.new_seed())


def test_the_players_name_on_the_command_line_comes_before_the_settings(tmp_path: Path) -> None:
    services = build_services(Settings(tmp_path, player="silent"), player=f"file:{tmp_path / 'wav'}")
    with closing(services.store), closing(services.open_player()) as player:
        assert player.name == f"file:{tmp_path / 'wav'}"


def test_a_player_is_opened_only_when_asked_for(tmp_path: Path) -> None:
    services = build_services(Settings(tmp_path / "data", player=f"file:{tmp_path / 'wav'}"))
    with closing(services.store):
        assert not (tmp_path / "wav").exists()
        services.open_player().close()
        assert (tmp_path / "wav").exists()


def test_an_unknown_player_is_refused_before_anything_is_made(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no player 'gramophone'"):
        build_services(Settings(tmp_path / "data", player="gramophone"))
    assert not (tmp_path / "data").exists()


def test_a_file_holds_what_was_rendered_whatever_the_listening_level(tmp_path: Path) -> None:
    services = build_services(Settings(tmp_path / "data"), player=f"file:{tmp_path / 'wav'}")
    with closing(services.store), closing(services.open_player()) as player:
        assert player.level_db == 0.0


def test_a_store_that_cannot_be_opened_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="file cannot be"):
        build_services(Settings(tmp_path / "file"))
