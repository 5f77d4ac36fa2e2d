"""A recording session, walked through with a microphone that hears what the test plays."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile

from banjo import FIVE_STRING
from centwise.errors import DeviceError, InputError
from centwise.takes.folder import TakeFolder, TakeSet, checked_file, read_takes
from centwise.takes.session import COUNT, MOST_TRIES, Asked, Counting, Heard, Judged, Kept, PluckNow, RecordingSession
from microphones import RATE_HZ, Player, noise, pluck

if TYPE_CHECKING:
    from pathlib import Path

SET = TakeSet("five-string", 1, 666.75, "a microphone of the tests", RATE_HZ, None, datetime(2026, 3, 1, tzinfo=UTC))


def session_of(player: Player, path: Path, takes: int = 3) -> tuple[RecordingSession, TakeFolder]:
    folder = TakeFolder.create(path / "takes", SET)
    return RecordingSession(player.recorder, player.clock, folder, FIVE_STRING, takes), folder


def walk(session: RecordingSession, player: Player, path: Path) -> list[Any]:
    """Play when told to; a note is on disk before it is judged."""
    seen = []
    for happening in session.happenings():
        if isinstance(happening, PluckNow):
            player.now()
        if isinstance(happening, Judged):
            assert isinstance(seen[-1], Kept)
            assert seen[-1].file.stat().st_size > 0
        if not isinstance(happening, Heard):
            seen.append(happening)
    return seen


def test_three_takes_are_asked_for_kept_and_measured(tmp_path: Path) -> None:
    offsets = (5.0, 5.5, 4.5)
    player = Player([sound for cents in offsets for sound in (pluck(2.0), pluck(2.0 + cents))])
    session, folder = session_of(player, tmp_path)
    seen = walk(session, player, tmp_path)
    asked = [happening for happening in seen if isinstance(happening, Asked)]
    assert [(a.take, a.tone, a.attempt) for a in asked] == [
        (take, tone, 1) for take in (1, 2, 3) for tone in ("harmonic", "fretted")
    ]
    first = seen[: COUNT + 4]
    assert [type(happening) for happening in first] == [Asked, *[Counting] * COUNT, PluckNow, Kept, Judged]
    assert [h.left for h in first if isinstance(h, Counting)] == [3, 2, 1]
    assert all(h.quality.good and not h.given_up for h in seen if isinstance(h, Judged))
    found = session.measure()
    assert (session.pairs(), found.string) == (3, 1)
    # Made from sines by the test: 5.0 on average, scattering by half a cent.
    assert found.cents == pytest.approx(5.0, abs=0.02)
    takes = read_takes(folder.path)
    assert len(takes.pairs()) == 3
    assert all(note.quality == "good" for note in takes.notes)
    assert takes.notes[0].recorded_at < takes.notes[5].recorded_at
    for note in takes.notes:
        assert 2.0 * RATE_HZ < note.frames < 3.1 * RATE_HZ
        checked_file(folder.path, note)


def test_a_note_that_will_not_do_is_kept_told_and_asked_for_again(tmp_path: Path) -> None:
    player = Player([noise(1.0), pluck(0.0, hz=440.0), pluck(0.0), pluck(3.0, level=0.9), pluck(3.0)])
    session, folder = session_of(player, tmp_path, takes=1)
    seen = walk(session, player, tmp_path)
    judged = [(h.asked.tone, h.asked.attempt, h.quality.flaw) for h in seen if isinstance(h, Judged)]
    assert judged[:3] == [("harmonic", 1, "silent"), ("harmonic", 2, "other-string"), ("harmonic", 3, None)]
    assert judged[3][:2] == ("fretted", 1)
    assert [note.quality for note in read_takes(folder.path).notes][:3] == ["silent", "other-string", "good"]
    assert session.measure().cents == pytest.approx(3.0, abs=0.02)


def test_the_fret_beside_is_asked_for_again_also_on_a_string_out_of_tune(tmp_path: Path) -> None:
    player = Player([pluck(-60.0), pluck(40.0), pluck(-58.0)])
    session, _ = session_of(player, tmp_path, takes=1)
    seen = walk(session, player, tmp_path)
    assert [h.quality.flaw for h in seen if isinstance(h, Judged)] == [None, "other-note", None]
    assert session.measure().cents == pytest.approx(2.0, abs=0.02)


def test_a_note_with_a_gap_in_it_is_no_good_note(tmp_path: Path) -> None:
    player = Player([pluck(0.0), pluck(0.0), pluck(3.0)])
    session, folder = session_of(player, tmp_path, takes=1)
    for happening in session.happenings():
        if isinstance(happening, PluckNow):
            player.now()
        if isinstance(happening, Heard) and happening.sounding and len(folder.takes.notes) == 0:
            player.recorder.lag = 0.012
    assert [note.quality for note in read_takes(folder.path).notes] == ["gaps", "good", "good"]
    assert folder.takes.notes[0].why == "12 ms of sound were lost while it rang"
    assert session.measure().cents == pytest.approx(3.0, abs=0.02)


def test_after_some_tries_something_has_to_be_put_right_first(tmp_path: Path) -> None:
    player = Player([noise(1.0)] * MOST_TRIES)
    session, folder = session_of(player, tmp_path)
    seen = walk(session, player, tmp_path)
    assert [h.given_up for h in seen if isinstance(h, Judged)] == [False] * (MOST_TRIES - 1) + [True]
    assert len(read_takes(folder.path).notes) == MOST_TRIES
    with pytest.raises(InputError, match="no take has a harmonic and a fretted note that will do"):
        session.measure()


def test_a_microphone_that_goes_away_costs_nothing_that_was_heard(tmp_path: Path) -> None:
    # Asked, 3 s to read, 2.1 s of count-in, 0.5 s until the pluck: it goes away a second into the note.
    player = Player([pluck(0.0)], lost_at_s=6.6)
    session, folder = session_of(player, tmp_path)
    with pytest.raises(DeviceError, match="the microphone went away"):
        walk(session, player, tmp_path)
    notes = read_takes(folder.path).notes
    assert [(note.quality, note.tone) for note in notes] == [("cut-off", "harmonic")]
    assert notes[0].frames > RATE_HZ


def test_one_whole_take_of_a_session_that_was_left_is_measured(tmp_path: Path) -> None:
    player = Player([pluck(0.0), pluck(-7.0), pluck(1.0)])
    session, folder = session_of(player, tmp_path)
    for happening in session.happenings():
        if isinstance(happening, PluckNow):
            player.now()
        if isinstance(happening, Judged) and happening.asked.take == 2:
            break
    assert session.pairs() == 1
    assert session.measure().cents == pytest.approx(-7.0, abs=0.02)
    assert len(read_takes(folder.path).notes) == 3


def test_samples_that_are_no_numbers_do_not_end_it(tmp_path: Path) -> None:
    broken = pluck(0.0)
    broken[60_000] = np.nan
    player = Player([broken, pluck(2.0), pluck(0.0), pluck(2.0)])
    session, folder = session_of(player, tmp_path, takes=1)
    seen = walk(session, player, tmp_path)
    assert isinstance(seen[-1], Judged)
    assert all(np.isfinite(soundfile.read(folder.path / note.file)[0]).all() for note in folder.takes.notes)
    assert session.measure().cents == pytest.approx(2.0, abs=0.3)
