"""An assessment tells nothing until its end."""

from __future__ import annotations

from typing import TYPE_CHECKING

from driving import KEYS, drill, drilling, phase, said, screen_text, until

from centwise.tui.result_screen import ResultScreen

if TYPE_CHECKING:
    from fakes import FakeWorld


async def test_an_assessment_keeps_silent_to_the_end(known_world: FakeWorld) -> None:
    async with drilling(known_world, assess=True, trials=8) as (app, pilot):
        for n in range(1, 9):
            await until(pilot, lambda n=n: phase(app) == "asking" and f"pair {n} of 8" in said(app, "#where"))
            shown = screen_text(app)
            for word in ("cents", "Right", "Not this time", "Bridge:", "forward", "back ──▶", "leave it", "◆", "["):
                assert word not in shown
            if n > 1:
                assert f"Pair {n - 1} is kept: " in shown
            pair = drill(app).pair
            assert pair is not None
            await pilot.press(KEYS["flat" if pair.offset_cents < 0 else "sharp"])
        await until(pilot, lambda: isinstance(app.screen, ResultScreen))
        assert "of 8 right" in said(app, "#beside")


async def test_the_first_tone_is_named_in_both_orders(known_world: FakeWorld) -> None:
    seen = set()
    async with drilling(known_world, assess=True, trials=12) as (app, pilot):
        for n in range(1, 12):
            await until(pilot, lambda n=n: phase(app) == "asking" and f"pair {n} of" in said(app, "#where"))
            pair = drill(app).pair
            assert pair is not None
            seen.add(pair.first)
            other = "fretted" if pair.first == "harmonic" else "harmonic"
            assert said(app, "#asked").startswith(f"Listen: {pair.first}, then {other}.")
            await pilot.press("u")
    assert seen == {"harmonic", "fretted"}
