"""`centwise record`: what is said, kept and measured, and each way in which it can end otherwise."""

from __future__ import annotations

import json
import signal
from typing import TYPE_CHECKING, Any

import pytest

from centwise.cli.signals import EndedBySignal
from centwise.errors import DeviceError
from centwise.takes.folder import MANIFEST, read_takes
from centwise.takes.session import PluckNow, RecordingSession
from microphones import Player, noise, pluck

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from conftest import CommandLine

HAPPENINGS = RecordingSession.happenings
THREE = [sound for cents in (4.0, 4.4, 3.6) for sound in (pluck(1.0), pluck(1.0 + cents))]


@pytest.fixture
def microphone(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Player]:
    """Put a microphone in place of the system's; its sounds are played whenever a note may be."""

    def plug_in(sounds: list[NDArray[Any]], **how: Any) -> Player:
        player = Player(sounds, **how)

        def played(session: RecordingSession) -> Iterator[Any]:
            for happening in HAPPENINGS(session):
                if isinstance(happening, PluckNow):
                    player.now()
                yield happening

        monkeypatch.setattr(RecordingSession, "happenings", played)
        monkeypatch.setattr("centwise.audio.open.open_recorder", lambda _clock: player.recorder)
        monkeypatch.setattr("centwise.bootstrap.SystemClock", lambda: player.clock)
        return player

    return plug_in


def test_three_takes_in_sentences(centwise: CommandLine, tmp_path: Path, microphone: Callable[..., Player]) -> None:
    player = microphone(THREE)
    folder = tmp_path / "takes"
    assert centwise("record", str(folder), "--string", "1", "--scale", "26 1/4in", "--plain") == 0
    said = centwise.out.splitlines()
    assert said[0] == (f"Recording string 1 (D4) of the five-string banjo, scale 26.25 in (666.75 mm), into {folder}.")
    assert said[1] == "Microphone: a microphone of the tests, 48000 Hz."
    assert said[3:9] == [
        "Take 1 of 3, the harmonic: touch string 1 lightly over fret 12 and pluck.",
        "3",
        "2",
        "1",
        "Pluck.",
        said[8],
    ]
    assert said[8].startswith("Good, at -")
    assert said[8].endswith(" dB. Kept as 01-take-1-harmonic.wav.")
    assert said[9].startswith("Take 1 of 3, the fretted note: press string 1 at fret 12 as you play")
    assert "The fretted note is sharp: +4.0" in centwise.out
    assert "Plucks scatter" in centwise.out or "3 harmonics and 3 fretted notes" in centwise.out
    assert said[-1] == f"Measure it again at any time: centwise measure {folder}"
    assert centwise.err == ""
    assert player.recorder.closed
    # The same again from the folder alone: string, scale and instrument come from its manifest.
    assert centwise("measure", str(folder)) == 0
    again = centwise.out.splitlines()
    assert [line for line in said if "cents." in line] == [line for line in again if "cents." in line]
    assert "String 1 (D4), scale 26.25 in" in again[0]
    assert centwise("measure", str(folder), "--json", "--details") == 0
    found = json.loads(centwise.out)
    assert found["cents"] == pytest.approx(4.0, abs=0.02)
    assert len(found["plucks"]) == 6
    centwise.refuses("measure", str(folder), "--string", "3", code=3, words="the octave of string 1, not of string 3")


def test_json_is_alone_on_stdout_and_flac_is_kept(
    centwise: CommandLine, tmp_path: Path, microphone: Callable[..., Player]
) -> None:
    microphone(THREE[:2])
    folder = tmp_path / "takes"
    assert centwise("record", str(folder), "--string", "1", "--takes", "1", "--format", "flac", "--json") == 0
    found = json.loads(centwise.out)
    assert (found["folder"], found["string"], found["verdict"]) == (str(folder), 1, "sharp")
    assert "Pluck." in centwise.err
    assert {path.name for path in folder.iterdir()} == {
        MANIFEST,
        "01-take-1-harmonic.flac",
        "02-take-1-fretted.flac",
    }


def test_without_a_folder_one_is_made_beside_the_answers(
    centwise: CommandLine, tmp_path: Path, microphone: Callable[..., Player]
) -> None:
    microphone([noise(1.0)] * 5)
    # The bass side's string is meant where none is told.
    assert centwise("record", "--takes", "1") == 3
    (folder,) = (tmp_path / "data" / "takes").iterdir()
    assert folder.name == "2026-01-02-030405-string-4"
    assert "string 4 would not be recorded well" in centwise.err
    assert f"record into a new folder; 5 notes kept in {folder}." in centwise.err
    assert centwise.out.count("Nothing was heard") == 5
    assert centwise.out.count("Once more, please.") == 4
    centwise.refuses("measure", str(folder), code=3, words="holds no take with a good harmonic and a good fretted note")


