from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import TYPE_CHECKING

import numpy as np
import pytest

from centwise.errors import StoreError
from centwise.model import Listener, Trial
from centwise.store.salvage import salvage
from centwise.store.sqlite import FILE_NAME, SqliteStore
from fakes import START, block_plan

if TYPE_CHECKING:
    from pathlib import Path

PAGE = 4096


def trial(n: int) -> Trial:
    return Trial(n, -8.25 + n, "fretted", "flat", START, replays=n % 3, scored=n > 2)


def filled(folder: Path, listeners: int = 6, blocks: int = 4, trials: int = 50) -> Path:
    """A store of some hundred kilobytes, closed."""
    store = SqliteStore.open(folder)
    for who in range(listeners):
        store.add_listener(Listener(f"id-{who}", f"Listener {who}"))
        for which in range(blocks):
            plan = block_plan(id=f"block-{who}-{which}", listener_id=f"id-{who}", trials=trials)
            store.begin_block(plan)
            for n in range(1, trials + 1):
                store.add_trial(plan.id, trial(n))
    store.close()
    return folder / FILE_NAME


def everything(path: Path) -> dict[str, set[tuple[object, ...]]]:
    with closing(sqlite3.connect(path)) as connection:
        return {table: set(connection.execute(f"SELECT * FROM {table}")) for table in ("listeners", "blocks", "trials")}


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return filled(tmp_path_factory.mktemp("sound"))


def copied(sound: Path, folder: Path) -> Path:
    path = folder / FILE_NAME
    path.write_bytes(sound.read_bytes())
    return path


def test_a_sound_store_comes_over_whole(sound: Path, tmp_path: Path) -> None:
    path = copied(sound, tmp_path)
    before = path.read_bytes()
    done = salvage(path)
    assert everything(path) == everything(sound)
    assert (done.aside / FILE_NAME).read_bytes() == before
    assert done.rows["trials"] == 6 * 4 * 50
    assert "6 listeners and 1200 answers were brought over" in done.sentence
    assert str(done.aside) in done.sentence
    # Nothing is left lying about.
    assert sorted(entry.name for entry in tmp_path.iterdir()) == [FILE_NAME, "copies"]
    store = SqliteStore.open(tmp_path)
    assert len(store.listeners()) == 6
    assert any(block.result is None for block in store.blocks("id-3"))
    store.close()


LEAVES = {0x0A, 0x0D}
"""First byte of a page that holds rows (SQLite database file format, section 1.6)."""


@pytest.mark.parametrize("leaves", [True, False], ids=["pages of rows", "any pages"])
@pytest.mark.parametrize("seed", range(5))
def test_what_can_be_read_is_brought_over_and_nothing_is_invented(
    sound: Path, tmp_path: Path, seed: int, leaves: bool
) -> None:
    rng = np.random.default_rng(seed)
    path = copied(sound, tmp_path)
    content = bytearray(path.read_bytes())
    # The first pages hold the schema, without which nothing has a name.
    pages = [page for page in range(14, len(content) // PAGE) if not leaves or content[page * PAGE] in LEAVES]
    for page in rng.choice(pages, 2, replace=False):
        content[page * PAGE : (page + 1) * PAGE] = rng.integers(0, 256, PAGE, dtype=np.uint8).tobytes()
    path.write_bytes(content)
    done = salvage(path)
    assert (done.aside / FILE_NAME).read_bytes() == bytes(content)
    before, after = everything(sound), everything(path)
    for table, rows in after.items():
        assert rows <= before[table]
    if leaves:
        # Some fifty answers to a page; a page of blocks takes its blocks' answers along.
        assert len(after["trials"]) > 0.4 * len(before["trials"])
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    SqliteStore.open(tmp_path).close()


def test_a_file_cut_short_gives_what_it_has(sound: Path, tmp_path: Path) -> None:
    path = copied(sound, tmp_path)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) * 2 // 3 // PAGE * PAGE])
    done = salvage(path)
    after = everything(path)
    assert after["trials"] <= everything(sound)["trials"]
    assert done.rows.get("trials", 0) == len(after["trials"])
    assert (done.aside / FILE_NAME).stat().st_size == len(content) * 2 // 3 // PAGE * PAGE


def test_where_nothing_can_be_read_a_new_one_is_begun_and_the_old_is_kept(tmp_path: Path) -> None:
    path = tmp_path / FILE_NAME
    path.write_bytes(b"\x5a" * 50_000)
    done = salvage(path)
    assert done.rows == {}
    assert "nothing in it could be read, so a new one was begun" in done.sentence
    assert (done.aside / FILE_NAME).read_bytes() == b"\x5a" * 50_000
    store = SqliteStore.open(tmp_path)
    assert store.listeners() == ()
    store.close()
    assert salvage(path).aside != done.aside


def test_what_is_still_in_the_log_counts(sound: Path, tmp_path: Path) -> None:
    path = copied(sound, tmp_path)
    store = SqliteStore.open(tmp_path)
    store.add_trial("block-0-0", trial(51))
    # Copied while it is open, as a power cut leaves it: the last answer is in the log alone.
    (cut := tmp_path / "cut").mkdir()
    for end in ("", "-wal", "-shm"):
        (cut / f"{FILE_NAME}{end}").write_bytes(path.with_name(f"{FILE_NAME}{end}").read_bytes())
    store.close()
    assert (cut / f"{FILE_NAME}-wal").stat().st_size > 0
    done = salvage(cut / FILE_NAME)
    assert done.rows["trials"] == 6 * 4 * 50 + 1
    assert not (cut / f"{FILE_NAME}-wal").exists()


def test_a_store_that_cannot_be_set_aside_stays_as_it_is(
    sound: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = copied(sound, tmp_path)
    before = path.read_bytes()

    def full(*_: object, **_options: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("centwise.store.salvage.shutil.copyfile", full)
    with pytest.raises(
        StoreError, match=r"no new one could be written beside it \(no space left on device\): make room"
    ):
        salvage(path)
    assert path.read_bytes() == before


def test_a_store_that_is_open_in_another_window_is_left_as_it_is(
    sound: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("centwise.store.salvage.BUSY_S", 0.05)
    path = copied(sound, tmp_path)
    with closing(SqliteStore.open(tmp_path)) as store:
        store.set_setting("key", "value")
        with pytest.raises(StoreError, match="is open in another window: close it and try again"):
            salvage(path)
        store.set_setting("key", "another")
        assert list((tmp_path / "copies").iterdir()) == []
    salvage(path)
    with closing(SqliteStore.open(tmp_path)) as store:
        assert store.setting("key") == "another"


def test_a_log_is_put_back_where_no_new_store_can_take_the_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there, here = tmp_path / "there", tmp_path / "here"
    here.mkdir()
    with closing(SqliteStore.open(there)) as store:
        store.add_listener(Listener("ann", "Ann"))
        for entry in there.iterdir():
            (here / entry.name).write_bytes(entry.read_bytes())

    def held(*_paths: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("centwise.store.salvage._check_alone", lambda _path: None)
    monkeypatch.setattr("os.replace", held)
    with pytest.raises(StoreError, match=r"no new one could be written beside it \(permission denied\)"):
        salvage(here / FILE_NAME)
    with closing(SqliteStore.open(here)) as store:
        assert [listener.name for listener in store.listeners()] == ["Ann"]
