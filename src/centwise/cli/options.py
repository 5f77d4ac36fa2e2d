"""Options that several commands share, and the types of their values. Loads no numpy."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from centwise.draws import MAX_SEED
from centwise.errors import UsageError
from centwise.units import parse_length_mm

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.settings.load import Settings

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


def data_option(command: F) -> F:
    """Add --data."""
    return click.option(
        "--data",
        type=click.Path(path_type=Path, file_okay=True),
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
        "--instrument", default="five-string", show_default=True, metavar="NAME", help="The instrument."
    )(command)


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
