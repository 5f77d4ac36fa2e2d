"""Text stands out from its ground by 4.5 to 1 or more: WCAG 2.2, success criterion 1.4.3, computed as defined there."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

import pytest
from driving import drilling, make_app, phase, running, screen_text, until
from rich.color import Color, ColorSystem, ColorType
from test_result import RESULT
from textual.color import Color as TextColour

from centwise.drill import machine
from centwise.errors import DeviceError
from centwise.tui.bench_screen import BenchScreen
from centwise.tui.drill_screen import DrillScreen
from centwise.tui.result_screen import ResultScreen
from centwise.tui.themes import DARK, DARK_OF_16, LIGHT, LIGHT_OF_16
from centwise.tui.trouble_screen import TroubleScreen
from fakes import FakeWorld, block_plan

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp

ENOUGH = 4.5
INKS = ("foreground", "primary", "secondary", "accent", "success", "warning", "error")
GROUNDS = ("background", "surface", "panel")


def luminance(red: int, green: int, blue: int) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2, definition of relative luminance)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (red / 255, green / 255, blue / 255)]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    """Contrast ratio (WCAG 2.2)."""
    low, high = sorted((luminance(*one), luminance(*other)))
    return (high + 0.05) / (low + 0.05)


def test_the_ratio_of_black_and_white_is_21() -> None:
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    # Widely published as the lightest grey that passes on white.
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_every_ink_stands_out_from_every_ground(theme: object) -> None:
    for ink, ground in product(INKS, GROUNDS):
        colours = (TextColour.parse(getattr(theme, name)).rgb for name in (ink, ground))
        assert contrast(*colours) >= ENOUGH, (ink, ground)


def unreadable(app: CentwiseApp) -> set[tuple[str, float]]:
    """Return the words on the screen whose letters do not stand out."""
    found = set()
    looked_at = 0
    for strip in app.screen._compositor.render_strips():
        for segment in strip:
            style = segment.style
            looked_at += 1
            if style is None or not any(letter.isalnum() for letter in segment.text):
                continue
            ink, ground = (rgb(colour) for colour in (style.color, style.bgcolor))
            ratio = contrast(ground, ink) if not style.reverse else contrast(ink, ground)
            if ratio < ENOUGH:
                found.add((segment.text.strip(), round(ratio, 2)))
    assert looked_at > 20
    return found


def rgb(colour: Color | None) -> tuple[int, int, int]:
    assert colour is not None
    assert colour.type is ColorType.TRUECOLOR
    return tuple(colour.get_truecolor())  # type: ignore[return-value]


@pytest.mark.usefixtures("slow_feedback")
@pytest.mark.parametrize("theme", ["light", "dark"])
async def test_every_letter_on_every_screen_can_be_read(known_world: FakeWorld, theme: str) -> None:
    known_world.store.set_setting("theme", theme)
    app = make_app(known_world)
    seen = {}
    async with running(app) as pilot:
        seen["listeners"] = unreadable(app)
        await pilot.press("z")
        seen["a new name"] = unreadable(app)
        await pilot.press("enter")
        await until(pilot, lambda: "quiet tone" in screen_text(app))
        seen["level"] = unreadable(app)
        await pilot.press("enter")
        await until(pilot, lambda: "your next block" in screen_text(app))
        seen["block"] = unreadable(app)
        await pilot.press("tab")
        seen["block, a button in focus"] = unreadable(app)
        app.screen.set_focus(None)
        await pilot.hover("#start")
        seen["block, under the mouse"] = unreadable(app)
        await pilot.press("enter")
        await until(pilot, lambda: phase(app) == "asking")
        seen["asking"] = unreadable(app)
        await pilot.press("w")
        await until(pilot, lambda: "esc closes" in screen_text(app))
        seen["word line"] = unreadable(app)
        await pilot.press("escape", "f1")
        await until(pilot, lambda: "Answer: the fretted" in screen_text(app))
        seen["help"] = unreadable(app)
        await pilot.press("escape")
        await until(pilot, lambda: isinstance(app.screen, DrillScreen))
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        for right in (True, False):
            app.screen.query_one("#told").set_class(right, "right")
            app.screen.query_one("#told").set_class(not right, "wrong")
            await pilot.pause()
            seen[f"told, right {right}"] = unreadable(app)
        app.push_screen(TroubleScreen(DeviceError("no device", "plug one in"), may_go_silent=True))
        await until(pilot, lambda: "plug one in" in screen_text(app))
        seen["trouble"] = unreadable(app)
        app.push_screen(ResultScreen(RESULT, machine.begin(block_plan())))
        await until(pilot, lambda: "Another block" in screen_text(app))
        seen["result"] = unreadable(app)
    assert {place: words for place, words in seen.items() if words} == {}


# The first 16 colours of xterm (its documentation, XTerm-col.ad), and of a text console (IBM VGA; both recalled).
XTERM = (
    *((0, 0, 0), (205, 0, 0), (0, 205, 0), (205, 205, 0), (0, 0, 238), (205, 0, 205), (0, 205, 205), (229, 229, 229)),
    *((127, 127, 127), (255, 0, 0), (0, 255, 0), (255, 255, 0), (92, 92, 255), (255, 0, 255), (0, 255, 255)),
    (255, 255, 255),
)
CONSOLE = (
    *((0, 0, 0), (170, 0, 0), (0, 170, 0), (170, 85, 0), (0, 0, 170), (170, 0, 170), (0, 170, 170), (170, 170, 170)),
    *((85, 85, 85), (255, 85, 85), (85, 255, 85), (255, 255, 85), (85, 85, 255), (255, 85, 255), (85, 255, 255)),
    (255, 255, 255),
)
ENOUGH_OF_16 = 3.0
"""What WCAG 2.2 asks of large text: letters in a terminal are as large as one wants them, and 16 colours are few."""


def number(colour: Color | None) -> int:
    assert colour is not None
    found = colour.downgrade(ColorSystem.STANDARD).number
    assert found is not None
    return found


@pytest.mark.parametrize("theme", [LIGHT_OF_16, DARK_OF_16], ids=lambda theme: theme.name)
@pytest.mark.parametrize("palette", [XTERM, CONSOLE], ids=["xterm", "console"])
def test_in_16_colours_every_ink_stands_out_from_every_ground(
    theme: object, palette: tuple[tuple[int, int, int], ...]
) -> None:
    for ink, ground in product(INKS, GROUNDS):
        numbers = [number(Color.from_rgb(*TextColour.parse(getattr(theme, name)).rgb)) for name in (ink, ground)]
        assert contrast(*(palette[place] for place in numbers)) >= ENOUGH_OF_16, (ink, ground)


def lost(app: CentwiseApp) -> set[str]:
    """Return the words on the screen that 16 colours would let go under in their ground."""
    found = set()
    for strip in app.screen._compositor.render_strips():
        for segment in strip:
            if segment.style is None or not any(letter.isalnum() for letter in segment.text):
                continue
            pair = [number(colour) for colour in (segment.style.color, segment.style.bgcolor)]
            if any(contrast(*(palette[place] for place in pair)) < ENOUGH_OF_16 for palette in (XTERM, CONSOLE)):
                found.add(f"{segment.text.strip()} {pair}")
    return found


@pytest.mark.usefixtures("slow_feedback")
@pytest.mark.parametrize("theme", ["light", "dark"])
async def test_in_16_colours_no_word_is_lost_on_any_page(known_world: FakeWorld, theme: str) -> None:
    from test_places import PLACES, every_place

    known_world.store.set_setting("theme", theme)
    app = make_app(known_world, color_system="standard")
    seen = {}
    async with running(app, (80, 24)) as pilot:
        assert app.theme == f"centwise-{theme}-16"
        app.desk.choose_listener(None)
        for name, screen in every_place(known_world).items():
            app.push_screen(screen)
            await until(pilot, lambda screen=screen: app.screen is screen and len(screen_text(app).split()) > 5)
            seen[name] = lost(app)
        app.push_screen(DrillScreen())
        await until(pilot, lambda: phase(app) == "asking")
        seen["DRILL"] = lost(app)
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        seen["told"] = lost(app)
        await pilot.press("f1")
        await until(pilot, lambda: "Answer: the fretted" in screen_text(app))
        seen["help"] = lost(app)
        await pilot.press("escape")
        app.push_screen(BenchScreen())
        await until(pilot, lambda: "knocked out of its place" in screen_text(app))
        seen["BENCH"] = lost(app)
    assert seen.keys() >= PLACES.keys()
    assert {place: words for place, words in seen.items() if words} == {}


async def test_without_colours_the_words_and_signs_stay(
    known_world: FakeWorld, monkeypatch: pytest.MonkeyPatch
) -> None:
    from driving import KEYS, truth

    monkeypatch.setenv("NO_COLOR", "1")
    async with drilling(known_world) as (app, pilot):
        assert app.no_color
        await pilot.press(KEYS[truth(app)])
        await until(pilot, lambda: phase(app) == "told")
        assert "Right. " in screen_text(app)
