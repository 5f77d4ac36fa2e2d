"""The command group. Each command lives in a module of its own, which loads what it needs when it runs.

Imports click, errors and below.
"""

from __future__ import annotations

import os
from importlib import import_module
from pathlib import Path
from typing import Any

import click

from centwise import __version__
from centwise.cli.diagnostics import guarded, let_go_of_streams, mend_streams, tell
from centwise.cli.signals import EndedBySignal, ended_by_signals
from centwise.errors import UsageError

PROGRAM = "centwise"
COMPLETION_VARIABLE = "_CENTWISE_COMPLETE"
"""How a shell asks for completions (click's custom)."""

COMMANDS: dict[str, tuple[str, str]] = {
    "drill": ("centwise.cli.drill", "Judge pairs: flat, unison or sharp."),
    "lessons": ("centwise.cli.lessons", "List the lessons there are, or write one out to change it."),
    "bench": ("centwise.cli.bench", "Rehearse setting a bridge on one that cannot be hurt."),
    "shift": ("centwise.cli.shift", "Turn cents into bridge travel, or travel into cents."),
    "record": ("centwise.cli.record", "Record harmonic and fretted note, then measure them."),
    "measure": ("centwise.cli.measure", "Measure harmonic and fretted note in a recording."),
    "render": ("centwise.cli.render", "Write tones or pairs to sound files."),
    "progress": ("centwise.cli.progress", "See how ears have moved, one or a whole class."),
    "listeners": ("centwise.cli.listeners", "List, add, rename, change, remove or merge listeners."),
    "export": ("centwise.cli.export", "Write listeners and their blocks to a file, to keep or pass on."),
    "import": ("centwise.cli.import_", "Take in what export wrote; twice changes nothing."),
    "check": ("centwise.cli.check", "Check the listening chain, part by part."),
}
"""Name, module and one line of help: enough for --help without loading a command."""


class LazyGroup(click.Group):
    """A group that loads a command's module only when that command is meant."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order in which they are useful."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        if cmd_name not in COMMANDS:
            return None
        command: Any = import_module(COMMANDS[cmd_name][0]).command
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from the table, loading none."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_module, line) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "--version", "-V", prog_name="centwise", message="%(prog)s %(version)s")
@click.option(
    "--data",
    type=click.Path(path_type=Path, readable=False),  # as options.PATH
    metavar="DIR",
    help="Without a command: the app keeps listeners and answers in this folder.  [CENTWISE_DATA]",
)
@click.pass_context
def centwise(ctx: click.Context, data: Path | None) -> None:
    """Train and measure the ear for a few cents, and read them as millimetres of bridge.

    Without a command the terminal app opens. Exit codes: 0 done, 1 the check or verdict failed, 2 usage, 3 input could
    not be used, 4 no sound device, 5 the store, 130 stopped by ctrl+c, 143 and 129 ended by SIGTERM or SIGHUP.
    """
    if ctx.invoked_subcommand is None:
        ctx.exit(ctx.invoke(import_module("centwise.cli.drill").command, data=data) or 0)
    if data is not None:
        name = ctx.invoked_subcommand
        raise UsageError("--data before a command is the app's", f"write it behind: centwise {name} --data {data}")


def run(arguments: list[str]) -> int:
    """Run the command line and return its exit code."""
    mend_streams()
    try:
        with ended_by_signals():
            return guarded(lambda: _invoke(arguments))
    except EndedBySignal as ended:
        told = ended.told()
        tell(str(told))
        return told.exit_code
    finally:
        let_go_of_streams()


def _invoke(arguments: list[str]) -> int | None:
    # What click's own `main` does, but for its ways of meeting ctrl+c and a closed pipe: those are `guarded`'s.
    if instruction := os.environ.get(COMPLETION_VARIABLE):
        from click.shell_completion import shell_complete  # noqa: PLC0415  only shells ask

        return shell_complete(centwise, {}, PROGRAM, COMPLETION_VARIABLE, instruction)
    with centwise.make_context(PROGRAM, arguments) as context:
        code: int | None = centwise.invoke(context)
        return code
