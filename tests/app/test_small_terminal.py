"""Every page fits a terminal of 60 columns and 20 rows: nothing is cut that cannot be scrolled to."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from driving import drilling, make_app, phase, running, screen_text, until
from textual.containers import VerticalScroll
from textual.widgets import Button, Footer, OptionList, Static

from centwise.model import Listener
from centwise.tui.bench_screen import BenchScreen

if TYPE_CHECKING:
    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

SMALL = (60, 20)
LONG = "Wilhelmina Constantinopoulos of Upper Llanfair"


def cut(app: CentwiseApp) -> list[str]:
    """Return what stands beyond the edge of the terminal, or has more lines than it is given."""
    footers = app.screen.query(Footer)
    bottom = app.size.height - (1 if footers else 0)
    found = []
    for widget in app.screen.query("*"):
        if not isinstance(widget, Static | Button | OptionList) or not widget.display or not widget.visible:
            continue
        text = str(widget.render()) if isinstance(widget, Static) else str(getattr(widget, "label", ""))
        if isinstance(widget, Static) and not text.strip():
            continue
        ancestors = [one for one in widget.ancestors if isinstance(one, VerticalScroll)]
        if any(not one.display for one in widget.ancestors_with_self if one is not app):
            continue
        region = widget.region
        scrolls = any(one.max_scroll_y > 0 for one in ancestors)
        if not scrolls and (region.bottom > bottom or region.right > app.size.width or region.height == 0):
            found.append(f"{widget.id or widget}: {text[:40]!r} at {region}")
        if isinstance(widget, Static):
            wanted = widget.get_content_height(widget.size, app.size, widget.content_size.width)
            if wanted > widget.content_size.height:
                found.append(
                    f"{widget.id or widget}: {text[:40]!r} has {wanted} lines for {widget.content_size.height}"
                )
    return found


async def test_every_page_fits(known_world: FakeWorld) -> None:
    from test_places import every_place

    known_world.store.change_listener(Listener("known-0", LONG))
    app = make_app(known_world)
    seen = {}
    async with running(app, SMALL) as pilot:
        app.desk.choose_listener(LONG)
        for name, screen in every_place(known_world).items():
            app.push_screen(screen)
            await until(pilot, lambda screen=screen: app.screen is screen and len(screen_text(app).split()) > 5)
            await pilot.pause()
            seen[name] = cut(app)
        app.push_screen(BenchScreen())
        await until(pilot, lambda: "knocked out of" in screen_text(app))
        seen["BENCH"] = cut(app)
    assert {place: what for place, what in seen.items() if what} == {}


@pytest.mark.usefixtures("slow_feedback")
async def test_the_drill_fits(known_world: FakeWorld) -> None:
    async with drilling(known_world, SMALL) as (app, pilot):
        assert cut(app) == []
        await pilot.press("f")
        await until(pilot, lambda: phase(app) == "told")
        assert cut(app) == []
        await pilot.press("w")
        await until(pilot, lambda: "esc closes" in screen_text(app))
        assert cut(app) == []
        await pilot.press("escape")
        await pilot.press("question_mark")
        await until(pilot, lambda: "Answer: the fretted" in screen_text(app))
        assert cut(app) == []


async def test_what_is_cut_is_found(known_world: FakeWorld) -> None:
    async with drilling(known_world, SMALL) as (app, pilot):
        app.screen.query_one("#asked", Static).update("word " * 60)
        await until(pilot, lambda: any("asked" in line for line in cut(app)))
