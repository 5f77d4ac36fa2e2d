"""The drill: answers by key, mouse and word, what is told, what is heard again, and what must not happen in between."""

from __future__ import annotations

import textwrap
import threading
from typing import TYPE_CHECKING, Any

import pytest
from driving import (
    KEYS,
    answer_all,
    drill,
    drill_screen,
    drilling,
    make_app,
    phase,
    running,
    said,
    screen_text,
    still_text,
    through,
    truth,
    until,
)
from textual.widgets import Input, ProgressBar

from centwise.drill import machine
from centwise.model import SIGNS, judgement_of
from centwise.tui.acts import DRILL
from centwise.tui.drill_board import DrillBoard
from centwise.tui.help_screen import HelpScreen
from centwise.tui.keymap import Keymap
from centwise.tui.result_screen import ResultScreen
from fakes import FakeWorld, ManualClock, RecordingPlayer, block_plan

if TYPE_CHECKING:
    from textual.pilot import Pilot

    from centwise.model import Trial
    from centwise.tui.app import CentwiseApp

HELD_S = 600.0
WRONG = {"flat": "sharp", "unison": "flat", "sharp": "unison"}
pytestmark = pytest.mark.usefixtures("slow_feedback")


async def answer_behind_help(app: CentwiseApp, pilot: Pilot[int], key: str) -> None:
    """Answer, and have the help page stand before the truth is told, however slow the machine is."""
    gate = threading.Event()
    app.desk._turns._pool.submit(gate.wait, HELD_S)
    try:
        await pilot.press("f")
        await through(pilot, key)
        assert phase(app) == "keeping"
    finally:
        gate.set()


WAITS = "Enter: go on; a, h or t: hear this pair again."


def under_help(app: CentwiseApp) -> str:
    return str(drill_screen(app).query_one("#asked").render())


def kept(world: FakeWorld) -> tuple[Trial, ...]:
    (block,) = world.store._blocks.values()
    return block.trials


@pytest.mark.parametrize(
    ("way", "size"),
    [(way, (60, 20)) for way in ("key", "arrow", "mouse", "word", "letter")] + [("mouse", (120, 40))],
)
async def test_every_way_to_answer(known_world: FakeWorld, way: str, size: tuple[int, int]) -> None:
    async with drilling(known_world, size) as (app, pilot):
        wanted = truth(app)
        if way == "key":
            await pilot.press(KEYS[wanted])
        elif way == "arrow":
            await pilot.press({"flat": "left", "unison": "down", "sharp": "right"}[wanted])
        elif way == "mouse":
            assert await pilot.click(f"#{wanted}")
        else:
            await pilot.press("w", *(wanted if way == "word" else KEYS[wanted]), "enter")
        await until(pilot, lambda: phase(app) == "told")
        (trial,) = kept(known_world)
        assert trial.answer == wanted
        assert trial.correct
        told = said(app, "#told")
        assert told.startswith(f"Right. {SIGNS[trial.truth]} {trial.truth.capitalize()} by")
        assert f"{abs(trial.offset_cents):.1f} cents" in told
        move = {"flat": "forward", "sharp": "back"}[trial.truth]
        assert f"Bridge: {move}" in told
        assert move in said(app, "#string")
        assert f"{trial.offset_cents:+.1f} cents" in said(app, "#lean")
        assert f"[{SIGNS[trial.answer]} {trial.answer}]" in said(app, "#lean")


