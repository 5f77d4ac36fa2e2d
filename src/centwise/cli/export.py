"""`centwise export`: listeners with all their blocks as JSON Lines, to keep, pass on or share.

Imports click, bootstrap and below.
"""

from __future__ import annotations

import sys
from contextlib import closing, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from centwise.cli.files import STDOUT, check_target, whole_file
from centwise.cli.options import data_option, json_option, settings_for
from centwise.cli.output import emit, say
from centwise.cli.waiting import waiting
from centwise.errors import UsageError
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Iterable


@click.command(name="export")
@click.argument("file", metavar="FILE")
@click.option("--listener", "names", multiple=True, metavar="NAME", help="Whose data; may be given several times.")
@click.option("--without-names", is_flag=True, help="Leave out names, notes and whatever else leads back to a person.")
@data_option
@json_option
def command(*, file: str, names: tuple[str, ...], without_names: bool, data: Path | None, as_json: bool) -> None:
    """Write listeners with all their blocks and answers into FILE, as JSON Lines; - for standard output.

    Everybody, or whoever --listener names. An existing file is replaced once the new one is whole. The format:
    docs/data-format.md.
    """
    if file == STDOUT and as_json:
        raise UsageError("--json and the data cannot both go to standard output", "name a file")
    from centwise import __version__  # noqa: PLC0415  start-up path
    from centwise.bootstrap import open_store  # noqa: PLC0415
    from centwise.cli.people import known_listener  # noqa: PLC0415
    from centwise.exchange.lines import lines_of  # noqa: PLC0415
    from centwise.exchange.nameless import other_id  # noqa: PLC0415
    from centwise.exchange.nameless import without_names as nameless  # noqa: PLC0415

    check_target(file)
    with closing(open_store(settings_for(data))) as store:
        ids = [known_listener(store, name).id for name in names] or None
        kept = store.exported(ids, id_key=other_id) if without_names else store.exported(ids)
        # Ended before the store is closed, however the writing ends.
        with closing(kept):
            records = nameless(kept) if without_names else kept
            lines = lines_of(records, written_by=__version__, names=not without_names)
            with waiting("the answers are being written") if file != STDOUT else nullcontext():
                last = _write(lines, file)
    counts = {key: last[key] for key in ("listeners", "blocks", "trials", "rehearsals")}
    if as_json:
        emit({"file": file, **counts})
    elif file != STDOUT:
        said = [counted(counts["listeners"], "listener"), counted(counts["blocks"], "block")]
        if counts["rehearsals"]:
            said.append(counted(counts["rehearsals"], "rehearsal"))
        with_answers = f"{', '.join(said)} and {counted(counts['trials'], 'answer')}"
        say(f"{with_answers} written to {file}{', without names' if without_names else ''}.")


def _write(lines: Iterable[str], file: str) -> dict[str, int]:
    """Write the lines and return what the last one, the end record, holds."""
    import json  # noqa: PLC0415  start-up path

    line = ""
    if file == STDOUT:
        for line in lines:
            sys.stdout.write(line)
        sys.stdout.flush()
    else:
        with whole_file(Path(file), encoding="ascii", newline="\n") as out:
            for line in lines:
                out.write(line)
    return dict(json.loads(line))
