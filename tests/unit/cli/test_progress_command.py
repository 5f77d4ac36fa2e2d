"""`centwise progress` from the command line: the class, one listener, JSON."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from centwise.model import Listener
from centwise.past import days_of, instant_of
from centwise.progress import progress_of
from centwise.store.sqlite import SqliteStore
from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from pathlib import Path

    from conftest import CommandLine


@pytest.fixture
def made(tmp_path: Path) -> None:
    make_class(tmp_path / "data", MadeClass(listeners=3, blocks_each=26, trials_each=5))
    store = SqliteStore.open(tmp_path / "data")
    store.add_listener(Listener("new", "新しい人"))
    store.close()


def test_with_nobody_it_says_how_to_begin(centwise: CommandLine) -> None:
    assert centwise("progress") == 0
    assert centwise.out.startswith("Nobody has been listening yet: begin with centwise")
    assert centwise("progress", "--json") == 0
    assert json.loads(centwise.out)["listeners"] == []


def test_the_only_listener_has_the_page_and_is_told_what_to_do_first(centwise: CommandLine) -> None:
    centwise("listeners", "add", "Ann")
    assert centwise("progress") == 0
    assert centwise.out == (
        "Ann: No block yet.\n"
        "Scale 26.25 in (666.75 mm), five-string.\n\n"
        "Next: a block on string 4. It sets the bass side of the bridge, and shows where your ear stands.\n"
    )
    assert centwise("progress", "--class") == 0
    assert centwise.out.splitlines()[1].split() == ["Ann", "none", "yet", "never", "0", "0"]


@pytest.mark.usefixtures("made")
def test_the_class_stands_in_rows_with_word_and_sign(centwise: CommandLine) -> None:
    assert centwise("progress", "--sort", "name") == 0
    lines = centwise.out.splitlines()
    assert [line.split("  ")[0] for line in lines[1:5]] == [
        "Listener 00000",
        "Listener 00001",
        "Listener 00002",
        "新しい人",
    ]
    assert all("↓↓ finer" in line or "probably" in line or "= no change" in line for line in lines[1:4])
    assert centwise("progress", "--sort", "name", "--reverse") == 0
    assert centwise.out.splitlines()[1].startswith("新しい人")


@pytest.mark.usefixtures("made")
def test_a_page_says_where_each_string_stands_and_what_comes_next(centwise: CommandLine) -> None:
    assert centwise("progress", "--listener", "LISTENER 00001") == 0
    said = centwise.out
    assert said.startswith("Listener 00001: 26 blocks, 130 pairs judged, ")
    for words in ("String 1, harmonic first: ", "String 4, harmonic first: ", "90 % sure between", "2 cents, 0.8 mm"):
        assert words in said
    assert "  3 earlier blocks: --json has every one." in said
    assert said.splitlines()[-1].startswith("Next: a")
    assert all(len(line) <= 110 for line in said.splitlines())


@pytest.mark.usefixtures("made")
def test_json_holds_every_session_with_its_place_on_the_trend(centwise: CommandLine, tmp_path: Path) -> None:
    assert centwise("progress", "--json", "--sort", "name") == 0
    record = json.loads(centwise.out)
    assert [who["name"] for who in record["listeners"]][:3] == [f"Listener 0000{k}" for k in range(3)]
    store = SqliteStore.open(tmp_path / "data")
    now = datetime.fromisoformat(record["at"])
    assert now.tzinfo == UTC
    for who in record["listeners"]:
        found = store.listener_with_id(who["id"])
        assert found is not None
        expected = progress_of(found, store.summaries(who["id"]), now)
        assert (who["blocks"], who["trials"]) == (len(expected.blocks), expected.answered)
        assert [c["string"] for c in who["conditions"]] == [c.condition.string for c in expected.conditions]
        for told, condition in zip(who["conditions"], expected.conditions, strict=True):
            assert told["trend"] == condition.trend
            assert [s["block"] for s in told["sessions"]] == [b.plan.id for b in condition.sessions]
            assert told["sessions"][0]["trend_cents"] is None, "the first is not compared"
            assert [s["trend_cents"] for s in told["sessions"][1:]] == pytest.approx(
                [point.threshold_cents for point in condition.history.trend], abs=1e-4
            )
    store.close()


@pytest.mark.usefixtures("made")
def test_several_are_asked_for_by_name_each_once(centwise: CommandLine) -> None:
    names = ("--listener", "listener 00002", "--listener", "新しい人", "--listener", "Listener 00002")
    assert centwise("progress", *names, "--json") == 0
    assert [who["name"] for who in json.loads(centwise.out)["listeners"]] == ["Listener 00002", "新しい人"]
    assert centwise("progress", *names) == 0
    assert centwise.out.count("Next: ") == 2
    centwise.refuses("progress", "--listener", "Nobody at all", code=2, words="no listener named 'Nobody at all'")


@pytest.mark.usefixtures("made")
def test_a_chart_is_drawn_where_one_is_asked_for(centwise: CommandLine) -> None:
    assert centwise("progress", "--listener", "Listener 00001") == 0
    assert "┌" not in centwise.out
    assert centwise("progress", "--listener", "Listener 00001", "--chart") == 0
    assert "\x1b" not in centwise.out
    charts = centwise.out.split("┌")[1:]
    assert len(charts) == 2, "one a string"
    for chart in charts:
        drawn = chart.split("└")[0]
        assert " 2 c┤──────" in drawn
        assert drawn.count("●") > 5
        assert "━" in drawn
    assert centwise.out.count("─ good enough: 2 c, 0.8 mm") == 2


@pytest.mark.usefixtures("made")
def test_rehearsals_stand_beside_the_blocks(centwise: CommandLine) -> None:
    words = "compare 4\nbass forward 2 mm\nmark\n"
    assert centwise("bench", "--plain", "--player", "silent", "--listener", "Listener 00001", lines=words) == 0
    assert centwise("progress", "--listener", "Listener 00001") == 0
    assert "At the bench: 1 rehearsal; the last one ended, on " in centwise.out
    assert "  straight, easy" in centwise.out
    assert centwise("progress", "--json", "--listener", "Listener 00001") == 0
    (found,) = json.loads(centwise.out)["listeners"][0]["rehearsals"]
    assert found["ended"]
    assert set(found["cents"]) == {"1", "2", "3", "4", "5"}


@pytest.mark.usefixtures("made")
def test_the_chance_counts_from_a_day_that_is_named(centwise: CommandLine, tmp_path: Path) -> None:
    assert centwise("progress", "--listener", "Listener 00001", "--json") == 0
    ever = json.loads(centwise.out)["listeners"][0]["conditions"][0]
    store = SqliteStore.open(tmp_path / "data")
    listener = store.listener_named("Listener 00001")
    assert listener is not None
    found = progress_of(listener, store.summaries(listener.id), datetime(2030, 1, 1, tzinfo=UTC)).conditions[0]
    store.close()
    middle = found.history.compared[len(found.history.compared) // 2]
    day = instant_of(middle.days)
    assert centwise("progress", "--listener", "Listener 00001", "--since", f"{day:%Y-%m-%d}", "--json") == 0
    later = json.loads(centwise.out)["listeners"][0]["conditions"][0]
    # Midnight of that day where the test runs.
    midnight = datetime(day.year, day.month, day.day).astimezone()
    expected = found.history.improvement_chance(days_of(midnight))
    assert later["improvement_chance"] == pytest.approx(expected, abs=1e-4)
    assert later["improvement_chance"] != ever["improvement_chance"]
    assert later["since"] > ever["since"]
    assert centwise("progress", "--listener", "Listener 00001", "--since", "2999-01-01") == 0
    assert "not two compared ones since that day" in centwise.out
    centwise.refuses("progress", "--since", "soon", code=2, words="does not match the format")
    centwise.refuses("progress", "--since", "2026-01-01", "--html", "x.html", code=2, words="--since counts in the")
