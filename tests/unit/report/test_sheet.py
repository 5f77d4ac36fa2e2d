"""The technician's sheet: names escaped, nothing from outside, nothing that was not measured."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from centwise.chain.baseline import baselines_of
from centwise.chain.line import CheckLine, not_checked
from centwise.ear.history import Session, history_of
from centwise.errors import InputError, UsageError
from centwise.model import DEFAULT_SCALE_MM, BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.past import days_of
from centwise.report.page import check_page_file, page_html, write_page
from centwise.report.sheet import SheetListener, sheet_html
from centwise.store.sqlite import SqliteStore

if TYPE_CHECKING:
    from pathlib import Path

AT = datetime(2026, 3, 9, 12, 0, tzinfo=UTC)
START = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
NASTY = 'Zoë <script>alert("x")</script> {{ 7*7 }} &amp; \u202eأحمد\u0007'
LINES = (
    CheckLine("tones", "Tones as asked", "passed", "160 pairs <b>exact</b>"),
    CheckLine("device", "Output", "failed", f"{NASTY} takes no sound", "plug it in"),
    not_checked("loop", "Loop", "no sound was sent round", "ask for it with --loop"),
)
VERSIONS = {"centwise": "0.1.0", "Python": "3.11.7"}


class Page(HTMLParser):
    """Text, tags and attributes of a page, and whether its tags are balanced."""

    EMPTY = frozenset({"meta", "br", "link", "img", "hr"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self._open: list[str] = []
        self.feed(html)
        self.close()
        assert not self._open
        self.text = " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in self.EMPTY:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._open[-1:] != ["style"]:
            self.words.append(data)


def kept_blocks(
    folder: Path, thresholds: list[tuple[bool, float]], instrument: str = "five-string"
) -> tuple[SqliteStore, Listener]:
    store = SqliteStore.open(folder)
    who = Listener("id-1", NASTY)
    store.add_listener(who)
    for n, (assess, threshold) in enumerate(thresholds):
        began = START + timedelta(days=n)
        plan = BlockPlan(
            id=f"block-{n}",
            listener_id=who.id,
            condition=Condition(instrument, string=4, order="both"),
            rule="balanced",
            trials=40,
            assess=assess,
            seed=n,
            scale_mm=DEFAULT_SCALE_MM,
            player="miniaudio",
            started_at=began,
        )
        store.begin_block(plan)
        store.add_trial(plan.id, Trial(1, 5.0, "harmonic", "sharp", began))
        result = BlockResult(40, 30, threshold, threshold / 1.3, threshold * 1.3, 0.0, -1.0, 1.0, 2.0, 1.0, 0.8, 1.4, 3)
        store.end_block(plan.id, result, began + timedelta(minutes=6))
    return store, store.listeners()[0]


def sheet(who: SheetListener) -> tuple[str, Page]:
    html = sheet_html(LINES, who, VERSIONS, seed=77, at=AT)
    return html, Page(html)


def test_every_line_stands_on_the_sheet_with_word_and_sign() -> None:
    _html, page = sheet(SheetListener(None, reason="No listener is known yet."))
    assert "✓ passed 160 pairs <b>exact</b>." in page.text
    assert "✗ failed" in page.text
    assert "– not checked No sound was sent round. Ask for it with --loop." in page.text
    assert "Failed: Output. 1 of 3 lines were not checked." in page.text
    assert "– not checked No listener is known yet." in page.text
    assert "0.1.0" in page.text
    assert "3.11.7" in page.text
    assert "Seed 77" in page.text
    assert "no hearing test" in page.text
    assert "audiologist" in page.text
    assert re.search(r"9 March 2026, \d\d:\d\d \(UTC[+-]\d\d:\d\d\)", page.text)


def test_names_are_never_markup_and_steer_nothing(tmp_path: Path) -> None:
    store, who = kept_blocks(tmp_path, [(True, 9.0), (True, 8.0)])
    html, page = sheet(SheetListener(who, baselines_of(store, who, AT)))
    store.close()
    assert "script" not in page.tags
    assert "b" not in page.tags
    assert '<script>alert("x")</script> {{ 7*7 }} &amp;' in page.text
    assert "\u202e" not in html
    assert "\u0007" not in html


def test_the_page_needs_nothing_and_asks_nobody() -> None:
    html, page = sheet(SheetListener(None, reason="None."))
    assert set(page.tags).isdisjoint({"script", "link", "img", "iframe", "object", "form"})
    assert not [value for name, value in page.attributes if name in {"src", "href", "action"}]
    assert "url(" not in html
    assert "@import" not in html
    assert "http" not in html.replace("http-equiv", "")
    assert "default-src 'none'" in html


def test_it_is_made_for_light_dark_and_paper() -> None:
    html, _page = sheet(SheetListener(None, reason="None."))
    assert "prefers-color-scheme: dark" in html
    assert "@media print" in html
    # No size of its own: the reader's printer says whether A4 or Letter.
    assert re.search(r"@page \{ margin: \d+mm; \}", html)


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    parts = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_every_colour_can_be_read_on_its_paper() -> None:
    # WCAG 2.2, success criterion 1.4.3: a contrast of 4.5 to 1 at least.
    html, _page = sheet(SheetListener(None, reason="None."))
    light, dark = re.findall(r":root \{([^}]*--ink[^}]*)\}", html)[:2]
    for palette in (light, dark):
        colours = dict(re.findall(r"--(\w+): (#\w{6})", palette))
        paper = luminance(colours["paper"])
        for name in ("ink", "soft", "good", "bad", "open"):
            high, low = sorted((luminance(colours[name]), paper), reverse=True)
            assert (high + 0.05) / (low + 0.05) >= 4.5, (name, colours[name])


def test_the_baseline_is_the_history_and_the_band_that_of_the_assessments(tmp_path: Path) -> None:
    thresholds = [(False, 14.0), (True, 9.0), (True, 8.0), (False, 8.5), (True, 7.0)]
    store, who = kept_blocks(tmp_path, thresholds)
    (found,) = baselines_of(store, who, AT)
    store.close()
    sessions = [
        Session(days_of(START + timedelta(days=n)), threshold, threshold / 1.3, threshold * 1.3)
        for n, (_assess, threshold) in enumerate(thresholds)
    ]
    last = history_of(sessions).trend[-1]
    assert (found.blocks, found.assessments) == (5, 3)
    assert (found.threshold_cents, found.low_cents, found.high_cents) == (
        last.threshold_cents,
        last.low_cents,
        last.high_cents,
    )
    assessed = [session for session, (assess, _) in zip(sessions, thresholds, strict=True) if assess]
    assert (found.expected_low_cents, found.expected_high_cents) == history_of(assessed).foreseen_cents(
        days_of(AT), assessed[-1].sd_octaves
    )
    _html, page = sheet(SheetListener(who, (found,)))
    assert f"{found.threshold_cents:.1f} ({found.low_cents:.1f} to {found.high_cents:.1f})" in page.text
    assert f"{found.expected_low_cents:.1f} to {found.expected_high_cents:.1f}" in page.text
    assert "String 4, the others muted, both orders" in page.text
    assert "1 March 2026 to 5 March 2026" in page.text


def test_an_instrument_that_is_not_known_here_has_its_baseline_too(tmp_path: Path) -> None:
    store, who = kept_blocks(tmp_path, [(True, 9.0), (True, 8.0)], instrument="granny's banjo")
    (found,) = baselines_of(store, who, AT)
    store.close()
    assert found.condition_text == "Granny's banjo, string 4, the others muted, both orders"
    # At 26.25 in a cent is 0.385 mm of travel (derived).
    assert found.travel_mm == pytest.approx(0.385 * found.threshold_cents, rel=0.02)


def test_what_was_not_measured_of_a_listener_is_said(tmp_path: Path) -> None:
    store, who = kept_blocks(tmp_path, [(True, 9.0)])
    (found,) = baselines_of(store, who, AT)
    store.close()
    assert found.expected_low_cents is None
    _html, page = sheet(SheetListener(who, (found,)))
    assert "not checked: fewer than two assessments" in page.text
    assert "One block only, mostly learning the task" in page.text


def test_blocks_nobody_heard_are_no_baseline(tmp_path: Path) -> None:
    store = SqliteStore.open(tmp_path)
    who = Listener("id-1", "Ada")
    store.add_listener(who)
    assert baselines_of(store, who, AT) == ()
    store.close()


def test_a_template_that_lacks_something_is_an_error_and_not_a_gap() -> None:
    with pytest.raises(Exception, match="undefined"):
        page_html("sheet.html", at=AT)


def test_a_page_that_cannot_be_written_is_told_before_and_after(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="does not say a page"):
        check_page_file(tmp_path / "sheet.pdf", "--sheet")
    with pytest.raises(InputError, match="does not exist"):
        check_page_file(tmp_path / "nowhere" / "sheet.html", "--sheet")
    (tmp_path / "folder.html").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        check_page_file(tmp_path / "folder.html", "--sheet")
    with pytest.raises(InputError, match="cannot be written"):
        write_page(tmp_path / "folder.html", "x")
    assert [path.name for path in tmp_path.iterdir()] == ["folder.html"]
