"""Parts of the chain that need no device: each can pass and each can fail."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import sqlite3
import sys
from collections import namedtuple
from contextlib import closing
from typing import TYPE_CHECKING

import numpy as np
import pytest

from banjo import FIVE_STRING
from centwise.chain.estimate import check_estimate
from centwise.chain.line import CheckLine, any_failed, not_checked
from centwise.chain.players import check_players
from centwise.chain.store import check_store
from centwise.chain.tones import RATES_HZ, check_tones
from centwise.chain.versions import versions
from centwise.ear.trial_run import run_listeners
from centwise.model import Listener
from centwise.store.sqlite import FILE_NAME, SqliteStore
from centwise.strings.library import BUILT_IN, BUILT_IN_NAMES
from centwise.tones import pair as pairs
from centwise.tones.pair import render_pair
from chain_once import estimate_once, tones_once

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

Usage = namedtuple("Usage", "total used free")  # noqa: PYI024  shutil's own shape


def test_a_line_is_told_in_sentences() -> None:
    line = CheckLine("store", "Store", "failed", "it is damaged", "put back a copy")
    assert line.sentence == "Store: failed. It is damaged. Put back a copy."
    assert not_checked("loop", "Loop", "nobody asked").sentence == "Loop: not checked. Nobody asked."
    assert any_failed((line, not_checked("loop", "Loop", "no")))
    assert not any_failed((not_checked("loop", "Loop", "no"),))


def test_tones_are_as_asked_at_every_string_and_rate() -> None:
    line = tones_once(FIVE_STRING, 7)
    assert line.status == "passed"
    assert line.figures["pairs"] == 5 * 8 * 4
    assert (min(RATES_HZ), max(RATES_HZ)) == (22_050, 192_000)
    assert 0.0 < line.figures["worst_pair_error_cents"] < 0.001
    assert 0.0 < line.figures["worst_pitch_error_cents"] < 0.001
    assert line.figures["loudest_dbfs"] <= -6.0


@pytest.mark.parametrize("name", BUILT_IN_NAMES[1:])
def test_every_instrument_has_its_tones_as_asked(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.chain.tones.RATES_HZ", (22_050, 96_000))
    line = check_tones(BUILT_IN.named(name), seed=2)
    assert line.status == "passed"
    assert line.figures["instrument"] == name
    assert max(line.figures["worst_pair_error_cents"], line.figures["worst_pitch_error_cents"]) < 0.002


def test_one_tone_that_is_off_at_one_rate_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    def off(spec: object, instrument: object, **asked: object) -> object:
        if asked["rate_hz"] == 88_200 and spec.condition.string == 3 and spec.offset_cents == 7.3:
            spec = type(spec)(spec.n, spec.condition, spec.offset_cents + 0.02, spec.first)
        return render_pair(spec, instrument, **asked)

    monkeypatch.setattr("centwise.chain.tones.RATES_HZ", (22_050, 88_200))
    monkeypatch.setattr("centwise.chain.tones.render_pair", off)
    line = check_tones(FIVE_STRING, seed=9)
    assert line.status == "failed"
    assert line.figures["worst_pair_error_cents"] == pytest.approx(0.02, abs=1e-4)


def test_a_pitch_that_is_off_in_both_tones_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    # Both tones 0.1 cents sharp of what their spans say: the difference is as asked, the pitch is not.
    monkeypatch.setattr("centwise.chain.tones.RATES_HZ", (22_050, 88_200))
    frequency = pairs.first_partial_hz
    monkeypatch.setattr(pairs, "first_partial_hz", lambda *a: frequency(*a) * 2.0 ** (-0.1 / 1200.0))
    line = check_tones(FIVE_STRING, seed=9)
    assert line.status == "failed"
    assert line.figures["worst_pair_error_cents"] < 0.001
    assert line.figures["worst_pitch_error_cents"] == pytest.approx(0.1, abs=0.001)


def test_a_silent_tone_fails_with_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    def silent(spec: object, instrument: object, **asked: object) -> object:
        pair = render_pair(spec, instrument, **asked)
        pair.sound.samples[:] = 0.0
        return pair

    monkeypatch.setattr("centwise.chain.tones.render_pair", silent)
    line = check_tones(FIVE_STRING, seed=9)
    assert line.status == "failed"
    assert "string 1, 22050 Hz" in line.finding


def test_players_say_whether_they_load() -> None:
    miniaudio, second = check_players()
    assert (miniaudio.status, miniaudio.figures["version"]) == ("passed", importlib.metadata.version("miniaudio"))
    if sys.version_info >= (3, 12) or importlib.util.find_spec("simpleaudio") is None:
        assert second.status == "not checked"
    else:
        assert second.status == "passed"


def test_simpleaudio_is_not_tried_where_it_brings_python_down(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.chain.players.sys.version_info", (3, 13, 1))
    monkeypatch.setitem(sys.modules, "simpleaudio", None)
    second = check_players()[1]
    assert second.status == "not checked"
    assert "Python 3.13" in second.finding


def test_a_player_that_does_not_load_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "miniaudio", None)
    line = check_players()[0]
    assert line.status == "failed"
    assert "does not load" in line.finding


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    store = SqliteStore.open(tmp_path)
    store.add_listener(Listener("id-1", "Ada"))
    store.close()
    return tmp_path


def test_a_whole_store_passes_and_is_not_changed(kept: Path) -> None:
    before = (kept / FILE_NAME).read_bytes()
    line, room = check_store(kept)
    assert (line.status, room.status) == ("passed", "passed")
    assert (line.figures["listeners"], line.figures["blocks"], line.figures["trials"]) == (1, 0, 0)
    assert room.figures["free_bytes"] > 0
    assert (kept / FILE_NAME).read_bytes() == before


def test_no_store_is_not_checked_and_none_is_made(tmp_path: Path) -> None:
    folder = tmp_path / "not" / "there"
    line, room = check_store(folder)
    assert (line.status, room.status) == ("not checked", "passed")
    assert not folder.exists()
    assert not (tmp_path / "not").exists()


def test_a_folder_that_is_none_or_out_of_reach_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("x")
    assert check_store(tmp_path / "file")[0].sentence.startswith("Store: failed. ")

    def denied(_path: object) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.exists", denied)
    line, room = check_store(tmp_path)
    assert (line.status, room.status) == ("failed", "not checked")
    assert "permission denied" in line.finding


def damaged_page(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[4096 * 2 : 4096 * 3] = b"\xff" * 4096
    path.write_bytes(bytes(content))


def orphan(path: Path) -> None:
    with closing(sqlite3.connect(path)) as store, store:
        store.execute("PRAGMA foreign_keys = OFF")
        store.execute(
            "INSERT INTO trials (block_number, n, offset_cents, first_tone, answer, answered_at, replays, scored)"
            " VALUES (77, 1, 3.0, 'harmonic', 'sharp', '2026-01-01T00:00:00+00:00', 0, 1)"
        )


def of_another(path: Path) -> None:
    with closing(sqlite3.connect(path)) as store, store:
        store.execute("PRAGMA application_id = 7")


def newer(path: Path) -> None:
    with closing(sqlite3.connect(path)) as store, store:
        store.execute("PRAGMA user_version = 999")


def no_database(path: Path) -> None:
    path.write_text("These are no answers, and there are enough words here for a header. " * 40)


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (damaged_page, "is damaged"),
        (orphan, "belongs to nothing"),
        (of_another, "another program"),
        (newer, "a newer centwise"),
        (no_database, "is not a database"),
    ],
)
def test_a_store_that_is_not_whole_fails(kept: Path, harm: Callable[[Path], None], words: str) -> None:
    harm(kept / FILE_NAME)
    line = check_store(kept)[0]
    assert line.status == "failed"
    assert words in line.finding
    assert line.to_do


def test_a_store_held_by_another_window_is_not_checked(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.store.looking.BUSY_S", 0.05)
    with closing(sqlite3.connect(kept / FILE_NAME, isolation_level=None)) as holder:
        holder.execute("BEGIN EXCLUSIVE")
        assert check_store(kept)[0].status == "not checked"
        holder.execute("ROLLBACK")


def test_a_full_disk_fails(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("centwise.chain.store.shutil.disk_usage", lambda _: Usage(1, 1, 12_000_000))
    room = check_store(kept)[1]
    assert room.status == "failed"
    assert "12 MB free" in room.finding


def test_the_estimate_holds_what_the_study_promises() -> None:
    line = estimate_once()
    assert line.status == "passed"
    assert line.figures["coverage_band"][0] < line.figures["coverage"] < line.figures["coverage_band"][1]
    # The bands are the study's own widened by three standard errors: sqrt(0.87 x 0.13 / 400) = 0.0168.
    assert line.figures["coverage_band"][0] == pytest.approx(0.87 - 3 * 0.0168, abs=1e-3)


@pytest.mark.parametrize(("figure", "wrong"), [("median_ratio", 1.3), ("coverage", 0.7), ("sd_octaves", 0.6)])
def test_an_estimate_that_misleads_fails(monkeypatch: pytest.MonkeyPatch, figure: str, wrong: float) -> None:
    monkeypatch.setattr(f"centwise.ear.trial_run.TrialRun.{figure}", property(lambda _: wrong))
    monkeypatch.setattr("centwise.chain.estimate.run_listeners", lambda _n, t, seed: run_listeners(20, t, seed=seed))
    assert check_estimate().status == "failed"


def test_versions_name_what_the_chain_is_made_of() -> None:
    found = versions()
    assert found["numpy"] == np.__version__
    assert {"centwise", "Python", "soundfile", "libsndfile", "miniaudio", "SQLite", "system"} <= set(found)
    assert all(found.values())
