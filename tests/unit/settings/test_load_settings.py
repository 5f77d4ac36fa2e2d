from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import platformdirs
import pytest

from centwise.errors import InputError
from centwise.model import DEFAULT_SCALE_MM
from centwise.settings.load import Settings, default_config_file, load_settings

PLATFORM = platformdirs.user_data_path("centwise", appauthor=False)


def file_of(folder: Path, text: str | bytes) -> Path:
    path = folder / "settings.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def test_without_anything_the_platform_decides() -> None:
    assert load_settings(None, {}) == Settings(PLATFORM, "auto", "auto", DEFAULT_SCALE_MM)


def test_a_missing_file_counts_as_empty_unless_it_was_named(tmp_path: Path) -> None:
    missing = tmp_path / "settings.toml"
    assert load_settings(missing, {}) == Settings(
        PLATFORM, lessons_dir=tmp_path / "lessons", instruments_dir=tmp_path / "instruments"
    )
    environ = {"CENTWISE_CONFIG": str(missing)}
    assert default_config_file(environ) == missing
    with pytest.raises(InputError, match=r"settings\.toml does not exist: make it or unset CENTWISE_CONFIG"):
        load_settings(default_config_file(environ), environ)


def test_all_keys(tmp_path: Path) -> None:
    text = 'data = "ears"\nplayer = "silent"\ntheme = "light"\nscale = "26 1/2in"\n'
    assert load_settings(file_of(tmp_path, text), {}) == Settings(
        tmp_path / "ears",
        "silent",
        "light",
        pytest.approx(26.5 * 25.4),
        tmp_path / "lessons",
        tmp_path / "instruments",
    )


def test_keys_and_motion_are_taken_as_they_are_written(tmp_path: Path) -> None:
    text = 'motion = "reduced"\n[keys.drill]\nflat = "j"\nagain = ["x", "space"]\n[keys.everywhere]\nhelp = "f9"\n'
    settings = load_settings(file_of(tmp_path, text), {})
    assert settings.motion == "reduced"
    assert settings.keys == {"drill": {"flat": ("j",), "again": ("x", "space")}, "everywhere": {"help": ("f9",)}}
    assert settings.config_file == tmp_path / "settings.toml"
    assert load_settings(None, {}).keys == {}


@pytest.mark.parametrize(
    "text",
    [
        'keys = "j"',
        '[keys]\nflat = "j"',
        "[keys.drill]\nflat = 3",
        "[keys.drill]\nflat = []",
        '[keys.drill]\nflat = ["j", ""]',
        "[keys.drill.flat]\nkey = 1",
    ],
)
def test_what_is_no_table_of_keys_is_named(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match=r"settings\.toml sets keys to .*: give tables such as \[keys\.drill\]"):
        load_settings(file_of(tmp_path, text), {})


def test_another_motion_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"sets motion to 'none': give one of \"full\" and \"reduced\"\.$"):
        load_settings(file_of(tmp_path, 'motion = "none"'), {})


def test_a_byte_order_mark_does_not_matter(tmp_path: Path) -> None:
    assert load_settings(file_of(tmp_path, b'\xef\xbb\xbfplayer = "silent"\n'), {}).player == "silent"


def test_the_command_line_goes_before_the_environment_before_the_file(tmp_path: Path) -> None:
    config = file_of(tmp_path, 'data = "/in/file"')
    environ = {"CENTWISE_DATA": "/in/environment"}
    assert load_settings(config, environ, data_dir=Path("/on/line")).data_dir == Path("/on/line")
    assert load_settings(config, environ).data_dir == Path("/in/environment")
    assert load_settings(config, {"CENTWISE_DATA": ""}).data_dir == Path("/in/file")


def test_a_tilde_is_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    assert load_settings(None, {"CENTWISE_DATA": "~/ears"}).data_dir == tmp_path / "ears"
    assert load_settings(file_of(tmp_path, 'data = "~/x"'), {}).data_dir == tmp_path / "x"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            'volume = "loud"',
            r"an unknown key 'volume': use data, player, theme, scale, motion, keys\.$",
        ),
        ("player = 3", r"sets player to 3: give a player, such as"),
        ('theme = "pink"', r"sets theme to 'pink': give one of \"auto\", \"light\" and \"dark\"\.$"),
        ("scale = 26.25", r"sets scale to 26\.25: give a length with its unit, such as"),
        ('scale = "long"', r"sets scale to 'long': give a length with its unit"),
        ('data = ""', r"sets data to '': give a folder"),
        ('data = "a\\u0000b"', r"sets data to 'a\\x00b': give a folder"),
        ("[player]\nname = 1", r"sets player to \{name = 1\}: give a player"),
        (
            "player = " + "9" * 5000,
            r"is not TOML \(A whole number has too many digits \(at line 1, .*: mend that line\.$",
        ),
        ("player = " + "[" * 5000, r"is nested too deeply: give each key one value\.$|is not TOML"),
        ('player = "auto"\ntheme = pink\n', r"is not TOML \(.*line 2.*\): mend that line\.$"),
        (b'player = "\xff"', r"is not UTF-8 text: save it as UTF-8\.$"),
    ],
)
def test_what_is_wrong_in_the_file_is_named(tmp_path: Path, text: str | bytes, message: str) -> None:
    with pytest.raises(InputError, match=message):
        load_settings(file_of(tmp_path, text), {})


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"the settings file .* cannot be read \(is a directory\)"):
        load_settings(tmp_path, {})


def test_nothing_is_made_on_disk_and_nothing_heavy_is_imported(tmp_path: Path) -> None:
    script = (
        "import sys\n"
        "from centwise.settings.load import default_config_file, load_settings\n"
        "assert not {'platformdirs', 'numpy', 'sqlite3'} & sys.modules.keys()\n"
        "load_settings(default_config_file({}), {})\n"
    )
    subprocess.run(
        [sys.executable, "-c", script],
        env={"HOME": str(tmp_path), "USERPROFILE": str(tmp_path), "APPDATA": str(tmp_path)},
        timeout=30,
        check=True,
    )
    assert list(tmp_path.iterdir()) == []
