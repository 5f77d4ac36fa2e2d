"""A folder of takes: written note by note, never over anything, and not believed when it is read."""

from __future__ import annotations

import hashlib
import json
import math
import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from centwise.errors import InputError, UsageError
from centwise.pitch.quality import NoteQuality
from centwise.takes.folder import (
    MANIFEST,
    TakeFolder,
    TakeSet,
    checked_file,
    is_take_folder,
    read_takes,
)

if TYPE_CHECKING:
    from collections.abc import Callable

AT = datetime(2026, 3, 1, 18, 4, 5, tzinfo=UTC)
SET = TakeSet("five-string", 4, 666.75, "Mikrofon [b]ü\x1b[2J", 48_000, None, AT)
TONE = (0.25 * np.sin(np.arange(4800) * 0.1)).astype(np.float32)
GOOD = NoteQuality(None, "", -12.04, 587.0, 0.01)


def names_in(path: Path) -> list[str]:
    return sorted(file.name for file in path.iterdir())


@pytest.fixture
def folder(tmp_path: Path) -> TakeFolder:
    return TakeFolder.create(tmp_path / "new" / "takes", SET)


def test_what_is_written_is_what_is_read(folder: TakeFolder) -> None:
    first = folder.judge(folder.add(TONE, 1, "harmonic", AT), GOOD)
    second = folder.judge(
        folder.add(-TONE, 1, "fretted", AT + timedelta(seconds=9)), NoteQuality("beats", "it beats", -math.inf)
    )
    third = folder.add(TONE, 1, "fretted", AT + timedelta(seconds=20))
    assert [note.file for note in (first, second, third)] == [
        "01-take-1-harmonic.wav",
        "02-take-1-fretted.wav",
        "03-take-1-fretted.wav",
    ]
    assert read_takes(folder.path) == replace(SET, notes=(first, second, third)) == folder.takes
    assert (second.quality, second.why, second.peak_dbfs) == ("beats", "it beats", None)
    assert third.quality == "unjudged"
    samples, rate_hz = soundfile.read(folder.path / first.file, dtype="float32")
    assert rate_hz == 48_000
    np.testing.assert_allclose(samples, TONE, atol=2.0**-24)
    content = (folder.path / first.file).read_bytes()
    assert first.sha256 == hashlib.sha256(content).hexdigest()
    assert checked_file(folder.path, first) == folder.path / first.file
    assert names_in(folder.path) == [first.file, second.file, third.file, MANIFEST]


def test_pairs_are_the_last_good_notes_of_each_whole_take(folder: TakeFolder) -> None:
    wanted = []
    for take, tone, good in ((1, "harmonic", True), (1, "fretted", False), (1, "fretted", True), (2, "harmonic", True),
                             (3, "harmonic", True), (3, "fretted", True), (3, "fretted", True)):  # fmt: skip
        note = folder.add(TONE, take, tone, AT)
        wanted.append(folder.judge(note, GOOD if good else NoteQuality("noisy", "hiss", -20.0)))
    assert read_takes(folder.path).pairs() == ((wanted[0], wanted[2]), (wanted[4], wanted[6]))


def test_flac_and_what_no_file_can_hold(tmp_path: Path) -> None:
    folder = TakeFolder.create(tmp_path / "takes", SET, "flac")
    note = folder.add(np.array([np.nan, 3.0, -2.0, 0.5], np.float32), 1, "harmonic", AT)
    samples, _ = soundfile.read(folder.path / note.file, dtype="float32")
    np.testing.assert_allclose(samples, [0.0, 1.0, -1.0, 0.5], atol=1e-6)
    assert note.file.endswith(".flac")
    assert folder.add(np.zeros(0, np.float32), 1, "fretted", AT).frames == 1


