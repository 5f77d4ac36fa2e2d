"""The progress page: what it says is what the store holds, and the same store gives the same bytes."""

from __future__ import annotations

import html
import logging
import re
from dataclasses import replace
from datetime import timedelta
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from centwise.class_view import class_rows
from centwise.ear.curve import psychometric_curve
from centwise.model import Listener
from centwise.ports import ClassRow
from centwise.progress import progress_of
from centwise.progress_text import condition_text
from centwise.report.answers import pooled_trials
from centwise.report.figures import class_counts
from centwise.report.progress_page import MOST_CONDITIONS, class_html, heard_by, listeners_html
from centwise.report.svg import new_figure
from fakes import MemoryStore
from practised import BEGIN, HOSTILE_NAMES, practise, rehearse

if TYPE_CHECKING:
    from datetime import datetime

NOW = BEGIN + timedelta(days=30)


def page(store: MemoryStore, *names: str, at: datetime = NOW) -> str:
    listeners = [who for who in store.listeners() if who.name in names]
    progress = [progress_of(who, store.summaries(who.id), at) for who in listeners]
    return listeners_html([heard_by(store, one) for one in progress], at=at)


@pytest.fixture(scope="module")
def store() -> MemoryStore:
    store = MemoryStore()
    practise(store, "Ada", 7, trials=24, note="left-handed\nsecond line")
    practise(store, "Ben", 1, trials=12)
    practise(store, "Silent", 2, trials=12, player="silent")
    return store


@pytest.fixture(scope="module")
def adas(store: MemoryStore) -> str:
    return page(store, "Ada")


class Elements(HTMLParser):
    """Collects tags, checks that they nest, and gathers attributes and text."""

    VOID = ("meta", "br", "link", "path", "use")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.text.append(data)


def words(text: str) -> str:
    return " ".join(" ".join(Elements(text).text).split())


def test_it_stands_by_itself(adas: str) -> None:
    elements = Elements(adas)
    assert not {"script", "link", "iframe", "object", "img", "base"} & {tag for tag, _ in elements.tags}
    for tag, attributes in elements.tags:
        for name in ("src", "href", "xlink:href", "action"):
            if attributes.get(name):
                assert str(attributes[name]).startswith("#"), (tag, attributes)
    assert "url(http" not in adas
    assert "@import" not in adas


