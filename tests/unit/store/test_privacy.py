"""Names are in the store: it, its log, its copies and what is salvaged of it are its owner's alone."""

from __future__ import annotations

import os
import stat
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from centwise.model import Listener
from centwise.store.salvage import salvage
from centwise.store.sqlite import FILE_NAME, SqliteStore
from fakes import block_plan

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")


@pytest.fixture(autouse=True, params=[0o022, 0o002, 0o000])
def mask(request: pytest.FixtureRequest) -> Iterator[None]:
    before = os.umask(request.param)
    yield
    os.umask(before)


def rights(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def everything_below(folder: Path) -> dict[str, int]:
    return {str(path.relative_to(folder)): rights(path) for path in folder.rglob("*")}


def test_what_is_made_is_its_owners_alone(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with closing(SqliteStore.open(folder)) as store:
        for name in ("ann", "bo", "cy"):
            store.add_listener(Listener(name, name))
        store.begin_block(block_plan(listener_id="ann"))
        store.remove_listener("bo", keep_copy=True)
        store.merge_listeners("cy", "ann")
        store.copy_whole("mended")
        found = everything_below(folder)
        assert rights(folder) == 0o700
        assert {FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm"} < found.keys()
        copies = [f"copies/{name}-1" for name in ("removed", "merged", "mended")]
        folders = {"copies", *copies}
        assert found.keys() >= folders | {f"{copy}/{FILE_NAME}" for copy in copies}
        assert {name: mode for name, mode in found.items() if mode != (0o700 if name in folders else 0o600)} == {}


def test_a_store_of_before_is_taken_from_who_could_only_look_into_it(tmp_path: Path) -> None:
    SqliteStore.open(tmp_path).close()
    path, log = tmp_path / FILE_NAME, tmp_path / f"{FILE_NAME}-wal"
    for before, after in ((0o644, 0o600), (0o664, 0o660), (0o660, 0o660), (0o666, 0o666), (0o604, 0o600)):
        log.touch()
        (tmp_path / "copies").mkdir(exist_ok=True)
        for one in (path, log):
            one.chmod(before)
        (tmp_path / "copies").chmod(0o755)
        with closing(SqliteStore.open(tmp_path)) as store:
            store.set_setting("key", "value")
            assert [rights(one) for one in (path, log)] == [after, after]
        assert rights(tmp_path / "copies") == 0o700


def test_what_is_salvaged_has_the_rights_of_the_damaged(tmp_path: Path) -> None:
    for number, mode in enumerate((0o600, 0o660)):
        folder = tmp_path / str(number)
        SqliteStore.open(folder).close()
        path = folder / FILE_NAME
        path.write_bytes(b"Dear diary, today I heard four cents. " * 100)
        path.chmod(mode)
        done = salvage(path)
        assert [rights(path), rights(done.aside / FILE_NAME), rights(done.aside)] == [mode, mode, 0o700]
        SqliteStore.open(folder).close()
        assert rights(path) == mode