def test_nothing_is_ever_overwritten(tmp_path: Path, folder: TakeFolder) -> None:
    note = folder.add(TONE, 1, "harmonic", AT)
    before = {name: (folder.path / name).read_bytes() for name in names_in(folder.path)}
    with pytest.raises(UsageError, match="holds something already: name a new one: takes are never overwritten"):
        TakeFolder.create(folder.path, SET)
    other = tmp_path / "other"
    other.mkdir()
    (other / "letter.txt").write_text("dear")
    with pytest.raises(UsageError, match="holds something already"):
        TakeFolder.create(other, SET)
    with pytest.raises(UsageError, match="is a file, not a folder"):
        TakeFolder.create(other / "letter.txt", SET)
    # Somebody put a file where the next note would go.
    (folder.path / "02-take-1-fretted.wav").write_text("mine")
    with pytest.raises(InputError, match=r"02-take-1-fretted\.wav is there already"):
        folder.add(TONE, 1, "fretted", AT)
    assert (folder.path / "02-take-1-fretted.wav").read_text() == "mine"
    assert {name: (folder.path / name).read_bytes() for name in before} == before
    assert folder.takes.notes == (note,)


def test_a_disk_that_takes_nothing(folder: TakeFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_self: Path, _target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(InputError, match="cannot be written \\(no space left on device\\)"):
        folder.add(TONE, 1, "harmonic", AT)
    assert names_in(folder.path) == [MANIFEST]
    with pytest.raises(InputError, match="cannot be made or written to"):
        TakeFolder.create(Path("/proc/nowhere/takes"), SET)


LIES: dict[str, Callable[[dict[str, Any]], object]] = {
    "kind": lambda m: m.update(format="other"),
    "version": lambda m: m.update(version=2),
    "missing": lambda m: m.pop("device"),
    "string": lambda m: m.update(string="4"),
    "bool": lambda m: m.update(string=True),
    "infinite": lambda m: m.update(scale_mm=1e400),
    "zone": lambda m: m.update(started_at="2026-03-01T18:04:05"),
    "notes": lambda m: m.update(notes={}),
    "many": lambda m: m.update(notes=m["notes"] * 1001),
    "path": lambda m: m["notes"][0].update(file="../../etc/passwd"),
    "absolute": lambda m: m["notes"][0].update(file="/etc/passwd"),
    "tone": lambda m: m["notes"][0].update(tone="open"),
    "hash": lambda m: m["notes"][0].update(sha256="abc"),
    "peak": lambda m: m["notes"][0].update(peak_dbfs="loud"),
}


@pytest.mark.parametrize("lie", list(LIES))
def test_a_manifest_that_lies_is_refused_in_one_sentence(folder: TakeFolder, lie: str) -> None:
    folder.add(TONE, 1, "harmonic", AT)
    manifest = json.loads((folder.path / MANIFEST).read_text())
    LIES[lie](manifest)
    (folder.path / MANIFEST).write_text(json.dumps(manifest))
    with pytest.raises(InputError, match="is no manifest of takes that can be read") as caught:
        read_takes(folder.path)
    assert "\n" not in str(caught.value)


@settings(max_examples=60, deadline=None)
@given(content=st.binary(max_size=200) | st.text(max_size=200).map(str.encode) | st.just(b"[" * 100_000))
def test_anything_at_all_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    folder = tmp_path_factory.mktemp("any")
    (folder / MANIFEST).write_bytes(content)
    with pytest.raises(InputError):
        read_takes(folder)


def test_files_that_are_not_what_was_recorded(folder: TakeFolder, tmp_path: Path) -> None:
    note = folder.add(TONE, 1, "harmonic", AT)
    path = folder.path / note.file
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    with pytest.raises(InputError, match=r"is not what was recorded: its SHA-256 differs from the manifest's"):
        checked_file(folder.path, note)
    path.unlink()
    os.mkfifo(path)
    with pytest.raises(InputError, match="is missing: put it back, or record again"):
        checked_file(folder.path, note)
    assert is_take_folder(folder.path)
    assert not is_take_folder(tmp_path)
    with pytest.raises(InputError, match="is a folder without readable takes"):
        read_takes(tmp_path)
    (tmp_path / MANIFEST).write_bytes(b" " * (1 << 21))
    with pytest.raises(InputError, match="is larger than a manifest of takes can be"):
        read_takes(tmp_path)
