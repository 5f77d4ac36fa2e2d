"""`--instrument` on every command that has `--string`: each instrument sounds, is recognised, and is told apart."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import centwise.strings
from centwise.store.sqlite import SqliteStore
from centwise.strings.geometry import bridge_offset_mm
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES
from centwise.units import cents_between

if TYPE_CHECKING:
    from conftest import CommandLine

FOLDER = Path(centwise.strings.__file__).parent / "instruments"
OCTAVE = (FOLDER / "mandolin.toml").read_text(encoding="utf-8").replace("13.875in", "14in")
STRINGS = [(name, string.number) for name in BUILT_IN_NAMES for string in BUILT_IN.named(name).strings]


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CENTWISE_CONFIG", str(tmp_path / "settings.toml"))
    (tmp_path / "settings.toml").touch()
    (tmp_path / "instruments").mkdir()
    file = tmp_path / "instruments" / "mine.toml"
    file.write_text(OCTAVE, encoding="utf-8")
    return file


@pytest.mark.parametrize(("name", "number"), STRINGS)
def test_what_is_rendered_is_recognised_and_measured(
    centwise: CommandLine, tmp_path: Path, name: str, number: int
) -> None:
    string = BUILT_IN.named(name).string(number)
    file = str(tmp_path / "take.wav")
    words = ("--instrument", name, "--seed", "3", "--json")
    assert centwise("render", file, "--string", str(number), "--cents", "-4.5", *words) == 0
    rendered = json.loads(centwise.out)
    assert (rendered["instrument"], rendered["string"]) == (name, number)
    harmonic_hz = rendered["sounds"]["harmonic"]["frequency_hz"]
    # The first partial as rendered lies above the octave by what stiffness adds, a cent or two at most.
    assert 0.0 <= cents_between(harmonic_hz, string.octave_hz) < 2.0
    assert rendered["peak_dbfs"] <= -6.0
    assert centwise("measure", file, "--instrument", name, "--json") == 0
    found = json.loads(centwise.out)
    assert (found["instrument"], found["string"], found["verdict"]) == (name, number, "flat")
    assert found["cents"] == pytest.approx(-4.5, abs=0.01)
    assert found["string_length_mm"] == pytest.approx(string.length_mm, abs=1e-3)
    assert found["travel_mm"] == pytest.approx(bridge_offset_mm(-4.5, string.length_mm), abs=0.01)


@pytest.mark.parametrize("name", BUILT_IN_NAMES)
def test_without_a_string_it_is_the_bass_sides(centwise: CommandLine, tmp_path: Path, name: str) -> None:
    instrument = BUILT_IN.named(name)
    assert centwise("shift", "--cents", "-4", "--instrument", name, "--json") == 0
    found = json.loads(centwise.out)
    assert (found["instrument"], found["string"]) == (name, instrument.bass_string)
    assert found["scale_mm"] == pytest.approx(instrument.scale_mm, abs=1e-4)
    assert centwise("render", str(tmp_path / "x.wav"), "--kind", "open", "--instrument", name, "--json") == 0
    assert json.loads(centwise.out)["string"] == instrument.bass_string


def test_sentences_say_which_instrument_is_meant(centwise: CommandLine, tmp_path: Path) -> None:
    assert centwise("shift", "--cents", "-4", "--instrument", "mandolin") == 0
    assert "String 4 of the mandolin, scale 13.875 in (352.42 mm): the fretted note is 4.00 cents flat." in centwise.out
    assert centwise("render", str(tmp_path / "x.wav"), "--instrument", "plectrum", "--string", "2") == 0
    assert "Wrote the pair of string 2 of the plectrum banjo to" in centwise.out


@pytest.mark.parametrize(("name", "number"), [("mandolin", 5), ("archtop-guitar", 7), ("tenor-17", 0)])
def test_strings_are_counted_as_the_instrument_counts(
    centwise: CommandLine, tmp_path: Path, name: str, number: int
) -> None:
    last = len(BUILT_IN.named(name).strings)
    words = ("--instrument", name, "--string", str(number))
    for command in (("shift", "--cents", "1"), ("render", str(tmp_path / "x.wav")), ("drill", "--plain")):
        assert centwise(*command, *words) == 2
        assert f"has no string {number}: choose one from 1 to {last}." in centwise.err


def test_ones_own_instrument_sounds_and_is_measured(centwise: CommandLine, own: Path, tmp_path: Path) -> None:
    file = str(tmp_path / "take.wav")
    assert centwise("render", file, "--instrument", "mine", "--string", "2", "--cents", "7") == 0
    assert centwise("measure", file, "--instrument", "mine", "--json") == 0
    found = json.loads(centwise.out)
    assert (found["string"], found["scale_mm"]) == (2, pytest.approx(14 * 25.4))
    assert found["cents"] == pytest.approx(7.0, abs=0.01)


def test_a_wrong_file_is_named_with_line_and_field(centwise: CommandLine, own: Path) -> None:
    own.write_text(OCTAVE.replace('feet = "90mm"', 'feet = "90"'), encoding="utf-8")
    for command in (("shift", "--cents", "1"), ("drill", "--plain"), ("measure", "x.wav"), ("render", "x.wav")):
        assert centwise(*command, "--instrument", "mine") == 3
        assert f"centwise: the instrument file {own}, line 14: bridge.feet is '90': give a length" in centwise.err
    assert centwise("shift", "--cents", "1") == 0, "whoever does not ask for it is not kept from anything"


def test_a_drill_is_of_the_instrument_named_and_kept_apart(centwise: CommandLine, own: Path, tmp_path: Path) -> None:
    data, sounds = str(tmp_path / "data"), f"file:{tmp_path / 'sounds'}"
    common = ("drill", "--events", "--data", data, "--player", sounds, "--trials", "6", "--listener", "Cy")
    for name in ("mandolin", "mine", "five-string"):
        assert centwise(*common, "--instrument", name, lines="flat\n" * 6) == 0
        events = [json.loads(line) for line in centwise.out.splitlines()]
        assert (events[0]["instrument"], events[0]["string"]) == (name, 4)
        octave_hz = BUILT_IN.named("five-string" if name == "five-string" else "mandolin").string(4).octave_hz
        sounded_hz = events[1]["sounds"]["harmonic"]["frequency_hz"]
        assert sounded_hz == pytest.approx(octave_hz, rel=1e-3)
    store = SqliteStore.open(tmp_path / "data")
    (listener,) = store.listeners()
    assert listener.instrument == "mandolin", "what the new listener came with"
    blocks = store.blocks(listener.id)
    assert [block.plan.condition.instrument for block in blocks] == ["mandolin", "mine", "five-string"]
    assert [block.plan.prior_threshold_cents for block in blocks] == [None, None, None]
    assert [block.plan.scale_mm for block in blocks] == pytest.approx([13.875 * 25.4, 14 * 25.4, 26.25 * 25.4])
    store.close()
    assert centwise(*common, lines="quit\n") == 0
    assert json.loads(centwise.out.splitlines()[0])["instrument"] == "mandolin", "what the listener plays"


def test_plain_says_whose_string_it_is(centwise: CommandLine, tmp_path: Path) -> None:
    data = ("--data", str(tmp_path / "data"), "--player", f"file:{tmp_path / 'sounds'}")
    assert centwise("drill", "--plain", "--instrument", "archtop-guitar", *data, lines="quit\n") == 0
    assert "40 pairs on string 6 of the archtop guitar, scale 25.5 in (647.70 mm)" in centwise.out


def test_a_block_on_a_changed_instrument_is_refused(centwise: CommandLine, own: Path, tmp_path: Path) -> None:
    common = ("drill", "--events", "--data", str(tmp_path / "data"), "--player", f"file:{tmp_path / 'sounds'}")
    words = ("--instrument", "mine", "--string", "3")
    assert centwise(*common, *words, lines="quit\n") == 0
    own.write_text(OCTAVE.replace('note = "D4"', 'note = "C4"'), encoding="utf-8")
    assert centwise(*common, *words, lines="quit\n") == 3
    assert "string 3 of 'mine' was tuned to 293.7 Hz in earlier blocks, now it is 261.6 Hz" in centwise.err


@pytest.mark.parametrize(("begun", "found"), [("mand", "mandolin"), ("mi", "mine"), ("pl", "plectrum")])
def test_names_are_completed(centwise: CommandLine, own: Path, begun: str, found: str) -> None:
    words = {"_CENTWISE_COMPLETE": "bash_complete", "COMP_WORDS": f"centwise shift --instrument {begun}"}
    for name, value in (words | {"COMP_CWORD": "3"}).items():
        centwise.monkeypatch.setenv(name, value)
    assert centwise() == 0
    assert centwise.out == f"plain,{found}\n"


def test_the_page_proposes_the_strings_of_ones_own_instrument(centwise: CommandLine, own: Path, tmp_path: Path) -> None:
    # Six strings, set by the 6th and the 1st: another instrument's usual 4th string would be wrong.
    guitar = resources.files("centwise.strings.instruments").joinpath("archtop-guitar.toml").read_text(encoding="utf-8")
    own.write_text(guitar, encoding="utf-8")
    page = tmp_path / "ann.html"
    assert centwise("listeners", "add", "Ann", "--instrument", "mine") == 0
    assert centwise("progress", "--listener", "Ann") == 0
    (proposed,) = [line for line in centwise.out.splitlines() if line.startswith("Next: ")]
    assert "string 6" in proposed
    assert centwise("progress", "--listener", "Ann", "--html", str(page)) == 0
    assert proposed in page.read_text(encoding="utf-8")