async def test_a_wrong_answer_is_told_with_both_words_and_never_cut(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        right = truth(app)
        await pilot.press(KEYS[WRONG[right]])
        await until(pilot, lambda: phase(app) == "told")
        line = f"Not this time: you said {WRONG[right]}. {SIGNS[right]} {right.capitalize()} by"
        assert line in screen_text(app)
        assert "Bridge: " in screen_text(app)


def test_every_sentence_of_the_drill_fits_its_two_lines() -> None:
    from centwise.drill.words import Feedback, Noted
    from centwise.model import JUDGEMENTS, TONES, Condition, PairSpec, Trial
    from centwise.strings.geometry import travel_for
    from centwise.tui import drill_words
    from fakes import START

    texts = [value for name, value in vars(drill_words).items() if name.isupper() and isinstance(value, str)]
    assert len(texts) >= 7
    texts += [drill_words.asking_text(PairSpec(1, Condition(), 1.0, first)) for first in TONES]
    for plan in (block_plan(warm_up=3), block_plan(assess=True)):
        for judged in (True, False):
            known = drill_words.words_now(machine.begin(plan), judged=judged)
            assert all(drill_words.word_act(word) for word in known)
            texts.append(drill_words.no_word_text("m" * 80, known))
    for answer in JUDGEMENTS:
        texts.append(drill_words.told_text(Noted(1000, answer)))
        for cents in (-100.0, -0.4, 0.0, 0.4, 100.0):
            trial = Trial(1, cents, "harmonic", answer, START)
            texts.append(drill_words.told_text(Feedback(trial, travel_for(cents, 700.0))))
    texts.append(drill_words.ears_text(1000))
    for text in (Keymap().told(text, DRILL) for text in texts):
        assert not set("‹›«»") & set(text)
        lines = [part for line in text.split("\n") for part in textwrap.wrap(line, 56)]
        assert len(lines) <= 2, text


async def test_the_answer_is_on_disk_before_its_truth_is_shown(
    known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []
    async with drilling(known_world) as (app, pilot):
        keep = known_world.store.add_trial

        def watched(block_id: str, trial: Any) -> None:
            seen.append(said(app, "#told") + said(app, "#string"))
            keep(block_id, trial)

        monkeypatch.setattr(known_world.store, "add_trial", watched)
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        assert len(seen) == 1
        assert "cents" not in seen[0]
        assert "Bridge:" not in seen[0]
        assert "cents" in said(app, "#told")


def seed_for(word: str) -> int:
    """Return a seed whose first pair has that truth."""
    pairs = ((seed, machine.begin(block_plan(seed=seed)).pair) for seed in range(100))
    return next(seed for seed, pair in pairs if pair is not None and judgement_of(pair.offset_cents) == word)


async def test_nothing_on_the_screen_depends_on_the_offset_before_the_answer() -> None:
    screens = set()
    for word in ("flat", "sharp"):
        world = FakeWorld(seed=seed_for(word))
        app = make_app(world)
        async with running(app) as pilot:
            await through(pilot, "enter", "enter", "enter")
            await until(pilot, lambda app=app: phase(app) == "asking")
            assert truth(app) == word
            screens.add(await still_text(pilot))
    assert len(screens) == 1


@pytest.mark.parametrize(("key", "button", "part"), [("a", "again", 0), ("h", "harmonic", 1), ("t", "fretted", 1)])
async def test_hearing_again_counts_as_a_replay(known_world: FakeWorld, key: str, button: str, part: int) -> None:
    async with drilling(known_world) as (app, pilot):
        player = known_world.player
        await pilot.press(key)
        await until(pilot, lambda: len(player.sounds) == 2)
        await until(pilot, lambda: not drill_screen(app)._asked_of_player)
        await pilot.click(f"#{button}")
        await until(pilot, lambda: len(player.sounds) == 3)
        assert (player.sounds[1].duration_s < player.sounds[0].duration_s) == bool(part)
        await until(pilot, lambda: not drill_screen(app)._asked_of_player)
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        assert kept(known_world)[0].replays == 2


async def test_the_judged_pair_is_heard_again_while_the_next_one_waits(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        first = known_world.player.sounds[0]
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        assert drill_screen(app)._next_timer is not None
        await pilot.press("a")
        await until(pilot, lambda: len(known_world.player.sounds) == 2)
        assert drill_screen(app)._next_timer is None, "the next pair begins by itself no more"
        assert phase(app) == "told"
        assert known_world.player.sounds[1] is first
        assert said(app, "#asked").startswith("Enter: go on")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert drill(app).pair is not None
        assert drill(app).pair.n == 2
        assert kept(known_world)[0].replays == 0
        assert said(app, "#told") == ""
        assert "[" not in said(app, "#lean")


async def test_the_next_pair_begins_by_itself(known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("RIGHT_S", "WRONG_S"):
        monkeypatch.setattr(f"centwise.tui.drill_screen.{name}", 0.1)
    async with drilling(known_world) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: "pair 2 of 40" in said(app, "#where"))
        await until(pilot, lambda: phase(app) == "asking")
        assert app.screen.query_one(ProgressBar).progress == 1
        assert app.screen.query_one(ProgressBar).total == 40


async def test_no_pair_begins_behind_the_help_page(known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("RIGHT_S", "WRONG_S"):
        monkeypatch.setattr(f"centwise.tui.drill_screen.{name}", 0.1)
    async with drilling(known_world) as (app, pilot):
        await answer_behind_help(app, pilot, "f1")
        await until(pilot, lambda: under_help(app) == WAITS)
        assert isinstance(app.screen, HelpScreen)
        assert len(known_world.player.sounds) == 1
        await pilot.press("escape", "enter")
        await until(pilot, lambda: len(known_world.player.sounds) == 2)


async def test_the_result_never_takes_the_place_of_the_help_page(
    known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("RIGHT_S", "WRONG_S"):
        monkeypatch.setattr(f"centwise.tui.drill_screen.{name}", 0.1)
    async with drilling(known_world, trials=1) as (app, pilot):
        await answer_behind_help(app, pilot, "question_mark")
        await until(pilot, lambda: under_help(app) == WAITS)
        assert isinstance(app.screen, HelpScreen)
        await pilot.press("escape", "enter")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert phase(app) is None


async def test_an_answer_waits_until_both_tones_have_begun(known_world: FakeWorld) -> None:
    clock = ManualClock()
    known_world.player = RecordingPlayer(known_world.calls, clock)
    known_world.clock = clock
    async with drilling(known_world) as (app, pilot):
        sitting = app.desk.sitting
        assert sitting is not None
        pair = sitting._rendered(sitting._present())
        await pilot.press("f")
        await pilot.pause()
        assert phase(app) == "asking"
        assert "Hear both tones first" in said(app, "#asked")
        clock.advance(pair.harmonic.end_s)
        await pilot.press("f")
        assert phase(app) == "asking"
        clock.advance(pair.fretted.start_s - pair.harmonic.end_s + 0.01)
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")


async def test_the_drawing_follows_the_sound(known_world: FakeWorld) -> None:
    clock = ManualClock()
    known_world.player = RecordingPlayer(known_world.calls, clock)
    async with drilling(known_world) as (app, pilot):
        clock.advance(0.5)
        await until(pilot, lambda: "touched here" in said(app, "#string"))
        clock.advance(2.0)
        await until(pilot, lambda: "fretted here" in said(app, "#string"))
        clock.advance(9.0)
        await until(pilot, lambda: "octave fret" in said(app, "#string"))


async def test_keys_pressed_wildly_lose_and_double_nothing(known_world: FakeWorld) -> None:
    async with drilling(known_world, trials=200) as (app, pilot):
        for _ in range(4):
            await pilot.press("a", "f", "f", "a", "enter", "t", "s", "enter", "h", "u", "left", "space", "enter")
        await until(pilot, lambda: phase(app) in {"asking", "told"})
        await until(pilot, lambda: not drill_screen(app)._asked_of_player)
        trials = kept(known_world)
        assert [trial.n for trial in trials] == list(range(1, len(trials) + 1))
        assert trials == drill(app).trials
        assert len(trials) >= 4


async def test_words_that_are_none_are_told_and_the_line_stays(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        await pilot.press("slash", *"[b]hm", "enter")
        named = "“[b]hm” is none of: flat, unison, sharp, again, harmonic, fretted, directions, volume, help, quit."
        assert named in " ".join(screen_text(app).split())
        assert "flat, unison, sharp, again; help lists the rest" in screen_text(app)
        assert "esc closes" in screen_text(app)
        assert app.screen.query_one("#word", Input).has_focus
        await pilot.press(*"again", "enter")
        await until(pilot, lambda: len(known_world.player.sounds) == 2)
        await pilot.press("escape")
        assert not app.screen.query_one("#word").display
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")


async def test_a_whole_block_in_words(known_world: FakeWorld) -> None:
    async with drilling(known_world, trials=2) as (app, pilot):
        await pilot.press("w", *"Flat", "enter")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        await pilot.press(*"sharp", "enter")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press(*"next", "enter")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))


async def test_quit_in_words_ends_the_block(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("w", *"quit", "enter")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        (block,) = known_world.store._blocks.values()
        assert block.result is not None


async def test_the_level_can_be_set_in_the_middle_of_a_block(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("v", "plus")
        await until(pilot, lambda: known_world.player.level_db == -10.0)
        await pilot.press("enter")
        assert phase(app) == "asking"
        assert said(app, "#asked").startswith("Press a to hear the pair again")


async def test_warm_up_pairs_are_named_and_do_not_count(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20), warm_up=1) as (app, pilot):
        assert "String 4 · pair 1 of 41 · warm-up" in screen_text(app)
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        assert said(app, "#where") == "String 4 · pair 2 of 41"
        await pilot.press("q")
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert "No pair that counts was judged." in screen_text(app)


async def test_the_words_named_are_those_taken_once_a_pair_is_judged(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("w", *"hm", "enter")
        assert said(app, "#asked") == "“hm” is none of: next, again, harmonic, fretted, volume, help, quit."


async def test_directions_that_were_swapped_are_told_and_practised(known_world: FakeWorld) -> None:
    keys = {"flat": "s", "sharp": "f", "unison": "u"}
    async with drilling(known_world, (60, 20), warm_up=3) as (app, pilot):
        for _ in range(3):
            await until(pilot, lambda: phase(app) == "asking")
            await pilot.press(keys[truth(app)])
            await until(pilot, lambda: phase(app) == "told")
            if len(drill(app).trials) < 3:
                await pilot.press("enter")
        kindly = "Flat and sharp swapped? Flat is the lower note, sharp the higher. d: practise them; enter: go on."
        assert kindly in " ".join(screen_text(app).split())
        await pilot.press("d")
        await until(pilot, lambda: phase(app) == "asking")
        assert said(app, "#where") == "String 4 · pair 4 of 47 · warm-up"


@pytest.mark.parametrize("way", ["key", "word"])
async def test_directions_are_practised_after_going_on_too(known_world: FakeWorld, way: str) -> None:
    async with drilling(known_world, (60, 20), warm_up=2) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        await (pilot.press("d") if way == "key" else pilot.press("w", *"directions", "enter"))
        await until(pilot, lambda: "pair 2 of 46 · warm-up" in said(app, "#where") and phase(app) == "asking")
        assert len(kept(known_world)) == 1


@pytest.mark.parametrize(("size", "tight"), [((60, 20), True), ((80, 24), False)])
async def test_that_a_pair_makes_no_sound_is_said_whole(
    known_world: FakeWorld, size: tuple[int, int], tight: bool
) -> None:
    known_world.player.name = "silent"
    async with drilling(known_world, size, warm_up=3, trials=100) as (app, pilot):
        await until(pilot, lambda: "String 4 · pair 1 of 103 · warm-up · no sound " in screen_text(app))
        await until(pilot, lambda: app.screen.query_one("#bar").size.width == (9 if tight else 18))
        # Another width, the same pair.
        await pilot.resize_terminal(80 if tight else 60, 24)
        await until(pilot, lambda: app.screen.query_one("#bar").size.width == (18 if tight else 9))
        await until(pilot, lambda: "warm-up · no sound " in screen_text(app))


async def test_a_key_of_directions_held_down_brings_one_practice(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20), warm_up=2) as (app, pilot):
        await pilot.press("d", *"d" * 12)
        await until(pilot, lambda: "pair 1 of 46 · warm-up" in said(app, "#where") and phase(app) == "asking")
        await pilot.press("d")
        await until(pilot, lambda: said(app, "#asked").startswith("Large pairs for the directions come first already"))
        await until(pilot, lambda: "Directions" not in footer(app))
        assert (phase(app), drill(app).total) == ("asking", 46)


async def test_directions_asked_for_among_the_pairs_that_count_leave_the_pair_as_it_is(
    known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused: list[str] = []
    refuse = DrillBoard.refuse

    def noted(self: DrillBoard, sentence: str) -> None:
        refused.append(sentence)
        refuse(self, sentence)

    monkeypatch.setattr(DrillBoard, "refuse", noted)
    async with drilling(known_world) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        sounds = len(known_world.player.sounds)
        await pilot.press("d")
        await until(pilot, lambda: len(refused) == 1)
        assert refused[0].startswith("Directions are practised before")
        assert (phase(app), drill(app).total, len(known_world.player.sounds)) == ("asking", 40, sounds)
        # Said more than once it still makes room for the question.
        await pilot.press("d", "w", *"directions", "enter", "escape")
        await until(pilot, lambda: len(refused) == 3)
        await until(pilot, lambda: said(app, "#asked") == "Listen: harmonic, then fretted. Flat, unison or sharp?")
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")


def footer(app: CentwiseApp) -> str:
    """Return the lowest line."""
    return screen_text(app).splitlines()[-1]


async def test_directions_are_offered_to_the_mouse_as_long_as_they_can_be_practised(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20), warm_up=1) as (app, pilot):
        await until(pilot, lambda: "d Directions" in footer(app))
        await pilot.click(offset=(footer(app).index("Directions"), 19))
        await until(pilot, lambda: "of 45 · warm-up" in said(app, "#where") and phase(app) == "asking")
        await answer_all(app, pilot, 5, truth)
        await until(pilot, lambda: phase(app) == "asking" and "d Directions" in footer(app))
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await until(pilot, lambda: "Directions" not in footer(app))


async def test_the_footer_names_what_the_keys_do_while_the_line_for_words_is_open(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        await pilot.press("w")
        await until(pilot, lambda: footer(app).split() == ["⏎", "Say", "it", "esc", "Close", "line", "F1", "Help"])
        await pilot.click(offset=(footer(app).index("Close"), 19))
        await until(pilot, lambda: "End block" in footer(app) and "w Word" in footer(app))
        assert phase(app) == "asking"
        await pilot.press("w", "escape")
        await until(pilot, lambda: "End block" in footer(app))
        assert phase(app) == "asking"


async def test_directions_cannot_be_practised_among_the_pairs_that_count(known_world: FakeWorld) -> None:
    async with drilling(known_world) as (app, pilot):
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        await pilot.press("d")
        await until(pilot, lambda: said(app, "#asked").startswith("Directions are practised before"))
        assert drill(app).total == 40