def test_a_loud_room_and_a_dead_microphone_are_told_once(
    centwise: CommandLine, tmp_path: Path, microphone: Callable[..., Player]
) -> None:
    player = microphone([noise(1.0)] * 5)
    player.recorder.hear(noise(60.0, 0.05))
    centwise("record", str(tmp_path / "loud"), "--takes", "1")
    assert centwise.out.count("The room reaches -1") == 1
    player = microphone([noise(1.0, 0.0)] * 5)
    player.recorder.hear(noise(60.0, 0.0))
    centwise("record", str(tmp_path / "dead"), "--takes", "1")
    assert centwise.out.count("The microphone gives nothing at all so far") == 1


def test_no_microphone_leaves_nothing_behind(
    centwise: CommandLine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(_clock: object) -> None:
        raise DeviceError("no microphone could be opened", "plug one in; centwise measure works on files")

    monkeypatch.setattr("centwise.audio.open.open_recorder", none)
    centwise.refuses("record", str(tmp_path / "takes"), code=4, words="centwise measure works on files")
    assert not (tmp_path / "takes").exists()


def test_a_microphone_that_goes_away(centwise: CommandLine, tmp_path: Path, microphone: Callable[..., Player]) -> None:
    player = microphone(THREE, lost_at_s=12.0)
    folder = tmp_path / "takes"
    assert centwise("record", str(folder), "--string", "1") == 4
    assert centwise.err == (
        f"centwise: the microphone went away: plug it in again; {len(read_takes(folder).notes)} notes kept in"
        f" {folder}.\n"
    ).replace("1 notes", "one note")
    assert player.recorder.closed


@pytest.mark.parametrize(
    ("stopping", "code", "words"),
    [
        (KeyboardInterrupt(), 130, "stopped by ctrl+c"),
        (EndedBySignal(signal.SIGTERM), 143, "told to end by SIGTERM"),
    ],
    ids=["ctrl-c", "SIGTERM"],
)
def test_stopped_from_outside(
    centwise: CommandLine,
    tmp_path: Path,
    microphone: Callable[..., Player],
    monkeypatch: pytest.MonkeyPatch,
    stopping: BaseException,
    code: int,
    words: str,
) -> None:
    player = microphone(THREE[:3])

    def stop() -> None:
        raise stopping

    sounds = iter(range(4))
    play = player.now
    monkeypatch.setattr(player, "now", lambda: stop() if next(sounds) == 3 else play())
    assert centwise("record", str(tmp_path / "takes"), "--string", "1") == code
    assert centwise.err == (
        f"centwise: {words}, with 3 notes kept in {tmp_path / 'takes'}: record the rest into a new folder.\n"
    )
    assert centwise("measure", str(tmp_path / "takes")) == 0
    assert "+4.0" in centwise.out


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--takes", "0"), 2, "0 takes cannot be recorded: ask for 1 to 20 with --takes"),
        (("--takes", "21"), 2, "21 takes cannot be recorded"),
        (("--string", "6"), 2, "has no string 6"),
        (("--instrument", "kazoo"), 2, "kazoo"),
        (("--scale", "2in"), 2, "scale"),
        (("--format", "ogg"), 2, "ogg"),
    ],
)
def test_what_cannot_be_asked(
    centwise: CommandLine, tmp_path: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    centwise.refuses("record", str(tmp_path / "takes"), *arguments, code=code, words=words)
    assert not (tmp_path / "takes").exists()


def test_a_folder_that_holds_something_is_left_alone(centwise: CommandLine, tmp_path: Path) -> None:
    (tmp_path / "takes.json").write_text("mine")
    centwise.refuses("record", str(tmp_path), code=2, words="holds something already: name a new one")
    assert (tmp_path / "takes.json").read_text() == "mine"
    centwise.refuses("measure", str(tmp_path), code=3, words="is no manifest of takes that can be read")


def test_the_ear_may_be_asked_first(centwise: CommandLine, tmp_path: Path, microphone: Callable[..., Player]) -> None:
    microphone(THREE)
    folder = tmp_path / "takes"
    assert centwise("record", str(folder), "--string", "1", "--ear-first") == 0
    assert "cents" not in centwise.out
    assert centwise.out.splitlines()[-1] == (
        f"The takes are kept. Now judge them by ear: centwise drill --take {folder}"
    )