def test_every_picture_has_its_words_and_a_table_after_it(adas: str) -> None:
    pictures = re.findall(r'<svg role="img" aria-label="([^"]+)"', adas)
    assert len(pictures) == 9  # three of each condition: strings 4 and 1, and the assessment's both orders
    for alt in pictures:
        assert len(alt) > 40
    for figure in adas.split("<figure>")[1:]:
        # In the same part of the page, before the next heading.
        assert "<table>" in adas[adas.index(figure) :].partition("<h3>")[0]
    ids = [attributes["id"] for _, attributes in Elements(adas).tags if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_the_figures_are_the_stores(store: MemoryStore, adas: str) -> None:
    text = words(adas)
    ada = next(who for who in store.listeners() if who.name == "Ada")
    progress = progress_of(ada, store.summaries(ada.id), NOW)
    for found in progress.conditions:
        now = found.now
        assert (
            f"{now.threshold_cents:.1f} cents, 90 % sure between {now.low_cents:.1f} and {now.high_cents:.1f}" in text
        )
        for session in found.sessions:
            result = session.result
            assert result is not None
            assert f"{result.threshold_cents:.1f} ({result.low_cents:.1f} to {result.high_cents:.1f})" in text
            assert f"{result.bias_cents:+.1f} ({result.bias_low_cents:+.1f} to {result.bias_high_cents:+.1f})" in text
    last = progress.conditions[0]
    trials = [t for b in store.blocks(ada.id, last.condition) for t in b.trials if t.scored]
    asked = [
        int(n)
        for n in re.findall(r'<tr><th scope="row">(?:flat|unison|sharp)[^<]*</th><td class="number">(\d+)<', adas)
    ]
    assert sum(asked) == sum(len(b.trials) for b in store.blocks(ada.id))
    assert len(trials) in {sum(asked[:k]) for k in range(len(asked) + 1)}
    for word in (
        "In plain words",
        "For the teacher",
        "left-handed",
        "second line",
        "0.6745",
        "no hearing test",
        "Next:",
    ):
        assert word in text


def test_the_same_store_gives_the_same_bytes(store: MemoryStore, adas: str) -> None:
    assert page(store, "Ada") == adas
    later = page(store, "Ada", at=NOW + timedelta(hours=1))
    # Nothing but the hour itself depends on the clock.
    assert later.replace("10:00", "09:00") == adas


def test_the_trend_stands_in_the_table_and_is_told_from_the_third_block_on(store: MemoryStore, adas: str) -> None:
    who = next(one for one in store.listeners() if one.name == "Ada")
    found = progress_of(who, store.summaries(who.id), NOW).conditions[0]
    point = found.history.trend[-1]
    shown = f'{point.threshold_cents:.1f} <span class="band">({point.low_cents:.1f} to {point.high_cents:.1f})</span>'
    assert f'<td class="number">{shown}</td>' in adas
    (row,) = re.findall(rf'<tr>.*<td class="number">{re.escape(shown)}</td>.*</tr>', adas)[:1]
    assert f"{found.last.result.threshold_cents:.1f}" in row  # type: ignore[union-attr]
    assert "the trend stands at" in adas
    ben = page(store, "Ben")
    assert "the trend stands at" not in ben
    assert "no trend is drawn before the third block" in ben


def test_the_table_behind_the_curve_says_what_the_curve_says(store: MemoryStore, adas: str) -> None:
    ada = next(who for who in store.listeners() if who.name == "Ada")
    found = progress_of(ada, store.summaries(ada.id), NOW).conditions[0]
    trials = pooled_trials(store.blocks(ada.id, found.condition))
    columns = ([t.offset_cents for t in trials], [t.answer for t in trials], [t.first for t in trials])
    _, curve = psychometric_curve(*columns, [-16.0, 0.0, 8.0])
    # The first condition's part of the page.
    part = adas.split("<h3>")[2]
    for place, cents in enumerate(("-16", "0", "+8")):
        cells = [
            f'<td class="number">{100 * mean:.0f} <span class="band">({100 * low:.0f} to {100 * high:.0f})</span></td>'
            for mean, low, high in zip(curve.chances[:, place], curve.low[:, place], curve.high[:, place], strict=True)
        ]
        assert f'<tr><th scope="row">{cents}</th>{"".join(cells)}</tr>' in part


def test_of_many_ways_of_hearing_some_are_drawn_and_all_are_told() -> None:
    store = MemoryStore()
    ada = practise(store, "Ada", 1, trials=12)
    (block,) = store.blocks(ada.id)
    assert block.result is not None
    ways = [(string, muted) for string in range(1, 6) for muted in (True, False)]
    for number, (string, muted) in enumerate(ways):
        at = BEGIN + timedelta(days=2 + number)
        condition = replace(block.plan.condition, string=string, muted=muted)
        store.begin_block(replace(block.plan, id=f"way-{number}", condition=condition, started_at=at))
        for trial in block.trials:
            store.add_trial(f"way-{number}", trial)
        store.end_block(f"way-{number}", block.result, at)
    text = page(store, "Ada")
    progress = progress_of(ada, store.summaries(ada.id), NOW)
    assert len(progress.conditions) == 10
    parts = {part.partition("</h3>")[0]: part for part in text.split("<h3>")}
    for number, found in enumerate(progress.conditions):
        part = parts[condition_text(found.condition)]
        drawn = number < MOST_CONDITIONS
        assert ("<svg" in part) == drawn
        assert (f"pictures are drawn of the {MOST_CONDITIONS} ways of hearing practised last" in part) != drawn
        # Each has its answers and its blocks in tables, drawn or not.
        for table in ("answers by difference", "blocks"):
            assert f'{condition_text(found.condition)}: {table}"' in part
        assert f'<th scope="row">{condition_text(found.condition)}</th>' in parts["For the teacher"]
    # In plain words each string is told once; what else there is, is said.
    assert "5 more ways of hearing have parts below" in parts["In plain words"]


def test_no_two_parts_of_a_page_are_called_alike(store: MemoryStore) -> None:
    elements = Elements(page(store, "Ada", "Ben"))
    called = [a["aria-label"] for _, a in elements.tags if a.get("role") == "region"]
    assert len(called) == len(set(called)) >= 8


def test_several_listeners_and_whoever_has_no_threshold(store: MemoryStore) -> None:
    text = page(store, "Ada", "Ben", "Silent")
    elements = Elements(text)
    ids = [attributes["id"] for _, attributes in elements.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert "Progress of 3 listeners" in words(text)
    assert "No block with a threshold yet." in words(text)
    targets = {str(a["href"])[1:] for tag, a in elements.tags if tag == "a"}
    assert targets == {"l1", "l2", "l3"} <= set(ids)


def test_rehearsals_stand_beside_the_blocks() -> None:
    store = MemoryStore()
    ada = practise(store, "Ada", 0)
    rehearse(store, ada, (6.4, -3.0), (-1.2, 0.04))
    text = page(store, "Ada")
    said = words(text)
    assert "What 2 rehearsals left on the outer strings; the last -1.2 cents on the bass side and +0.0" in said
    assert "in 1 of them both were within 2 cents" in said
    rows = re.findall(r"<tr><th scope=\"row\" class=\"day\">(.*?)</tr>", text)
    cells = [re.sub(r"<[^>]+>", "|", row) for row in rows]
    assert cells == [
        "3 Mar 2026||straight, easy, guided||-1.2 flat||+0.0 unison||4||9||1 of 2||14 %|",
        "2 Mar 2026||straight, easy, guided||+6.4 sharp||-3.0 flat||4||9||1 of 2||14 %|",
    ]
    store = MemoryStore()
    rehearse(store, practise(store, "Ben", 0), (1.0, 1.0))
    # One alone is told in the table.
    assert "<svg" not in page(store, "Ben")
    assert "+1.0 sharp" in words(page(store, "Ben"))


def test_the_class_in_rows(store: MemoryStore) -> None:
    text = class_html(class_rows(store), at=NOW)
    assert [attributes["aria-label"] for tag, attributes in Elements(text).tags if tag == "svg"]
    said = words(text)
    for name in ("Ada", "Ben", "Silent"):
        assert name in said
    # The table behind the picture holds everybody with a threshold, in ranges that hold it.
    rows = [row.threshold_cents for row in class_rows(store) if row.threshold_cents is not None]
    ranges = re.findall(r'<th scope="row">([\d.]+) to ([\d.]+)</th><td class="number">(\d+)</td>', text)
    assert sum(int(count) for _low, _high, count in ranges) == len(rows) == 2
    for low, high, count in ranges:
        assert sum(float(low) - 0.06 <= cents <= float(high) + 0.06 for cents in rows) >= int(count)
    assert "none yet" in said
    assert "<svg" not in class_html((), at=NOW)


@given(st.lists(st.floats(0.05, 400.0), min_size=1, max_size=30))
@example([8.0])
@example([2.0 ** (10 / 3), 2.0])
def test_nobody_is_left_out_of_the_class_picture(cents: list[float]) -> None:
    ear = Listener("l", "Ada")
    counts = class_counts([ClassRow(ear, 1, 9, 9.0, NOW, threshold_cents=value) for value in cents])
    assert sum(count for _low, _high, count in counts) == len(cents)
    assert counts[0][2] > 0
    assert counts[-1][2] > 0
    assert class_counts([ClassRow(ear, 0, 0, 0.0, None)]) == []


@pytest.mark.parametrize("name", [*HOSTILE_NAMES, "{{ 7 * 7 }}", "x" * 10_000])
def test_names_are_words_and_nothing_else(name: str) -> None:
    store = MemoryStore()
    practise(store, name, 1, trials=8, note=name)
    for text in (page(store, name), class_html(class_rows(store), at=NOW)):
        elements = Elements(text)
        assert "script" not in {tag for tag, _ in elements.tags}
        assert "\x1b" not in text
        assert "\u202e" not in text
        shown = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in name)
        assert shown in html.unescape(text)
        assert "49" not in re.findall(r"<bdi>(.*?)</bdi>", text)


def test_a_listener_without_a_block() -> None:
    store = MemoryStore()
    store.add_listener(Listener("l", "Nobody"))
    assert "No block yet." in words(page(store, "Nobody"))


def test_the_library_of_pictures_says_nothing_of_its_fonts() -> None:
    new_figure(figsize=(1.0, 1.0))
    assert not logging.getLogger("matplotlib.font_manager").isEnabledFor(logging.WARNING)
