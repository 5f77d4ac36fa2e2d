"""Options that several commands share, and the types of their values. Loads no numpy.

Imports click, settings and below.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from centwise.draws import MAX_SEED
from centwise.errors import CentwiseError, UsageError
from centwise.strings.names import BUILT_IN_NAMES, DEFAULT_NAME
from centwise.units import parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.settings.instruments import OwnInstruments
    from centwise.settings.load import Settings
    from centwise.strings.instrument import Instrument

F = TypeVar("F", bound="Callable[..., Any]")


class LengthParam(click.ParamType[float]):
    """A length with its unit, in millimetres: 26.25in, 26 1/4in, 667mm."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Read the text, or refuse it in a sentence."""
        if isinstance(value, float):
            return value
        try:
            return parse_length_mm(str(value))
        except UsageError as error:
            self.fail(f"{error.what} ({error.to_do})", param, ctx)


LENGTH = LengthParam()
PATH = click.Path(path_type=Path, readable=False)
"""Whether a path can be read says whatever reads it: click would call it a wrong word and leave with 2."""


def data_option(command: F) -> F:
    """Add --data."""
    return click.option(
        "--data",
        type=PATH,
        metavar="DIR",
        help="Keep listeners and answers in this folder.  [CENTWISE_DATA]",
    )(command)


def seed_option(command: F) -> F:
    """Add --seed."""
    return click.option(
        "--seed",
        type=click.IntRange(0, MAX_SEED),
        metavar="N",
        help="Draw everything from this number; else one is drawn and shown.",
    )(command)


def instrument_options(command: F) -> F:
    """Add --instrument and --string."""
    command = click.option(
        "--string", type=int, metavar="N", help="The string, as players count it (five-string: 1 to 5)."
    )(command)
    return instrument_option(command)


def instrument_option(command: F) -> F:
    """Add --instrument."""
    return click.option(
        "--instrument",
        default=DEFAULT_NAME,
        show_default=True,
        metavar="NAME",
        shell_complete=complete_instrument,
        help=f"{', '.join(BUILT_IN_NAMES[1:-1])} or {BUILT_IN_NAMES[-1]}, or one of your own.",
    )(command)


def complete_instrument(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[str]:
    """Return the names a shell can complete; one's own cannot be looked at, those of the package."""
    try:
        names = own_instruments().names()
    except CentwiseError:
        names = BUILT_IN_NAMES
    return [name for name in names if name.startswith(begun)]


def own_instruments() -> OwnInstruments:
    """Return the instruments of the package and those described beside the settings file."""
    import os  # noqa: PLC0415  start-up path

    from centwise.settings.instruments import OwnInstruments  # noqa: PLC0415
    from centwise.settings.load import INSTRUMENTS_FOLDER, default_config_file  # noqa: PLC0415

    return OwnInstruments(default_config_file(os.environ).parent / INSTRUMENTS_FOLDER)


def instrument_at(name: str, scale_mm: float | None) -> Instrument:
    """Return an instrument at a scale length, or without one at its usual.

    Raises:
        InputError: its file cannot be used.
        UsageError: there is none of that name, or no instrument has that length.
    """
    instrument = own_instruments().named(name)
    return instrument if scale_mm is None else instrument.with_scale(scale_mm)


def scale_option(command: F) -> F:
    """Add --scale."""
    return click.option(
        "--scale", type=LENGTH, metavar="LENGTH", help="Scale length, such as 26.25in, 26 1/4in or 667mm."
    )(command)


def json_option(command: F) -> F:
    """Add --json."""
    return click.option("--json", "as_json", is_flag=True, help="Print the result as one JSON object.")(command)


def player_option(command: F) -> F:
    """Add --player."""
    return click.option(
        "--player",
        metavar="auto|miniaudio|simpleaudio|silent|silent:hurry|file:DIR",
        help="How it is sounded; file:DIR writes one WAV a pair and never waits.",
    )(command)


def settings_for(data: Path | None) -> Settings:
    """Read the settings for a command: the file, the environment, then what the command line says."""
    import os  # noqa: PLC0415  start-up path

    from centwise.settings.load import default_config_file, load_settings  # noqa: PLC0415  start-up path

    return load_settings(default_config_file(os.environ), os.environ, data_dir=data)
