"""`centwise import`: take in what `centwise export` wrote, all of it or nothing, and nothing twice.

Imports click, bootstrap and below.
"""

from __future__ import annotations

import sys
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import click

from centwise.cli.options import data_option, json_option, settings_for
from centwise.cli.output import emit, say
from centwise.cli.signals import EndedBySignal
from centwise.cli.waiting import waiting
from centwise.errors import InputError, StoppedError, UsageError, reason_of
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from centwise.exchange.lines import Reading
    from centwise.exchange.records import Kept
    from centwise.store.transfer import TakenIn

STDIN = "-"


@click.command(name="import")
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option("--dry-run", is_flag=True, help="Only say what would change.")
@data_option
@json_option
def command(*, files: tuple[str, ...], dry_run: bool, data: Path | None, as_json: bool) -> None:
    """Take in files that centwise export wrote; - for standard input.

    Who and what is here already is known by its id, so the same file twice changes nothing, and it does not matter in
    which order files come. Where merges contradict each other, all of them become one listener, in any order the same.
    When anything is wrong in any of them, nothing is changed.
    """
    from centwise.bootstrap import open_store  # noqa: PLC0415  start-up path

    with closing(open_store(settings_for(data))) as store:
        source = _Files(files)
        taken = None
        try:
            with waiting("what the files hold is being taken in"):
                taken = store.take_in(source.records(), try_only=dry_run)
                if not (dry_run or taken.nothing):
                    from centwise.class_view import class_rows  # noqa: PLC0415  start-up path

                    # Worked out now, so that whoever opens the class next does not wait for it.
                    class_rows(store)
        except UsageError as error:
            if source.reading is None:
                raise
            # Some records are wrong only beside what is here already.
            raise source.reading.refusal(error.what, error.to_do) from error
        except (KeyboardInterrupt, EndedBySignal) as stopped:
            kept, to_do = _became(imported=not dry_run and (taken is not None or store.change_kept))
            if isinstance(stopped, EndedBySignal):
                raise stopped.told(kept=kept, to_do=to_do) from None
            raise StoppedError(kept=kept, to_do=to_do) from None
    if as_json:
        emit(_record(taken, dry_run=dry_run))
        return
    for sentence in _sentences(taken, dry_run=dry_run):
        say(sentence)


def _became(*, imported: bool) -> tuple[str, str]:
    """Return what to tell whoever stopped an import: what became of it, and what to do."""
    if imported:
        return "but all of it is imported already", "look at it with centwise progress"
    return "and nothing was imported", "give the same command again"


class _Files:
    """Reads one file after the other; `reading` is the one that is being read."""

    def __init__(self, names: Sequence[str]) -> None:
        self._names = names
        self.reading: Reading | None = None

    def records(self) -> Iterator[Kept]:
        from centwise.exchange.lines import Reading  # noqa: PLC0415  start-up path

        for name in self._names:
            where = "standard input" if name == STDIN else name
            self.reading = Reading(_lines(name), where)
            yield from self.reading.records()


def _lines(name: str) -> Iterator[bytes]:
    from centwise.exchange.lines import MOST_LINE_BYTES  # noqa: PLC0415  start-up path

    try:
        if name == STDIN:
            # A test's stdin has no bytes beneath it.
            buffer = getattr(sys.stdin, "buffer", None)
            if buffer is None:
                yield from (line.encode() for line in sys.stdin)
            else:
                yield from iter(lambda: buffer.readline(MOST_LINE_BYTES + 1), b"")
            return
        with Path(name).open("rb") as file:
            yield from iter(lambda: file.readline(MOST_LINE_BYTES + 1), b"")
    except OSError as error:
        reason = reason_of(error)
        raise InputError(f"{name} cannot be read ({reason})", "nothing was imported; check its name") from error


def _record(taken: TakenIn, *, dry_run: bool) -> dict[str, object]:
    return {
        "dry_run": dry_run,
        "listeners": taken.listeners,
        "changed_listeners": taken.changed_listeners,
        "merged_listeners": taken.merged_listeners,
        "blocks": taken.blocks,
        "changed_blocks": taken.changed_blocks,
        "known_blocks": taken.known_blocks,
        "trials": taken.trials,
        "rehearsals": taken.rehearsals,
        "changed_rehearsals": taken.changed_rehearsals,
        "known_rehearsals": taken.known_rehearsals,
        "renamed": [{"from": before, "to": after} for before, after in taken.renamed],
    }


def _sentences(taken: TakenIn, *, dry_run: bool) -> Iterator[str]:
    known = counted(taken.known_blocks, "block")
    if taken.known_rehearsals:
        known += f" and {counted(taken.known_rehearsals, 'rehearsal')}"
    if taken.nothing:
        yield f"Nothing new. Here already: {known}."
        return
    new = [counted(taken.listeners, "listener"), counted(taken.blocks, "block"), counted(taken.trials, "answer")]
    if taken.rehearsals:
        new.append(counted(taken.rehearsals, "rehearsal"))
    yield f"{'Would be new' if dry_run else 'New'}: {', '.join(new)}. Here already: {known}."
    if gone_on := taken.changed_blocks + taken.changed_rehearsals:
        yield f"Blocks and rehearsals that had gone on: {gone_on:,}."
    if taken.changed_listeners:
        yield f"Listeners changed: {taken.changed_listeners:,}."
    if taken.merged_listeners:
        yield f"Listeners merged, as they were there: {taken.merged_listeners:,}."
    for before, after in taken.renamed:
        yield f"Two are called {before!r}: one {'would be' if dry_run else 'is now'} {after!r}."
    if taken.renamed:
        yield "The same person? centwise listeners merge makes them one."
