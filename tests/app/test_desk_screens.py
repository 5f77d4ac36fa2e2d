"""The teacher's screens: the class, one listener's progress, and changing, merging and removing listeners."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from driving import make_app, running, said, screen_text, through, until
from rich.cells import cell_len
from test_colours import unreadable
from textual.events import Key
from textual.widgets import Input, OptionList

from centwise.model import BlockResult, Listener, Trial
from centwise.tui.block_screen import BlockScreen
from centwise.tui.class_screen import ClassScreen
from centwise.tui.class_table import ClassHead, ClassTable, line_of
from centwise.tui.edit_screen import EditScreen
from centwise.tui.listener_screen import ListenerScreen
from centwise.tui.merge_screen import MergeScreen
from centwise.tui.progress_screen import ProgressScreen
from centwise.tui.question_screen import QuestionScreen
from centwise.tui.threshold_plot import ThresholdPlot
from fakes import START, FakeWorld, block_plan

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp

SIZES = [(60, 20), (80, 24), (120, 40)]
HOSTILE = (
    "<script>",
    "=cmd|'/C calc'!A0",
    "../../x",
    "[bold red]x[/]",
    "\x1b[31mred",
    "\u202eturned",
    "李小龙",
    "مریم",
    "x" * 200,
)


def practise(world: FakeWorld, who: str, *thresholds: float, string: int = 4, **changes: Any) -> None:
    """Add blocks a week apart."""
    for week, cents in enumerate(thresholds):
        at = START + timedelta(weeks=week)
        plan = block_plan(id=f"{who}-{string}-{week}", listener_id=who, string=string, started_at=at, **changes)
        world.store.begin_block(plan)
        for n in range(1, 6):
            world.store.add_trial(plan.id, Trial(n, -8.0, "harmonic", "flat", at + timedelta(seconds=10 * n)))
        ends = cents * 2**-0.3, cents * 2**0.3
        result = BlockResult(40, 30, cents, *ends, 0.0, -1.0, 1.0, cents, 3.0, 2.0, 4.0, 8)
        world.store.end_block(plan.id, result, at)
    world.clock.passed_s = timedelta(weeks=len(thresholds)).total_seconds()


@pytest.fixture
def taught_world(known_world: FakeWorld) -> FakeWorld:
    """Ada becomes finer, Adam has one block, Béla none; Ada was here last."""
    practise(known_world, "known-1", 12.0)
    practise(known_world, "known-0", 30.0, 20.0, 12.0, 9.0, 7.0)
    practise(known_world, "known-0", 9.0, string=1)
    return known_world


def names(app: CentwiseApp) -> list[str]:
    return [row.listener.name for row in app.screen.query_one(ClassTable)._rows]


async def at(pilot: Any, app: CentwiseApp, place: type[Any], selector: str = "#said") -> None:
    """Wait until a page stands."""
    await until(pilot, lambda: isinstance(app.screen, place) and app.screen.is_mounted and app.screen.query(selector))


async def class_of(pilot: Any, app: CentwiseApp) -> None:
    await pilot.press("f3")
    await at(pilot, app, ClassScreen)
    await until(pilot, lambda: "listener" in said(app, "#class-title"))


@pytest.mark.parametrize("size", SIZES)
async def test_the_class_stands_in_rows_at_every_size(taught_world: FakeWorld, size: tuple[int, int]) -> None:
    app = make_app(taught_world)
    async with running(app, size) as pilot:
        await class_of(pilot, app)
        text = screen_text(app)
        assert "The class: 3 listeners" in text
        rows = [line for line in text.splitlines() if line.startswith((" ▶", "   A", "   B"))]
        ada, adam, bela = rows
        assert "7.0" not in ada, "the trend's last point, not the last block's own number"
        assert "↓ probably finer" in ada or "↓↓ finer" in ada
        assert ("12.0" in adam, "· too early" in adam) == (True, True)
        assert ("none yet" in bela, "never" in bela) == (True, True)
        assert all(len(line) == size[0] for line in text.splitlines())


async def test_the_class_is_sorted_by_key_and_by_click_and_turned_round(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        await class_of(pilot, app)
        assert names(app) == ["Ada", "Adam", "Béla"]
        await pilot.press("n")
        assert names(app) == ["Béla", "Adam", "Ada"]
        await pilot.press("t")
        assert names(app) == ["Ada", "Adam", "Béla"]
        assert "Cents ▼" in screen_text(app)
        await pilot.press("t")
        assert names(app) == ["Adam", "Ada", "Béla"]
        assert "Cents ▲" in screen_text(app)
        head = app.screen.query_one(ClassHead)
        at = screen_text(app).splitlines()[head.content_region.y].index("Last seen") - head.region.x
        await pilot.click(ClassHead, offset=(at, 0))
        assert names(app) == ["Ada", "Adam", "Béla"]
        await pilot.press("down", "down", "s")
        marked = app.screen.query_one(ClassTable).marked
        assert marked is not None
        assert marked.listener.name == "Adam", "the top of the new order is marked"


async def test_the_class_is_found_by_typing(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        await class_of(pilot, app)
        await pilot.press("slash", "b", "e", "l", "a")
        assert names(app) == ["Béla"]
        await until(
            pilot, lambda: "The class: 1 of 3 listeners" in screen_text(app) and "esc Everybody" in screen_text(app)
        )
        await pilot.press("x")
        assert "No name holds that" in screen_text(app)
        await pilot.press("backspace", "enter")
        await at(pilot, app, ProgressScreen, "#now")
        assert said(app, "#who").startswith("Béla")
        await pilot.press("q")
        await at(pilot, app, ClassScreen)
        assert names(app) == ["Béla"]
        await pilot.press("escape")
        assert names(app) == ["Ada", "Adam", "Béla"]
        await until(pilot, lambda: "q Back" in screen_text(app))
        await pilot.press("escape")
        assert isinstance(app.screen, ListenerScreen)


async def test_no_letter_of_a_quick_typist_goes_past_the_field(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        await class_of(pilot, app)
        for key, character in (("slash", "/"), ("b", "b"), ("f", "f"), ("slash", "/"), ("n", "n")):
            # Not `pilot.press`, which waits after each key.
            app.post_message(Key(key, character))
        await until(pilot, lambda: app.screen.query_one("#find", Input).value == "bf/n")


async def test_an_empty_class_says_what_to_do(world: FakeWorld) -> None:
    app = make_app(world)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("f3", "f4")
        assert isinstance(app.screen, ListenerScreen), "a beginner is offered a name to type and nothing else"
        assert "Class" not in screen_text(app)
        app.push_screen(ClassScreen())
        await at(pilot, app, ClassScreen)
        await until(pilot, lambda: "Nobody has been listening yet. Go back, type a name" in said(app, "#said"))
        await pilot.press("enter", "e", "t", "down")
        assert isinstance(app.screen, ClassScreen)


@pytest.mark.parametrize("size", SIZES)
async def test_a_page_shows_the_curve_the_words_and_what_comes_next(
    taught_world: FakeWorld, size: tuple[int, int]
) -> None:
    app = make_app(taught_world)
    async with running(app, size) as pilot:
        await class_of(pilot, app)
        await pilot.press("enter")
        await at(pilot, app, ProgressScreen, "#now")
        await until(pilot, lambda: said(app, "#now"))
        assert said(app, "#practised") == "6 blocks, 30 pairs, 5 minutes; last on 30 Jan 2026."
        assert said(app, "#who") == "Ada, string 4 (1 of 2, ← →)"
        await until(pilot, lambda: "2 c┤" in screen_text(app) and screen_text(app).count("━") > 10)
        text = screen_text(app)
        assert text.count("●") >= 4, "a mark a block"
        assert said(app, "#now").startswith("String ")
        assert "90 % sure between" in said(app, "#now")
        assert "good enough: 2 c, 0.8 mm" in said(app, "#legend")
        assert said(app, "#next-step").startswith("Next: ")
        await pilot.press("right")
        assert said(app, "#who") == "Ada, string 1 (2 of 2, ← →)"
        assert "1 block so far: a trend is told from the third on" in said(app, "#now")
        # Colours changed on the help page are the chart's too.
        plot = app.screen.query_one(ThresholdPlot)
        before = plot.plt.build()
        await pilot.press("f1", "f2", "escape")
        await until(pilot, lambda: isinstance(app.screen, ProgressScreen) and plot.plt.build() != before)
        await pilot.press("down", "q")
        assert isinstance(app.screen, ClassScreen)


async def test_a_page_is_gone_through_by_mouse_alone(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        await class_of(pilot, app)
        await pilot.click(ClassTable, offset=(4, 0))
        await at(pilot, app, ProgressScreen, "#now")
        await until(pilot, lambda: said(app, "#now"))
        before = said(app, "#who")
        await pilot.click("#after")
        assert said(app, "#who") != before
        await pilot.click("#before")
        assert said(app, "#who") == before
        await pilot.click("#back")
        assert isinstance(app.screen, ClassScreen)


async def test_who_has_no_block_is_told_to_take_one(taught_world: FakeWorld) -> None:
    app = make_app(taught_world, listener="Béla")
    async with running(app, (60, 20)) as pilot:
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        await pilot.press("p")
        await at(pilot, app, ProgressScreen, "#now")
        await until(pilot, lambda: said(app, "#now"))
        assert "Take a block of 40 pairs with sound" in said(app, "#now")
        assert said(app, "#next-step").startswith("Next: a block on string 4.")
        await until(pilot, lambda: "q Back" in screen_text(app) and "→ Next" not in screen_text(app))
        await pilot.press("left", "right", "escape")
        assert isinstance(app.screen, BlockScreen)


async def test_a_store_that_cannot_be_read_is_told(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        taught_world.store.broken |= {"summaries"}
        await pilot.press("f3")
        await at(pilot, app, ClassScreen)
        await until(pilot, lambda: "cannot summaries" in said(app, "#said"))


async def test_a_listener_is_changed_and_the_new_name_is_used_at_once(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        app.screen.query_one("#name", Input).value = "Ada L."
        app.screen.query_one("#scale", Input).value = "640mm"
        app.screen.query_one("#note", Input).value = "left-handed"
        await pilot.press("f5")
        await at(pilot, app, ListenerScreen)
        ada = taught_world.store.listener_named("Ada L.")
        assert ada == Listener("known-0", "Ada L.", 640.0, "five-string", "left-handed")
        assert "Ada L." in screen_text(app)
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        await pilot.press("enter")
        await at(pilot, app, ListenerScreen)
        assert taught_world.store.listener_named("Ada L.") == ada, "nothing changed, nothing lost"


async def test_who_was_found_and_edited_is_still_found_and_marked(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app) as pilot:
        typed, known = app.screen.query_one("#name", Input), app.screen.query_one(OptionList)
        await pilot.press(*"ada", "down", "f4")
        await at(pilot, app, EditScreen)
        assert app.screen.query_one("#name", Input).value == "Adam"
        await pilot.press("escape")
        await at(pilot, app, ListenerScreen)
        await pilot.pause()
        assert (typed.value, known.highlighted) == ("ada", 1)
        # Under a new name the text does not find them: they stay marked all the same.
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        app.screen.query_one("#name", Input).value = "Zoe"
        await pilot.press("f5")
        await at(pilot, app, ListenerScreen)
        await pilot.pause()
        assert typed.value == ""
        await pilot.press("enter")
        await until(pilot, lambda: app.desk.listener is not None)
        assert app.desk.listener is not None
        assert app.desk.listener.name == "Zoe"


async def test_a_long_note_and_an_odd_scale_survive_a_rename(taught_world: FakeWorld) -> None:
    odd = replace(taught_world.store.listeners()[0], scale_mm=643.123456789, note="one\ntwo")
    taught_world.store.change_listener(odd)
    app = make_app(taught_world)
    async with running(app) as pilot:
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        await pilot.press("end", "x", "enter")
        await at(pilot, app, ListenerScreen)
        assert taught_world.store.listener_with_id(odd.id) == replace(odd, name=f"{odd.name}x")


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("scale", "long", "'long' is not a length"),
        ("scale", "3in", "scale length of 76.2 mm is outside"),
        ("instrument", "lute", "'lute'"),
        ("name", "Béla", "is taken"),
    ],
)
async def test_what_cannot_be_is_told_and_changes_nothing(
    taught_world: FakeWorld, field: str, value: str, words: str
) -> None:
    before = taught_world.store.listeners()
    app = make_app(taught_world)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        app.screen.query_one(f"#{field}", Input).value = value
        await pilot.press("f5")
        assert words in said(app, "#said")
        assert isinstance(app.screen, EditScreen)
        await pilot.press("escape")
        assert taught_world.store.listeners() == before


@pytest.mark.parametrize(("key", "kept"), [("y", True), ("f", False)])
async def test_removing_asks_and_names_what_goes(taught_world: FakeWorld, key: str, kept: bool) -> None:
    app = make_app(taught_world)
    asked: list[bool] = []
    remove = taught_world.store.remove_listener
    taught_world.store.remove_listener = lambda who, *, keep_copy, told: (  # type: ignore[method-assign]
        asked.append(keep_copy) or remove(who, keep_copy=keep_copy, told=told)
    )
    async with running(app, (60, 20)) as pilot:
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        await pilot.press("f8")
        await at(pilot, app, QuestionScreen, "#question-said")
        question = " ".join(said(app, "#question-said").split())
        assert question.startswith("Ada goes, with 6 blocks with 30 answers.")
        await pilot.press("n")
        await at(pilot, app, EditScreen)
        assert asked == []
        await pilot.press("f8")
        await at(pilot, app, QuestionScreen, "#question-said")
        await pilot.press(key)
        await at(pilot, app, ListenerScreen)
        assert asked == [kept]
        assert "Ada " not in screen_text(app)
        assert [who.name for who in taught_world.store.listeners()] == ["Adam", "Béla"]


async def test_two_become_one_by_typing_whom_to_join(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("down", "f4")
        await at(pilot, app, EditScreen)
        await pilot.press("f7")
        await at(pilot, app, MergeScreen)
        await pilot.press("a", "d", "a", "enter")
        await at(pilot, app, QuestionScreen, "#question-said")
        question = " ".join(said(app, "#question-said").split())
        assert question.startswith("Adam, with 1 block with 5 answers, joins Ada, with 6 blocks with 30 answers.")
        await pilot.press("y")
        await at(pilot, app, ListenerScreen)
        assert [who.name for who in taught_world.store.listeners()] == ["Ada", "Béla"]
        assert len(taught_world.store.summaries("known-0")) == 7


async def test_two_become_one_by_mouse(taught_world: FakeWorld) -> None:
    app = make_app(taught_world)
    async with running(app, (60, 20)) as pilot:
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        await pilot.press("f7")
        await at(pilot, app, MergeScreen)
        assert "⏎ join" in screen_text(app)
        assert await pilot.click("#choose")
        await at(pilot, app, QuestionScreen, "#question-said")
        question = " ".join(said(app, "#question-said").split())
        assert question.startswith("Ada, with 6 blocks with 30 answers, joins Adam")
        assert await pilot.click("#yes")
        await at(pilot, app, ListenerScreen)
        assert [who.name for who in taught_world.store.listeners()] == ["Adam", "Béla"]


async def test_nobody_else_to_join_is_told(world: FakeWorld) -> None:
    world.store.add_listener(Listener("only", "Only"))
    app = make_app(world)
    async with running(app) as pilot:
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        await pilot.press("f7")
        await at(pilot, app, MergeScreen)
        assert "There is nobody else to join" in said(app, "#said")
        await pilot.press("enter")
        await through(pilot, "escape", "escape")
        assert isinstance(app.screen, ListenerScreen)


@pytest.mark.parametrize("name", HOSTILE)
async def test_hostile_names_are_harmless_on_every_page(world: FakeWorld, name: str) -> None:
    world.store.add_listener(Listener("h", name))
    practise(world, "h", 12.0, 9.0, 8.0)
    app = make_app(world)
    texts = []
    async with running(app, (60, 20)) as pilot:
        texts.append(screen_text(app))
        await pilot.press("f4")
        await at(pilot, app, EditScreen)
        texts.append(screen_text(app))
        await pilot.press("f8")
        await at(pilot, app, QuestionScreen, "#question-said")
        texts.append(screen_text(app))
        await pilot.press("n")
        await at(pilot, app, EditScreen)
        await pilot.press("escape")
        await at(pilot, app, ListenerScreen)
        await class_of(pilot, app)
        texts.append(screen_text(app))
        await pilot.press("enter")
        await at(pilot, app, ProgressScreen, "#now")
        await until(pilot, lambda: said(app, "#now"))
        texts.append(screen_text(app))
    shown = "".join(texts)
    assert not {ch for ch in shown if (ord(ch) < 32 and ch != "\n") or ch in "\x7f\x9b\u202e"}
    assert all(cell_len(line) == 60 for text in texts for line in text.splitlines())
    if name.startswith(("[", "<")):
        assert shown.count(name) >= 4, "markup is letters"


def test_a_line_is_as_wide_as_its_place() -> None:
    from centwise.ports import ClassRow

    for name in HOSTILE:
        row = ClassRow(Listener("x", name), 1, 2, 3.0, START)
        for width in (56, 74, 100, 118):
            assert cell_len(line_of(row, width)) <= width


async def test_a_thousand_are_offered_a_hundred_at_a_time_and_found_by_typing(world: FakeWorld) -> None:
    for number in range(1000):
        world.store.add_listener(Listener(f"id-{number}", f"Pupil {number:04d} Müller"))
    app = make_app(world)
    async with running(app) as pilot:
        known = app.screen.query_one(OptionList)
        assert known.option_count == 101
        assert "and 900 more: type part of a name" in str(known.get_option_at_index(100).prompt)
        await pilot.press(*"muller 0777")
        assert "Pupil 0777 Müller" in screen_text(app)
        assert known.option_count == 2, "the one found, and the words typed as a new name"
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(app.screen, BlockScreen))
        assert app.desk.listener is not None
        assert app.desk.listener.name == "Pupil 0777 Müller"


@pytest.mark.parametrize("theme", ["light", "dark"])
async def test_every_letter_of_these_pages_can_be_read(taught_world: FakeWorld, theme: str) -> None:
    taught_world.store.set_setting("theme", theme)
    app = make_app(taught_world)
    seen = {}
    async with running(app) as pilot:
        await class_of(pilot, app)
        await pilot.press("slash", "a", "d")
        seen["class"] = unreadable(app)
        await pilot.press("escape", "enter")
        await at(pilot, app, ProgressScreen, "#now")
        await until(pilot, lambda: "2 c┤" in screen_text(app))
        seen["progress"] = unreadable(app)
        await pilot.press("q")
        await at(pilot, app, ClassScreen)
        await pilot.press("e")
        await at(pilot, app, EditScreen)
        seen["edit"] = unreadable(app)
        await pilot.press("f7")
        await at(pilot, app, MergeScreen)
        seen["merge"] = unreadable(app)
        await pilot.press("enter")
        await at(pilot, app, QuestionScreen, "#question-said")
        seen["question"] = unreadable(app)
    assert {place: words for place, words in seen.items() if words} == {}


async def test_without_colours_the_marked_row_and_the_trend_have_signs(
    taught_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = make_app(taught_world)
    async with running(app) as pilot:
        await class_of(pilot, app)
        assert " ▶ Ada" in screen_text(app)
        assert "↓" in screen_text(app)
        await pilot.press("down")
        assert " ▶ Adam" in screen_text(app)
