"""From a template and what it shows to one file of HTML that needs nothing else.

Templates stand in `templates` and extend `base.html`, which brings the style. Everything they show is escaped, and what
could steer a reader (control characters, marks that turn writing round) is replaced; put names into <bdi>.
Imports jinja2, systems and below.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from centwise.errors import InputError, UsageError
from centwise.harmless import harmless
from centwise.systems import check_file_name, local_time, written_whole

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

SUFFIXES = (".html", ".htm")


def check_page_file(path: Path, option: str) -> None:
    """Refuse a file that no page can be written to, before anything is done for it.

    Args:
        path: where the page is wanted.
        option: what asked for it, such as --sheet.

    Raises:
        UsageError: its name has another suffix.
        InputError: its folder is missing, or it is one, or no file can have that name.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise UsageError(f"{str(path)!r} does not say a page", f"end it in .html, such as {option} sheet.html")
    check_file_name(path)
    if path.is_dir():
        raise InputError(f"{path} is a folder", "name a file in it")
    if not path.absolute().parent.is_dir():
        raise InputError(f"the folder {path.absolute().parent} does not exist", "make it, or name another")
    if not os.access(path.absolute().parent, os.W_OK):
        raise InputError(f"{path} cannot be written (permission denied)", "choose a folder you may write to")


def page_html(template: str, **shown: object) -> str:
    """Return a page.

    Args:
        template: its file's name in `templates`.
        shown: what it shows, by the names the template uses; a name it does not get is an error.
    """
    import jinja2  # noqa: PLC0415  loaded when a page is made

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("centwise.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        finalize=_plain,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["moment"] = moment_text
    return environment.get_template(template).render(**shown)


def write_page(path: Path, html: str) -> None:
    """Write a page beside its place and move it there when it is complete; an existing one is replaced.

    Raises:
        InputError: it cannot be written; then nothing is left behind and an earlier page is as it was.
    """
    with written_whole(path) as part, part.open("w", encoding="utf-8", newline="\n") as out:
        out.write(html)


def moment_text(instant: datetime) -> str:
    """Write an instant in the machine's own zone, as in `3 March 2026, 14:05 (UTC+01:00)`."""
    local = local_time(instant)
    offset = local.strftime("%z")
    return f"{local.day} {local:%B %Y, %H:%M} (UTC{offset[:3]}:{offset[3:5]})"


def _plain(value: object) -> object:
    """Replace what could steer a reader; what is no text, or was made safe by the template, is left as it is."""
    if type(value) is not str:
        return value
    return harmless(value)
