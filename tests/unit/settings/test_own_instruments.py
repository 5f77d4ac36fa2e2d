"""Instruments a user describes: found by their file's name, refused with file and field, never taken for another."""

from __future__ import annotations

from pathlib import Path

import pytest

import centwise.strings
from centwise.errors import InputError, UsageError
from centwise.settings.instruments import OwnInstruments
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES

MANDOLIN = (Path(centwise.strings.__file__).parent / "instruments" / "mandolin.toml").read_text(encoding="utf-8")
OCTAVE = MANDOLIN.replace('title = "mandolin"', 'title = "octave mandolin"').replace("13.875in", "20in")


def described(folder: Path, name: str, text: str | bytes = OCTAVE) -> OwnInstruments:
    folder.mkdir(exist_ok=True)
    (folder / f"{name}.toml").write_bytes(text.encode() if isinstance(text, str) else text)
    return OwnInstruments(folder)


@pytest.mark.parametrize("folder", [None, Path("/no/such/folder"), Path(__file__)])
def test_without_a_folder_there_are_those_of_the_package(folder: Path | None) -> None:
    own = OwnInstruments(folder)
    assert own.names() == BUILT_IN_NAMES
    assert own.named("plectrum") is BUILT_IN.named("plectrum")
    with pytest.raises(UsageError, match="no instrument named 'lute': choose one of: five-string, "):
        own.named("lute")


@pytest.mark.parametrize("name", ["octave", "7-string", "x" * 60])
def test_ones_own_is_found_by_its_files_name(tmp_path: Path, name: str) -> None:
    own = described(tmp_path / "instruments", name, OCTAVE.replace('"E5"', '"D5"'))
    (tmp_path / "instruments" / "notes.txt").write_text("no instrument")
    assert own.names() == (*BUILT_IN_NAMES, name)
    instrument = own.named(name)
    assert (instrument.name, instrument.title, instrument.scale_mm) == (name, "octave mandolin", 508.0)
    assert own.named(name) is instrument


def test_an_unknown_name_is_told_ones_own_too(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"named '\.\./octave': choose one of: .*archtop-guitar, octave"):
        described(tmp_path, "octave").named("../octave")


def test_the_name_of_another_instrument_is_not_to_be_taken(tmp_path: Path) -> None:
    own = described(tmp_path, "mandolin")
    with pytest.raises(InputError, match=r"mandolin\.toml has the name of an instrument that centwise brings along"):
        own.named("mandolin")
    assert own.names() == BUILT_IN_NAMES
    assert own.named("plectrum").name == "plectrum", "the others are still there"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (OCTAVE.replace("[neck]", "[necks]"), r"octave\.toml, line 17: necks is no field"),
        ("title = oops\n", r"octave\.toml is not TOML \(.*line 1.*\): mend that line"),
        (b"\xff\xfe", r"octave\.toml is not UTF-8 text: save it as UTF-8"),
        (b"#" * 100_001, r"octave\.toml is larger than 100 kB"),
    ],
)
def test_a_file_that_cannot_be_used_is_named(tmp_path: Path, text: str | bytes, words: str) -> None:
    own = described(tmp_path, "octave", text)
    with pytest.raises(InputError, match=words) as caught:
        own.named("octave")
    assert caught.value.exit_code == 3
    assert own.named("five-string").name == "five-string", "the others are still there"


def test_a_byte_order_mark_does_not_matter(tmp_path: Path) -> None:
    assert described(tmp_path, "octave", b"\xef\xbb\xbf" + OCTAVE.encode()).named("octave").numbers == (1, 2, 3, 4)


@pytest.mark.parametrize("name", ["a\x1bb", "x" * 61, "Octave", "großvaters", "a.b", "-a", "a b"])
def test_a_name_no_instrument_can_have_is_listed_nowhere_and_told_when_asked_for(tmp_path: Path, name: str) -> None:
    own = described(tmp_path, name)
    assert own.names() == BUILT_IN_NAMES
    with pytest.raises(InputError, match="has a name that no instrument can have: give it one of small letters"):
        own.named(name)


def test_a_folder_or_file_without_rights_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = described(tmp_path, "octave")

    def refused(*_arguments: object, **_options: object) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", refused)
        with pytest.raises(InputError, match=r"octave\.toml cannot be read \(permission denied\): check it"):
            own.named("octave")
    monkeypatch.setattr(Path, "iterdir", refused)
    with pytest.raises(InputError, match=r"the folder .* cannot be read \(permission denied\): check it"):
        own.names()
