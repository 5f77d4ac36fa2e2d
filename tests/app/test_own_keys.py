"""The app under keys of one's own, and with nothing moving."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from driving import SilentDouble, drill, phase, running, said, screen_text, through, truth, until
from textual.widgets import Button, Footer

from centwise.errors import InputError
from centwise.planning import BlockRequest
from centwise.settings.load import Settings
from centwise.tui.app import CentwiseApp
from centwise.tui.bench_choice_screen import BenchChoiceScreen
from centwise.tui.bench_screen import BenchScreen
from centwise.tui.block_screen import BlockScreen
from centwise.tui.desk import Desk
from centwise.tui.drill_screen import DrillScreen
from centwise.tui.help_screen import HelpScreen
from centwise.tui.page_screen import PageScreen

if TYPE_CHECKING:
    from textual.pilot import Pilot

    from fakes import FakeWorld

KEYS = {
    "drill": {"flat": ("j",), "unison": ("k",), "sharp": ("l",), "again": ("f",), "directions": ("x",)},
    "block": {"begin": ("y",), "bench": ("enter",)},
    "bench": {"pencil": ("0",), "octave-fret": ("p",), "why": ("x",)},
    "bench-choice": {"begin": ("g",), "guided": ("enter",)},
    "everywhere": {"help": ("f9",)},
}


def app_with(world: FakeWorld, **settings: object) -> CentwiseApp:
    kept = Settings(Path("unused"), **settings)  # type: ignore[arg-type]
    desk = Desk(world.services, kept, BlockRequest(warm_up=0, trials=8), silent_player=SilentDouble)
    return CentwiseApp(desk)


def footer(app: CentwiseApp) -> str:
    return " ".join(screen_text(app).splitlines()[-1].split())


async def to_the_drill(app: CentwiseApp, pilot: Pilot[int]) -> None:
    await through(pilot, "enter")
    await until(pilot, lambda: isinstance(app.screen, BlockScreen))
    await until(pilot, lambda: "y begin" in screen_text(app) and "y Begin" in footer(app))
    await pilot.press("y")
    await until(pilot, lambda: phase(app) == "asking")


@pytest.mark.usefixtures("slow_feedback")
async def test_the_drill_by_other_keys(known_world: FakeWorld) -> None:
    app = app_with(known_world, keys=KEYS)
    async with running(app) as pilot:
        await to_the_drill(app, pilot)
        assert [str(button.label) for button in app.screen.query(Button)][:4] == [
            "j  ♭ flat",
            "k  = unison",
            "l  ♯ sharp",
            "f again",
        ]
        right = truth(app)
        # f is Again now, and judges nothing.
        sounds = len(known_world.player.sounds)
        await pilot.press("f")
        await until(pilot, lambda: len(known_world.player.sounds) == sounds + 1)
        assert not drill(app).trials
        await pilot.press({"flat": "j", "unison": "k", "sharp": "l"}[right])
        await until(pilot, lambda: phase(app) == "told")
        assert drill(app).trials[0].correct
        assert said(app, "#asked") == "The next pair follows. Enter: at once; f: hear again."
        # Too late for the directions: their own key says so, and their old one does nothing.
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        await pilot.press("d")
        assert "Directions" not in said(app, "#asked")
        await pilot.press("x")
        assert said(app, "#asked") == "Directions are practised before the pairs that count."
        # Help, the same.
        await pilot.press("question_mark")
        assert isinstance(app.screen, DrillScreen)
        await pilot.press("f9")
        await until(pilot, lambda: isinstance(app.screen, HelpScreen) and "Answer: the fretted" in screen_text(app))
        shown = " ".join(screen_text(app).split())
        assert "j │ " in shown or "j Answer: the fretted note is flat" in shown.replace("│ ", "")
        # The key that opened it closes it.
        await pilot.press("f9")
        await until(pilot, lambda: isinstance(app.screen, DrillScreen))
        # Clicks and the word line are as ever.
        await pilot.press("w", *"flat", "enter")
        await until(pilot, lambda: phase(app) == "told")
        assert len(drill(app).trials) == 2


async def test_the_bench_with_two_keys_changed_round(known_world: FakeWorld) -> None:
    app = app_with(known_world, keys=KEYS)
    async with running(app, (110, 40)) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(BenchChoiceScreen())
        await until(
            pilot, lambda: isinstance(app.screen, BenchChoiceScreen) and "Ada, at the bench" in screen_text(app)
        )
        await pilot.press("g")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen) and app.screen.bench is not None)
        await until(pilot, lambda: "0 Pencil" in footer(app))
        await pilot.press("p")
        assert "Press" not in said(app, "#bench-said")
        await pilot.press("0")
        assert said(app, "#bench-said") == "Press 0 once more to draw the line: it ends this rehearsal."
        await pilot.press("x")
        await until(pilot, lambda: isinstance(app.screen, PageScreen) and "Why" in screen_text(app))
        await pilot.press("y")
        assert isinstance(app.screen, PageScreen)
        await pilot.press("x")
        await until(pilot, lambda: isinstance(app.screen, BenchScreen))
        await pilot.press("q")
        await until(pilot, lambda: "g go on" in screen_text(app) and "g Go on" in footer(app))


async def test_a_footer_names_no_key_twice(known_world: FakeWorld) -> None:
    app = app_with(known_world, keys=KEYS)
    async with running(app, (110, 40)) as pilot:
        await to_the_drill(app, pilot)
        assert app.screen.query(Footer)
        keys = list(app.screen.active_bindings)
        assert keys.count("j") == 1
        assert app.screen.active_bindings["j"].binding.action == "answer('flat')"
        assert "left" not in app.screen.active_bindings


def test_keys_that_cannot_be_end_it_before_it_begins(known_world: FakeWorld) -> None:
    with pytest.raises(InputError, match=r"leaves the key s at drill to both flat and sharp"):
        app_with(known_world, keys={"drill": {"flat": ("s",)}})


@pytest.mark.usefixtures("slow_feedback")
async def test_with_motion_reduced_the_string_stands_still_while_a_tone_sounds(
    known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    from centwise.tui.pictures import StringPicture

    drawn: list[tuple[object, float]] = []
    swing = StringPicture.swing

    def kept(self: StringPicture, tone: object, width: float) -> None:
        drawn.append((tone, width))
        swing(self, tone, width)  # type: ignore[arg-type]

    monkeypatch.setattr(StringPicture, "swing", kept)
    app = app_with(known_world, keys=KEYS, motion="reduced")
    async with running(app) as pilot:
        assert app.animation_level == "none"
        await to_the_drill(app, pilot)
        await until(pilot, lambda: any(tone is not None for tone, _ in drawn) or len(drawn) > 20)
        assert {width for tone, width in drawn if tone is not None} <= {1.0}
        assert {width for tone, width in drawn if tone is None} <= {0.0}
        await pilot.press("w")
        await until(pilot, lambda: app.screen.focused is not None)
        assert app.screen.focused is not None
        assert not app.screen.focused.cursor_blink  # type: ignore[attr-defined]
