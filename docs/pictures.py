"""Makes the pictures of the documentation from the running app, and the drawings from the program itself.

    python docs/pictures.py            makes them all anew in docs/pictures
    python docs/pictures.py class      only that one

The app runs without a screen on stand-ins for sound and disk (those of the tests), with simulated listeners and a clock
that stands still, so the pictures change when the app does and not otherwise. `tests/app/test_doc_pictures.py` fails
once a picture no longer has the labels of the present app.
"""

from __future__ import annotations

import asyncio
import re
import sys
from contextlib import asynccontextmanager
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parents[1]
for place in ("tests", "tests/app"):
    sys.path.insert(0, str(ROOT / place))

import numpy as np  # noqa: E402
from driving import answer_all, make_app, phase, running, screen_text, truth, until  # noqa: E402

from centwise.ear.simulated import SimulatedListener  # noqa: E402
from centwise.tui.block_screen import BlockScreen  # noqa: E402
from centwise.tui.class_screen import ClassScreen  # noqa: E402
from centwise.tui.lesson_screen import LessonScreen  # noqa: E402
from centwise.tui.level_screen import LevelScreen  # noqa: E402
from centwise.tui.listener_screen import ListenerScreen  # noqa: E402
from centwise.tui.progress_screen import ProgressScreen  # noqa: E402
from centwise.tui.result_screen import ResultScreen  # noqa: E402
from fakes import FakeWorld, ManualClock  # noqa: E402
from practised import BEGIN, practise  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Awaitable, Callable

    from textual.pilot import Pilot

    from centwise.tui.app import CentwiseApp

FOLDER = Path(__file__).with_name("pictures")
SIZE = (80, 24)
LISTENERS = (("Ada", 9, 12.0), ("Béla", 4, 20.0), ("Chiara", 6, 8.0), ("Dora", 2, 30.0), ("Emil", 1, 16.0))


def world_with(*listeners: tuple[str, int, float]) -> FakeWorld:
    """Return the stand-ins, with listeners who have taken so many blocks."""
    world = FakeWorld(clock=ManualClock(BEGIN + timedelta(days=18)))
    world.player.rate_hz = 22_050
    world.store.set_setting("theme", "light")
    for name, blocks, sigma_cents in reversed(listeners):
        practise(world.store, name, blocks, sigma_cents=sigma_cents)
    return world


