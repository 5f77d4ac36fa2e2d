"""Every act can be done by keyboard alone, by mouse alone and in lines, and is told on the help page of its place.

The tables here are the inventory: an act that is new has to be entered, with its counterpart in lines or the reason why
there is none.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click
import pytest
from driving import drilling, make_app, phase, running, said, screen_text, until
from textual.widgets import Button, Footer

from centwise.bench.acts import WORDS as BENCH_WORDS
from centwise.cli.lines import ANSWER_WORDS, DIRECTIONS_WORD, HELP_WORD, LEVEL_STEPS, PART_WORDS, QUIT_WORDS
from centwise.cli.main import centwise as cli
from centwise.tui import acts
from centwise.tui.bench_screen import BenchScreen
from centwise.tui.block_screen import BlockScreen
from centwise.tui.help_screen import HelpLine, HelpScreen
from centwise.tui.key_names import key_name
from centwise.tui.level_screen import LevelScreen
from centwise.tui.merge_screen import MergeScreen
from centwise.tui.own_screen import OwnScreen
from centwise.tui.question_screen import QuestionScreen
from centwise.tui.themes import LIGHT

if TYPE_CHECKING:
    from textual.pilot import Pilot

    from centwise.tui.app import CentwiseApp
    from fakes import FakeWorld

SEEN = "nothing: it is how the app is looked at; sentences come one after the other"
LEFT = "nothing: a command ends by itself"
MARKED = "nothing: what is meant is named in the command"

LINES: dict[str, dict[str, str]] = {
    "everywhere": {"help": "drill help", "light-dark": "nothing: the terminal's own colours are left alone"},
    "listeners": {
        "choose": "drill --listener",
        "up": MARKED,
        "down": MARKED,
        "class": "progress --class",
        "edit": "listeners change",
        "quit": LEFT,
    },
    "class": {
        "up": MARKED,
        "down": MARKED,
        "page-up": SEEN,
        "page-down": SEEN,
        "progress": "progress --listener",
        "find": MARKED,
        "by-name": "progress --sort",
        "by-threshold": "progress --sort",
        "by-trend": "progress --sort",
        "by-last-seen": "progress --sort",
        "by-minutes": "progress --sort",
        "edit": "listeners change",
        "back": LEFT,
    },
    "progress": {"before": SEEN, "next": SEEN, "up": SEEN, "down": SEEN, "back": LEFT},
    "edit": {
        "save": "listeners change",
        "merge": "listeners merge",
        "remove": "listeners remove",
        "back": LEFT,
    },
    "merge": {"choose": "listeners merge", "up": MARKED, "down": MARKED, "back": LEFT},
    "question": {"yes": "listeners remove --yes", "for-good": "listeners remove --final", "no": LEFT},
    "level": {
        "quiet-tone": "word tone",
        "softer": "word softer",
        "louder": "word louder",
        "go-on": LEFT,
        "back": LEFT,
    },
    "block": {
        "string": "drill --string",
        "instrument": "drill --instrument",
        "fewer": "drill --trials",
        "more": "drill --trials",
        "kind": "drill --assess",
        "volume": "word louder",
        "lessons": "drill --lesson",
        "progress": "progress --listener",
        "own": "drill --take",
        "bench": "bench --plain",
        "begin": "drill --plain",
        "go-on": "drill --resume",
        "back": LEFT,
    },
    "instruments": {"up": MARKED, "down": MARKED, "take": "drill --instrument", "back": LEFT},
    "lessons": {"up": MARKED, "down": MARKED, "take": "drill --lesson", "back": LEFT},
    "own": {
        "up": MARKED,
        "down": MARKED,
        "record": "record --plain",
        "by-ear": "drill --take",
        "drill": "drill --shifted",
        "meter": "measure --json",
        "volume": "word louder",
        "back": LEFT,
    },
    "record": {
        **{f"string-{number}": "record --string" for number in range(1, 10)},
        "fewer": "record --takes",
        "more": "record --takes",
        "begin": "record --plain",
        "by-ear": "drill --take",
        "meter": "measure --json",
        "try-again": "record --plain",
        "back": LEFT,
    },
    "meter": {"done": LEFT, "back": LEFT},
    "drill": {
        "flat": "word flat",
        "unison": "word unison",
        "sharp": "word sharp",
        "again": "word again",
        "harmonic": "word harmonic",
        "fretted": "word fretted",
        "next": "nothing: in lines the next pair follows at once",
        "directions": "word directions",
        "word": "nothing: lines are words",
        "volume": "word louder",
        "end-block": "word quit",
    },
    "trouble": {"try-again": "word again", "no-sound": "drill --player", "back": "word quit"},
    "bench-choice": {
        "difficulty": "bench --difficulty",
        "bridge": "bench --bridge",
        "guided": "bench --guided",
        "new": "bench --new",
        "volume": "word louder",
        "begin": "bench --plain",
        "back": LEFT,
    },
    "bench": {
        "string-up": MARKED,
        "string-down": MARKED,
        "string": MARKED,
        "chime": "bench word chime N",
        "fret": "bench word fret N",
        "open": "bench word open N",
        "fret-lower": "nothing: `fret 4 7` names the fret",
        "fret-higher": "nothing: `fret 4 7` names the fret",
        "octave-fret": "nothing: `fret 4` is the octave fret",
        "mute": "bench word mute",
        "retune": "bench word retune",
        "forward": "bench word bass forward|back AMOUNT",
        "back": "bench word bass forward|back AMOUNT",
        "foot": "bench word treble forward|back AMOUNT",
        "less": "nothing: the amount is said with the act",
        "more": "nothing: the amount is said with the act",
        "slide-to-treble": "bench word slide bass|treble AMOUNT",
        "slide-to-bass": "bench word slide bass|treble AMOUNT",
        "edges": "bench word margins",
        "pencil": "bench word mark",
        "why": "bench word why",
        "reset": "bench word start over",
        "safety": "bench help cautions",
        "word": "nothing: lines are words",
        "volume": "word louder",
        "leave": "bench word quit",
    },
    "result": {"another-block": "drill --plain", "progress": "progress --listener", "quit": LEFT},
}


def test_every_act_has_its_counterpart_in_lines_or_a_reason() -> None:
    assert {place: [act.name for act in table] for place, table in acts.PLACES.items()} == {
        place: list(names) for place, names in sorted(LINES.items(), key=lambda row: list(acts.PLACES).index(row[0]))
    }


@pytest.mark.parametrize("said_so", sorted({way for table in LINES.values() for way in table.values()}))
def test_what_is_named_there_exists(said_so: str) -> None:
    kind, _, rest = said_so.partition(" ")
    if kind == "nothing:":
        assert len(rest) > 10
    elif kind == "word":
        assert rest in {*ANSWER_WORDS, *PART_WORDS, *LEVEL_STEPS, *QUIT_WORDS, DIRECTIONS_WORD, HELP_WORD}
    elif said_so.startswith("bench word "):
        assert said_so.removeprefix("bench word ") in BENCH_WORDS
    elif said_so in {"drill help", "bench help cautions"}:
        return
    else:
        command: click.Command | None = cli
        for word in said_so.split():
            if word.startswith("--"):
                assert command is not None
                options = [o for parameter in command.params for o in (*parameter.opts, *parameter.secondary_opts)]
                assert word in options
            else:
                assert isinstance(command, click.Group)
                command = command.get_command(click.Context(command), word)
                assert command is not None, said_so


def footer(app: CentwiseApp) -> str:
    return "".join(screen_text(app).splitlines()[-1:])


def clickable(app: CentwiseApp) -> str:
    return "\n".join(str(button.label) for button in app.screen.query(Button) if button.display)


async def help_line(app: CentwiseApp, pilot: Pilot[int], name: str) -> None:
    """Open help by a click in the footer, and click an act there, scrolling to it first."""
    await until(pilot, lambda: "Help" in footer(app))
    await pilot.click(offset=(footer(app).index("Help"), app.size.height - 1))
    await until(pilot, lambda: isinstance(app.screen, HelpScreen) and bool(app.screen.query(HelpLine)))
    line = next(line for line in app.screen.query(HelpLine) if line._act.name == name)
    line.scroll_visible(animate=False)
    await pilot.pause()
    # It lands on one of the two texts in the line, and rises from there.
    await pilot.click(line)
    await until(pilot, lambda: not isinstance(app.screen, HelpScreen))


async def test_by_mouse_alone_any_act_is_done_from_the_help_page(known_world: FakeWorld) -> None:
    async with drilling(known_world, (60, 20)) as (app, pilot):
        await help_line(app, pilot, "volume")
        await until(pilot, lambda: isinstance(app.screen, LevelScreen) and "dB" in said(app, "#level"))
        await help_line(app, pilot, "light-dark")
        await until(pilot, lambda: app.theme == LIGHT.name or app.theme.endswith("light"))
        await help_line(app, pilot, "back")
        await until(pilot, lambda: phase(app) == "asking" and not isinstance(app.screen, HelpScreen))
        sounds = len(known_world.player.sounds)
        await help_line(app, pilot, "harmonic")
        await until(pilot, lambda: len(known_world.player.sounds) == sounds + 1)
        # What cannot be done now is not done: the pair that was not judged has no next.
        await help_line(app, pilot, "next")
        await until(pilot, lambda: not isinstance(app.screen, HelpScreen))
        assert phase(app) == "asking"


async def test_a_click_beside_the_help_page_closes_it(known_world: FakeWorld) -> None:
    async with drilling(known_world, (80, 24)) as (app, pilot):
        await pilot.press("f1")
        await until(pilot, lambda: isinstance(app.screen, HelpScreen) and "A click on a line" in screen_text(app))
        await pilot.click(offset=(0, 5))
        await until(pilot, lambda: not isinstance(app.screen, HelpScreen))


async def test_every_place_has_help_in_its_footer_or_a_button_for_each_act(known_world: FakeWorld) -> None:
    from test_places import PLACES

    app = make_app(known_world)
    async with running(app, (60, 20)) as pilot:
        app.desk.choose_listener(None)
        one = known_world.store.listeners()[0]
        for screen in (MergeScreen(one), BlockScreen(), OwnScreen(), LevelScreen(), BenchScreen()):
            app.push_screen(screen)
            await until(
                pilot,
                lambda screen=screen: screen.query(Footer) and re.search(r"(F1|\?)\s+Help", footer(app)),
            )
            app.pop_screen()
        app.push_screen(QuestionScreen("Remove Ada?", "Ada goes.", yes="remove", final="for good"))
        await until(pilot, lambda: "y remove" in clickable(app))
        assert [line.split()[0] for line in clickable(app).splitlines()] == [
            key_name(act.keys[0], short=True) for act in PLACES["QUESTION"]
        ]


async def test_two_listeners_are_joined_by_mouse_alone(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (60, 20)) as pilot:
        one = known_world.store.listeners()[0]
        app.push_screen(MergeScreen(one))
        await until(pilot, lambda: "⏎ join" in screen_text(app))
        await pilot.click("#choose")
        await until(pilot, lambda: isinstance(app.screen, QuestionScreen))
        await pilot.click("#no")
        await until(pilot, lambda: isinstance(app.screen, MergeScreen))
        await pilot.click("#go_back")
        await until(pilot, lambda: not isinstance(app.screen, MergeScreen))


async def test_without_takes_only_recording_is_offered(known_world: FakeWorld) -> None:
    app = make_app(known_world)
    async with running(app, (60, 20)) as pilot:
        app.desk.choose_listener(None)
        app.push_screen(OwnScreen())
        await until(pilot, lambda: "No takes yet" in screen_text(app))
        assert clickable(app).splitlines() == ["r record"]
        await until(pilot, lambda: footer(app) and "By ear" not in footer(app))
