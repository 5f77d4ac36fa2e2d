"""The settings of one run: from the command line's --data, the environment, the settings file, and the platform.

Nothing is made on disk here, and platformdirs is loaded only when it is asked. Imports platformdirs, strings and below.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from centwise.errors import InputError, UsageError, reason_of
from centwise.model import DEFAULT_SCALE_MM
from centwise.systems import expanded
from centwise.units import parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

Theme = Literal["auto", "light", "dark"]
THEMES: tuple[Theme, ...] = ("auto", "light", "dark")
Motion = Literal["full", "reduced"]
MOTIONS: tuple[Motion, ...] = ("full", "reduced")
KeyTables: TypeAlias = "Mapping[str, Mapping[str, tuple[str, ...]]]"
"""Keys by place and act, as they are written."""

CONFIG_VARIABLE = "CENTWISE_CONFIG"
DATA_VARIABLE = "CENTWISE_DATA"
LESSONS_FOLDER = "lessons"
INSTRUMENTS_FOLDER = "instruments"
_PROGRAM = "centwise"

_EXPECTED = {
    "data": 'a folder, such as "~/ears"',
    "player": 'a player, such as "auto" or "miniaudio"',
    "theme": 'one of "auto", "light" and "dark"',
    "scale": 'a length with its unit, such as "26.25in" or "667mm"',
    "motion": 'one of "full" and "reduced"',
    "keys": 'tables such as [keys.drill], in each an act and its key: flat = "j" or again = ["x", "space"]',
}
"""The keys of the settings file and what each expects."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What one run was asked for.

    Attributes:
        data_dir: the folder of the store; it may not exist yet.
        player: the words a player is chosen by; whoever opens it checks them.
        theme: light or dark terminal colours, or auto.
        scale_mm: scale length for new listeners, above 0 mm.
        lessons_dir: where one's own lessons lie, beside the settings file; it may not exist. None for no such place.
        instruments_dir: where one's own instruments lie, beside the settings file; it may not exist. None for nowhere.
        motion: whether the app's pictures move.
        keys: other keys for the app's acts; the app checks them, as it knows the acts.
        config_file: where all this was read, None without a file.
    """

    data_dir: Path
    player: str = "auto"
    theme: Theme = "auto"
    scale_mm: float = DEFAULT_SCALE_MM
    lessons_dir: Path | None = None
    instruments_dir: Path | None = None
    motion: Motion = "full"
    keys: KeyTables = field(default_factory=dict)
    config_file: Path | None = field(default=None, compare=False)


def default_config_file(environ: Mapping[str, str]) -> Path:
    """Return where the settings file is looked for: CENTWISE_CONFIG, else the platform's place; it may not exist."""
    if named := environ.get(CONFIG_VARIABLE):
        return expanded(named)
    import platformdirs  # noqa: PLC0415  only when the place is needed

    return platformdirs.user_config_path(_PROGRAM, appauthor=False) / "settings.toml"


def load_settings(config_file: Path | None, environ: Mapping[str, str], *, data_dir: Path | None = None) -> Settings:
    """Load the settings; for the store's folder `data_dir` comes first, then CENTWISE_DATA, the file, the platform.

    Args:
        config_file: a TOML file with any of the keys data, player, theme, scale, motion, keys; None for no file. One
            that is missing counts as empty, unless CENTWISE_CONFIG names it.
        environ: the environment.
        data_dir: what --data said, or None.

    Raises:
        InputError: the file cannot be read, is not TOML, or holds an unknown key or a value of the wrong kind.
    """
    table = {} if config_file is None else _read(config_file, required=bool(environ.get(CONFIG_VARIABLE)))
    values: dict[str, Any] = {key: _value(config_file, key, value) for key, value in table.items()}
    from_file = values.pop("data", None)
    if data_dir is not None:
        folder = data_dir
    elif named := environ.get(DATA_VARIABLE):
        folder = expanded(named)
    elif from_file is not None and config_file is not None:
        folder = config_file.parent / expanded(from_file)
    else:
        import platformdirs  # noqa: PLC0415  only when the place is needed

        folder = platformdirs.user_data_path(_PROGRAM, appauthor=False)
    if "scale" in values:
        values["scale_mm"] = values.pop("scale")
    lessons_dir, instruments_dir = (
        None if config_file is None else config_file.parent / name for name in (LESSONS_FOLDER, INSTRUMENTS_FOLDER)
    )
    return Settings(
        data_dir=folder,
        lessons_dir=lessons_dir,
        instruments_dir=instruments_dir,
        config_file=config_file,
        **values,
    )


def _read(config_file: Path, *, required: bool) -> dict[str, Any]:
    try:
        text = config_file.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        if not required:
            return {}
        raise InputError(
            f"the settings file {config_file} does not exist", f"make it or unset {CONFIG_VARIABLE}"
        ) from error
    except OSError as error:
        reason = reason_of(error)
        raise InputError(f"the settings file {config_file} cannot be read ({reason})", "check it") from error
    except UnicodeDecodeError as error:
        raise InputError(f"the settings file {config_file} is not UTF-8 text", "save it as UTF-8") from error
    # Most people have no settings file: who has one loads what reads it.
    import tomllib  # noqa: PLC0415  start-up path

    from centwise.strings.toml_lines import toml_table  # noqa: PLC0415

    try:
        return toml_table(text)
    except tomllib.TOMLDecodeError as error:
        # tomllib ends its message with "(at line 3, column 5)".
        raise InputError(f"the settings file {config_file} is not TOML ({error})", "mend that line") from error
    except RecursionError as error:
        raise InputError(f"the settings file {config_file} is nested too deeply", "give each key one value") from error


def _value(config_file: Path | None, key: str, value: object) -> object:
    if key not in _EXPECTED:
        raise InputError(f"the settings file {config_file} has an unknown key {key!r}", f"use {', '.join(_EXPECTED)}")
    from centwise.strings.toml_lines import as_toml  # noqa: PLC0415  start-up path

    wrong = InputError(f"the settings file {config_file} sets {key} to {as_toml(value)}", f"give {_EXPECTED[key]}")
    if key == "keys":
        tables = _key_tables(value)
        if tables is None:
            raise wrong
        return tables
    choices = {"theme": THEMES, "motion": MOTIONS}.get(key)
    # With a zero character in it nothing is a folder's name to any system.
    if not isinstance(value, str) or not value.strip() or "\0" in value:
        raise wrong
    if choices is not None and value not in choices:
        raise wrong
    if key == "scale":
        try:
            return parse_length_mm(value)
        except UsageError as error:
            raise wrong from error
    return value


def _key_tables(value: object) -> KeyTables | None:
    """Return the tables of keys as they are written; None where they are none. What they name, the app checks."""
    if not isinstance(value, dict):
        return None
    tables: dict[str, dict[str, tuple[str, ...]]] = {}
    for place, table in value.items():
        if not isinstance(table, dict):
            return None
        for act, keys in table.items():
            given = [keys] if isinstance(keys, str) else keys
            if not isinstance(given, list) or not given or not all(isinstance(key, str) and key for key in given):
                return None
            tables.setdefault(place, {})[act] = tuple(given)
    return tables
