"""The pages in a real browser: quiet, complete, as wide as the screen, readable for all, printable."""

from __future__ import annotations

import json
import re
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from browser import Browser, axe_script, chromium, running_browser

from centwise.cli.main import run
from centwise.store.sqlite import SqliteStore
from practised import HOSTILE_NAMES, practise, rehearse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.browser

A4_IN, LETTER_IN = (8.27, 11.69), (8.5, 11.0)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    if chromium() is None:
        pytest.skip("not installed: chromium")
    with running_browser(tmp_path_factory.mktemp("profile")) as found:
        yield found


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """A page of each kind, of listeners whose names do their worst."""
    folder = tmp_path_factory.mktemp("pages")
    data = folder / "data"
    with closing(SqliteStore.open(data)) as store:
        ada = practise(store, "Ada", 12, trials=30, note="left-handed\n" + "mutes " * 60)
        rehearse(store, ada, (6.4, -3.0), (-1.2, 0.4), (0.5, -0.5))
        for name in HOSTILE_NAMES:
            practise(store, name, 1, trials=12, note=name * 9)
        practise(store, "Nobody yet", 0)
        names = [listener.name for listener in store.listeners()]
    found = {}
    for kind, options in {
        "one": ["--listener", "Ada"],
        "several": [word for name in names if name != "Ada" for word in ("--listener", name)],
        "class": ["--class"],
    }.items():
        found[kind] = folder / f"{kind}.html"
        assert run(["progress", "--data", str(data), "--html", str(found[kind]), *options]) == 0
    found["sheet"] = folder / "sheet.html"
    sheet = ["--sheet", str(found["sheet"]), "--listener", "Ada"]
    assert run(["check", "--data", str(data), "--only", "store", *sheet]) == 0
    return found


DRAWN = ("one", "several", "class")
KINDS = (*DRAWN, "sheet")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("width", [360, 1280])
def test_quiet_complete_and_no_wider_than_the_screen(
    browser: Browser, pages: dict[str, Path], kind: str, width: int
) -> None:
    browser.open(pages[kind], width=width)
    assert browser.logged == []
    assert browser.requests == []
    assert browser.evaluate("document.documentElement.scrollWidth") <= width
    # Each picture has a size and its words, and every id is there once.
    pictures = browser.evaluate(
        "Array.from(document.querySelectorAll('svg')).map(s => [s.getBoundingClientRect().width,"
        " s.getAttribute('aria-label').length])"
    )
    assert bool(pictures) == (kind in DRAWN)
    for drawn_px, words in pictures:
        # Letters are 1/28 of a picture's width.
        assert 11.5 * 28 <= drawn_px <= width
        assert words > 40
    ids = browser.evaluate("Array.from(document.querySelectorAll('[id]')).map(e => e.id)")
    assert len(ids) == len(set(ids))
    broken = browser.evaluate(
        "Array.from(document.querySelectorAll('use')).filter(u => !document.getElementById("
        "(u.getAttribute('href') || u.getAttribute('xlink:href')).slice(1))).length"
    )
    assert broken == 0


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_nothing_serious_is_in_the_way_of_anybody(
    browser: Browser, pages: dict[str, Path], kind: str, width: int, dark: bool
) -> None:
    script = axe_script()
    if script is None:
        pytest.skip("not installed: axe-core")
    browser.open(pages[kind], width=width, dark=dark)
    browser.evaluate(script.read_text(encoding="utf-8"))
    found = json.loads(browser.evaluate("axe.run(document).then(found => JSON.stringify(found))"))
    assert len(found["passes"]) > 15
    wrong = [
        (rule["impact"], rule["id"], [node["html"][:200] for node in rule["nodes"][:3]])
        for rule in found["violations"]
        if rule["impact"] in {"serious", "critical"}
    ]
    assert wrong == []


def test_dark_is_dark(browser: Browser, pages: dict[str, Path]) -> None:
    shades = []
    for dark in (False, True):
        browser.open(pages["one"], width=800, dark=dark)
        colours = browser.evaluate(
            "[getComputedStyle(document.body).backgroundColor,"
            " getComputedStyle(document.querySelector('svg path[style*=\"--one\"]')).stroke]"
        )
        shades.append([sum(map(int, re.findall(r"\d+", colour)[:3])) for colour in colours])
    (light_paper, light_line), (dark_paper, dark_line) = shades
    assert dark_paper < 150
    assert light_paper > 600
    assert dark_line > light_line


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("paper", [A4_IN, LETTER_IN], ids=["A4", "Letter"])
def test_it_prints(browser: Browser, pages: dict[str, Path], kind: str, paper: tuple[float, float]) -> None:
    browser.open(pages[kind], width=1280)
    width_in, height_in = paper
    printed = browser.pdf(width_in=width_in, height_in=height_in)
    assert printed.startswith(b"%PDF-")
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", printed)
    assert boxes
    for width_pt, height_pt in boxes:
        assert float(width_pt) == pytest.approx(72 * width_in, abs=1)
        assert float(height_pt) == pytest.approx(72 * height_in, abs=1)
    # Nothing is cut off at the side: laid out for paper, no block is wider than the sheet between its margins.
    browser.call("Emulation.setEmulatedMedia", media="print")
    sheet_px = round(96 * (width_in - 2 * 15 / 25.4))
    browser.call("Emulation.setDeviceMetricsOverride", width=sheet_px, height=1000, deviceScaleFactor=1, mobile=False)
    assert browser.evaluate("document.documentElement.scrollWidth") <= sheet_px
    browser.call("Emulation.setEmulatedMedia", media="")


def test_hostile_names_are_words_and_nothing_else(browser: Browser, pages: dict[str, Path]) -> None:
    for kind in DRAWN[1:]:
        browser.open(pages[kind], width=1280)
        assert browser.evaluate("document.scripts.length") == 0
        text = browser.evaluate("document.body.innerText")
        for name in HOSTILE_NAMES:
            if name.isprintable():
                assert name in text
        assert "49" not in re.findall(r"\[bold\](.*?)\[/bold\]", text)
        assert not re.search("[\u202a-\u202e\u2066-\u2069\x1b]", text)


def test_a_name_of_ten_thousand_letters(browser: Browser, tmp_path: Path) -> None:
    from centwise.model import Listener
    from centwise.ports import ClassRow
    from centwise.report.progress_page import class_html, heard_by, listeners_html
    from fakes import START, MemoryStore

    store = MemoryStore()
    long = replace(Listener("l", "x" * 10_000), note="y" * 10_000)
    store.add_listener(long)
    from centwise.progress import progress_of

    one = listeners_html([heard_by(store, progress_of(long, (), START))], at=START)
    rows = class_html([ClassRow(long, 0, 0, 0.0, None)], at=START)
    for number, html in enumerate((one, rows)):
        path = tmp_path / f"{number}.html"
        path.write_text(html, encoding="utf-8")
        for width in (360, 1280):
            browser.open(path, width=width)
            assert browser.evaluate("document.documentElement.scrollWidth") <= width