async def first_start(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Show the first screen of all."""
    await until(pilot, lambda: isinstance(app.screen, ListenerScreen))


async def level(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Set the listening level."""
    await pilot.press(*"Ada", "enter")
    await until(pilot, lambda: isinstance(app.screen, LevelScreen))


async def block(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Choose the next block."""
    await pilot.press("enter")
    await until(pilot, lambda: isinstance(app.screen, BlockScreen) and "pairs on" in screen_text(app))


async def asking(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Judge a pair."""
    await block(app, pilot)
    await pilot.press("enter")
    await until(pilot, lambda: phase(app) == "asking")


async def told(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Be told how a pair was."""
    await asking(app, pilot)
    await answer_all(app, pilot, 4, truth)
    await until(pilot, lambda: phase(app) == "asking")
    await pilot.press("f" if truth(app) != "flat" else "s")
    await until(pilot, lambda: phase(app) == "told")


async def result(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """See what a block says."""
    await block(app, pilot)
    await pilot.press("minus", "enter")
    await until(pilot, lambda: phase(app) == "asking")
    ear = SimulatedListener(sigma_cents=13.0, window_cents=8.0, bias_cents=1.0)
    rng = np.random.default_rng(3)

    def judged(app: CentwiseApp) -> str:
        sitting = app.desk.sitting
        pair = None if sitting is None else sitting.drill.pair
        return "unison" if pair is None else ear.judge(pair.offset_cents, rng)

    await answer_all(app, pilot, 20, judged)
    await until(pilot, lambda: isinstance(app.screen, ResultScreen))


async def lessons(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Choose a lesson."""
    await block(app, pilot)
    await pilot.press("l")
    await until(pilot, lambda: isinstance(app.screen, LessonScreen))


async def progress(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """See one listener's progress."""
    await block(app, pilot)
    await pilot.press("p")
    await until(pilot, lambda: isinstance(app.screen, ProgressScreen))


async def class_(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """See the class."""
    await pilot.press("f3")
    await until(pilot, lambda: isinstance(app.screen, ClassScreen))


async def assessment(app: CentwiseApp, pilot: Pilot[int]) -> None:
    """Choose an assessment."""
    await block(app, pilot)
    await pilot.press("m")


PICTURES: dict[str, tuple[Callable[[CentwiseApp, Pilot[int]], Awaitable[None]], tuple[tuple[str, int, float], ...]]] = {
    "first-start": (first_start, ()),
    "level": (level, ()),
    "block": (block, LISTENERS[:1]),
    "asking": (asking, LISTENERS[:1]),
    "told": (told, LISTENERS[:1]),
    "result": (result, LISTENERS[:1]),
    "lessons": (lessons, LISTENERS[:1]),
    "progress": (progress, LISTENERS[:1]),
    "class": (class_, LISTENERS),
    "assessment": (assessment, LISTENERS[:1]),
}
"""Each picture: the way to it from the first screen, and who is known by then."""


@asynccontextmanager
async def shown(name: str) -> AsyncIterator[tuple[CentwiseApp, Pilot[int]]]:
    """Run the app up to what a picture shows, and let it come to rest."""
    way, listeners = PICTURES[name]
    app = make_app(world_with(*listeners), seed=7)
    async with running(app, SIZE) as pilot:
        await way(app, pilot)
        for _ in range(20):
            await pilot.pause()
        yield app, pilot


async def picture(name: str) -> str:
    """Return a picture of the app as SVG that asks nothing of any network."""
    async with shown(name) as (app, _pilot):
        text = app.export_screenshot(title="centwise", simplify=True)
    # The fonts it would fetch: a monospaced one of the reader's own serves as well.
    text = re.sub(r"@font-face \{.*?\}\s*", "", text, flags=re.DOTALL)
    text = text.replace("Fira Code", "ui-monospace, DejaVu Sans Mono, Menlo, Consolas")
    # Ids made by chance in the terminal's drawing would change it each time.
    found = re.search(r"terminal-(\d+)-", text)
    return text if found is None else text.replace(f"terminal-{found[1]}-", f"terminal-{name}-")


def history_drawing() -> str:
    """Return the threshold over time as the page of `centwise progress --html` draws it, in its light colours."""
    from centwise.progress import progress_of  # noqa: PLC0415
    from centwise.report.figures import history_picture  # noqa: PLC0415

    world = world_with(("Ada", 14, 14.0))
    (ada,) = world.store.listeners()
    progress = progress_of(ada, world.store.summaries(ada.id), world.clock.now())
    svg = str(history_picture(progress.conditions[0], "history").svg)
    style = (ROOT / "src/centwise/report/templates/style.css").read_text(encoding="utf-8")
    light = dict(re.findall(r"--(\w+): (#[0-9a-f]+)", style.partition("}")[0]))
    return re.sub(r"var\(--(\w+)\)", lambda found: light[found[1]], svg)


def make(name: str) -> str:
    """Return a picture by its name."""
    return history_drawing() if name == "history" else asyncio.run(picture(name))


NAMES = (*PICTURES, "history")


def main() -> None:
    """Make the pictures named on the command line, or all."""
    FOLDER.mkdir(exist_ok=True)
    for name in sys.argv[1:] or NAMES:
        path = FOLDER / f"{name}.svg"
        path.write_text(f"{make(name).strip()}\n", encoding="utf-8")
        sys.stdout.write(f"{path}, {path.stat().st_size // 1024} kB\n")


if __name__ == "__main__":
    main()
