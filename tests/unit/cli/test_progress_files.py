"""`centwise progress --html` and `--csv` as commands."""

from __future__ import annotations

import csv
import io
import json
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from centwise.store.sqlite import SqliteStore
from practised import practise

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine

FORMULA = "=cmd|' /C calc'!A0"


@pytest.fixture
def with_listeners(centwise: CommandLine, tmp_path: Path) -> CommandLine:
    with closing(SqliteStore.open(tmp_path / "data")) as store:
        practise(store, "Ada", 2, trials=8)
        practise(store, FORMULA, 1, trials=6)
    return centwise


def test_the_class_one_listener_and_several(with_listeners: CommandLine, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert with_listeners("progress", "--html", str(page)) == 0
    assert with_listeners.out == f"2 listeners written to {page}.\n"
    assert "<h1>The class</h1>" in page.read_text(encoding="utf-8")
    assert with_listeners("progress", "--listener", "ada", "--html", str(page), "--json") == 0
    assert json.loads(with_listeners.out) == {"html": str(page)}
    assert "<h1>Progress of <bdi>Ada</bdi></h1>" in page.read_text(encoding="utf-8")
    assert with_listeners("progress", "--listener", "Ada", "--listener", FORMULA, "--html", str(page)) == 0
    assert "Progress of 2 listeners" in page.read_text(encoding="utf-8")


def test_the_answers_for_a_spreadsheet(with_listeners: CommandLine, tmp_path: Path) -> None:
    sheet = tmp_path / "answers.csv"
    assert with_listeners("progress", "--csv", str(sheet)) == 0
    assert with_listeners.out == f"22 answers written to {sheet}.\n"
    content = sheet.read_bytes()
    assert content.startswith(b"\xef\xbb\xbflistener,")
    rows = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    assert len(rows) == 22
    assert {row["listener"] for row in rows} == {"Ada", f"'{FORMULA}"}
    assert with_listeners("progress", "--csv", "-", "--listener", "Ada") == 0
    assert len(list(csv.DictReader(io.StringIO(with_listeners.out)))) == 16


def test_what_cannot_be_written(with_listeners: CommandLine, tmp_path: Path) -> None:
    with_listeners.refuses("progress", "--html", "page.txt", code=2, words="does not say a page: end it in .html")
    with_listeners.refuses("progress", "--html", ".", code=2, words=r"'\.' does not say a page")
    with_listeners.refuses("progress", "--chart", "--html", "x.html", code=2, words="--chart draws in the terminal")
    with_listeners.refuses("progress", "--chart", code=2, words="of one listener: say whose with --listener")
    for option in (["--sort", "name"], ["--reverse"]):
        words = "order the class: leave them out with --listener"
        with_listeners.refuses("progress", "--listener", "Ada", *option, code=2, words=words)
    missing = str(tmp_path / "missing" / "page")
    with_listeners.refuses("progress", "--html", f"{missing}.html", code=3, words="missing does not exist")
    with_listeners.refuses("progress", "--csv", f"{missing}.csv", code=3, words="cannot be written")
    with_listeners.refuses("progress", "--csv", "-", "--json", code=2, words="both want standard output")
    with_listeners.refuses("progress", "--html", "x.html", "--listener", "Adda", code=2, words="no listener named")
