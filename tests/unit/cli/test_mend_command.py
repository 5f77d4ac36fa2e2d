"""`centwise check --mend` on a store that is damaged, sound, or not there."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from centwise.model import Listener, Trial
from centwise.store.sqlite import FILE_NAME, SqliteStore
from fakes import block_plan

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine

NOW = datetime(2026, 1, 2, tzinfo=UTC)


def damaged(folder: Path) -> bytes:
    """A store with a broken page of answers, closed; returns its bytes."""
    store = SqliteStore.open(folder)
    store.add_listener(Listener("listener-1", "Ada"))
    for number in range(12):
        plan = block_plan(id=f"block-{number}")
        store.begin_block(plan)
        for n in range(1, 60):
            store.add_trial(plan.id, Trial(n, -8.0, "harmonic", "flat", NOW))
    store.close()
    path = folder / FILE_NAME
    content = bytearray(path.read_bytes())
    leaf = max(page for page in range(len(content) // 4096) if content[page * 4096] == 0x0A)
    content[leaf * 4096 : (leaf + 1) * 4096] = b"\xa5" * 4096
    path.write_bytes(content)
    return bytes(content)


def test_a_damaged_store_is_named_set_aside_and_brought_over(centwise: CommandLine, tmp_path: Path) -> None:
    before = damaged(tmp_path / "data")
    centwise.refuses("progress", code=5, words="is damaged .* then type centwise check --mend")
    assert (tmp_path / "data" / FILE_NAME).read_bytes() == before
    assert centwise("check", "--mend") == 0
    aside = tmp_path / "data" / "copies" / "damaged-1"
    assert f"it was set aside as it was in {aside}, and 1 listener and " in centwise.out
    assert (aside / FILE_NAME).read_bytes() == before
    assert centwise("progress", "--json") == 0
    assert "Ada" in centwise.out
    assert centwise("check", "--mend") == 0
    assert "nothing to mend" in centwise.out


def test_as_json_too(centwise: CommandLine, tmp_path: Path) -> None:
    damaged(tmp_path / "data")
    assert centwise("check", "--mend", "--json") == 0
    told = json.loads(centwise.out)
    assert told["set_aside"] == str(tmp_path / "data" / "copies" / "damaged-1")
    assert told["brought_over"]["listeners"] == 1
    assert 300 < told["brought_over"]["trials"] < 12 * 59
