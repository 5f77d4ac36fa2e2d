"""`centwise lessons`: which lessons there are, whether a file is one, and a lesson's text to make one's own of.

Imports click, bootstrap and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from centwise.cli.options import data_option, json_option, own_instruments, settings_for
from centwise.cli.output import emit, lesson_record, say, stand_record
from centwise.errors import UsageError

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.lessons.lesson import Lesson, Standpoint
    from centwise.settings.load import Settings


@click.command(name="lessons")
@click.option("--show", metavar="NAME", help="Write out the TOML of a lesson that ships, to copy and change.")
@click.option("--test", "tested", metavar="FILE", help="Say whether a file is a lesson, and what it asks for.")
@click.option("--listener", metavar="NAME", help="Say where this listener stands in each.")
@data_option
@json_option
def command(
    *, show: str | None, tested: str | None, listener: str | None, data: Path | None, as_json: bool
) -> int | None:
    """List the lessons there are: your own, from the folder lessons beside the settings file, and those that ship.

    Take one with centwise drill --lesson NAME, or in the app with l.
    """
    if show is not None and (tested is not None or listener is not None or as_json):
        raise UsageError("--show writes a lesson and nothing else", "leave out the other options")
    from centwise.lessons.finding import lesson_named, lessons_found  # noqa: PLC0415  start-up path

    if show is not None:
        _show(show)
        return None
    settings = settings_for(data)
    instruments = own_instruments()
    found = lessons_found(settings.lessons_dir, instruments) if tested is None else None
    lessons = found.lessons if found is not None else (lesson_named(tested or "", settings.lessons_dir, instruments),)
    stands = _stands(settings, listener, lessons)
    if as_json:
        records = [
            lesson_record(lesson) | ({} if stand is None else {"standpoint": stand_record(stand)})
            for lesson, stand in zip(lessons, stands, strict=True)
        ]
        # One file asked about is one lesson; a list of them is one document all the same.
        emit(records[0] if found is None else {"lessons": records})
    else:
        for lesson, stand in zip(lessons, stands, strict=True):
            _tell(lesson, stand)
    troubles = () if found is None else found.troubles
    if not troubles and tested is None and not as_json and settings.lessons_dir is not None:
        say(f"Your own go into {settings.lessons_dir}, each a file that ends in .toml.")
    return _tell_troubles(tuple(str(error) for error in troubles))


def _tell_troubles(troubles: tuple[str, ...]) -> int:
    from centwise.cli.diagnostics import ExitCode, tell  # noqa: PLC0415  start-up path

    for trouble in troubles:
        tell(trouble)
    return ExitCode.INPUT if troubles else ExitCode.DONE


def _show(name: str) -> None:
    import sys  # noqa: PLC0415  start-up path

    from centwise.lessons.finding import SHIPPED, shipped_text  # noqa: PLC0415

    if name not in SHIPPED:
        raise UsageError(f"no lesson {name!r} ships with centwise", f"name one of {', '.join(SHIPPED)}")
    sys.stdout.write(shipped_text(name))


def _tell(lesson: Lesson, stand: Standpoint | None) -> None:
    from centwise.lessons.telling import next_block_sentence, outline_sentences  # noqa: PLC0415  start-up path

    say(f"{lesson.name}: {lesson.title}. {lesson.about}".rstrip())
    for sentence in outline_sentences(lesson):
        say(f"  {sentence}")
    if stand is not None:
        say(f"  {next_block_sentence(stand)}")


def _stands(settings: Settings, name: str | None, lessons: tuple[Lesson, ...]) -> list[Standpoint | None]:
    """Return where the listener stands in each lesson; None for each when no listener is meant."""
    if name is None:
        return [None] * len(lessons)
    from contextlib import closing  # noqa: PLC0415  start-up path

    from centwise.bootstrap import open_store  # noqa: PLC0415
    from centwise.cli.people import known_listener  # noqa: PLC0415
    from centwise.lessons.lesson import standpoint  # noqa: PLC0415

    with closing(open_store(settings)) as store:
        blocks = store.summaries(known_listener(store, name).id)
    return [standpoint(lesson, blocks) for lesson in lessons]
