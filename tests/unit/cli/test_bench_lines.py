"""The bench by lines on fakes: the exact words of the events, the sentences, and every kind of trouble."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from centwise.bench.acts import WORDS
from centwise.bench_planning import BenchRequest, open_rehearsal
from centwise.cli.bench_events import BenchEventsFace
from centwise.cli.bench_lines import run_bench_lines
from centwise.cli.bench_plain import BenchPlainFace
from centwise.cli.diagnostics import ExitCode
from centwise.errors import ElsewhereError, StoppedError
from centwise.model import BenchAct, Listener
from fakes import START, FakeWorld

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ADA = Listener("listener-1", "Ada")


@pytest.fixture
def world() -> FakeWorld:
    world = FakeWorld()
    world.player.rate_hz = 22_050
    world.store.add_listener(ADA)
    return world


def lines(*given: str | Callable[[], None]) -> Iterator[str]:
    for line in given:
        if callable(line):
            line()
        else:
            yield f"{line}\n"


def by_events(
    world: FakeWorld, capsys: pytest.CaptureFixture[str], *given: str | Callable[[], None], **request: Any
) -> tuple[ExitCode, list[dict[str, Any]]]:
    rehearsal, taken_up = open_rehearsal(
        BenchRequest(**request), ADA, world.services, world.player, first_is_guided=False
    )
    code = run_bench_lines(
        rehearsal, lines(*given), BenchEventsFace(ADA, player=world.player, store=world.store), taken_up=taken_up
    )
    return code, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_the_quiet_tone_is_of_the_instrument_at_hand(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    by_events(world, capsys, "softer", "quit", instrument="archtop-guitar")
    assert [sound.name for sound in world.player.sounds] == ["open-string-6"]


def plainly(
    world: FakeWorld,
    capsys: pytest.CaptureFixture[str],
    *given: str | Callable[[], None],
    new: bool = False,
    **request: Any,
) -> tuple[ExitCode, list[str]]:
    rehearsal, taken_up = open_rehearsal(
        BenchRequest(**request), ADA, world.services, world.player, first_is_guided=True
    )
    face = BenchPlainFace(ADA, new=new, player=world.player, store=world.store, as_json=False)
    code = run_bench_lines(rehearsal, lines(*given), face, taken_up=taken_up)
    return code, capsys.readouterr().out.splitlines()


def test_the_events_of_every_act(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    code, events = by_events(
        world,
        capsys,
        "mute",
        "chime 4",
        "fret 4",
        "open 3",
        "unmute",
        "bass forward 1/16in",
        "slide treble 0.5mm",
        "margins",
        "retune",
        "mark",
        "quit",
    )
    assert code == ExitCode.DONE
    assert [(event["event"], event.get("act")) for event in events] == [
        ("bench", None),
        ("done", "mute"),
        ("sound", "chime"),
        ("sound", "fret"),
        ("sound", "open"),
        ("done", "unmute"),
        ("done", "bass forward"),
        ("done", "slide treble"),
        ("done", "margins"),
        ("done", "retune"),
        ("reckoning", None),
    ]
    opening = events[0]
    assert opening["strings"] == [1, 2, 3, 4, 5]
    assert (opening["seed"], opening["resumed"], opening["words"]) == (11, False, list(WORDS))
    assert events[2]["string"] == 4
    assert set(events[2]["sounds"]) == {"harmonic"}
    assert events[2]["sounds"]["harmonic"]["start_s"] == 0.12
    assert "frequency_hz" not in events[3]["sounds"]["fretted"]
    assert events[6]["asked_mm"] == 1.5875
    assert events[6]["in_tune"] is False
    assert events[8]["bass_margin_mm"] > 0
    reckoning = events[-1]
    assert set(reckoning["cents"]) == {"1", "2", "3", "4", "5"}
    assert (reckoning["moves"], reckoning["comparisons"]) == (2, 1)
    assert {"bass_mm", "treble_mm", "side_mm"} <= set(reckoning)
    assert all(set(point) == {"point", "kept", "reason"} for point in reckoning["order"])


def test_before_the_mark_nothing_tells_the_place(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    acts = ("mute", "retune", "fret 4", "bass forward 1/64in", "retune", "fret 1", "open 4", "chime 5 12", "why")
    told = []
    for seed in (1, 2):
        _, events = by_events(another(world), capsys, *acts, seed=seed, difficulty="easy")
        told.append([{k: v for k, v in event.items() if k not in {"seed", "bench"}} for event in events])
    assert told[0] == told[1]


def another(world: FakeWorld) -> FakeWorld:
    other = FakeWorld()
    other.player.rate_hz = world.player.rate_hz
    other.store.add_listener(ADA)
    return other


@pytest.mark.parametrize(
    "line",
    ["chime 9", "chime", "bass", "bass forward", "bass forward 0mm", "bass back 80mm", "slide bass 30mm", "undo"],
)
def test_a_bad_line_gets_an_error_and_nothing_moves(
    world: FakeWorld, capsys: pytest.CaptureFixture[str], line: str
) -> None:
    code, events = by_events(world, capsys, line, "margins", "quit")
    assert code == ExitCode.DONE
    assert [event["event"] for event in events] == ["bench", "error", "done"]
    assert events[1]["message"].endswith(".")
    assert events[2]["n"] == 1
    assert [act.words for act in world.store.benches(ADA.id)[0].acts] == ["margins"]


def test_left_and_reopened_it_goes_on(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    by_events(world, capsys, "mute", "retune", "bass back 1/32in")
    _, events = by_events(world, capsys, "chime 4", "quit")
    assert (events[0]["resumed"], events[0]["acts"], events[0]["muted"], events[0]["in_tune"]) == (True, 3, True, False)
    assert events[1]["n"] == 4


def test_why_and_the_guide_in_events(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    _, events = by_events(world, capsys, "chime 5 12", "why", "mute", "softer", guided=True)
    assert events.pop() == {"event": "level", "level_db": -14.0}
    assert events[0]["guide"]["step"] == "mute"
    assert events[1]["mode"] == 3
    assert "an octave and 1.955 cents above" in events[2]["reason"]
    assert events[3]["guide"]["step"] == "retune"


def test_a_rehearsal_in_sentences(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    code, said = plainly(
        world,
        capsys,
        "mute",
        "retune",
        "chime 4",
        "fret 4",
        "bass back 1/16in",
        "margins",
        "mark",
        "start over",
        new=True,
    )
    assert code == ExitCode.DONE
    assert said[0] == "Welcome, Ada."
    whole = "\n".join(said)
    for part in (
        "Nothing can be hurt here. At a real instrument:",
        "never slacken all strings at once",
        "80 dB(A)",
        "Begin by muting the other strings: mute.",
        "String 4, touched over fret 12, its octave.",
        "The bass foot goes back, about 1/16in.",
        "From the edges of the fingerboard to the outer strings:",
        "A pencil line runs along the feet.",
        "The bridge is not set",
        "points of the order were kept.",
        "The bridge stands where it was found.",
        "The feet are not marked yet: the rehearsal goes on here the next time.",
    ):
        assert part in whole, part
    assert all(line.endswith((".", "?", ":")) for line in said)


def test_other_words_in_plain(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    _, said = plainly(world, capsys, "help", "cautions", "softer", "why", "flat", "mark")
    whole = "\n".join(said)
    assert "A quiet tone at -14 dB." in whole
    assert "'flat' is no word of the bench" in whole
    assert whole.count("Turn the volume down first.") == 2


def test_with_json_stdout_holds_the_reckoning_alone(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    rehearsal, _ = open_rehearsal(BenchRequest(), ADA, world.services, world.player, first_is_guided=True)
    face = BenchPlainFace(ADA, new=False, player=world.player, store=world.store, as_json=True)
    run_bench_lines(rehearsal, lines("mute", "mark"), face, taken_up=False)
    out, err = capsys.readouterr()
    (line,) = out.splitlines()
    assert json.loads(line)["moves"] == 0
    assert "A pencil line runs along the feet." in err


def test_trouble_with_the_device(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def breaks() -> None:
        world.player.fails_at_play = True

    def mends() -> None:
        world.player.fails_at_play = False

    code, events = by_events(world, capsys, breaks, "chime 4", mends, "chime 4", breaks, "fret 4")
    assert [event["event"] for event in events] == ["bench", "error", "sound", "error"]
    assert events[1]["retry"] == "the same line"
    assert code == ExitCode.DEVICE
    world.player.fails_at_wait = True
    mends()
    code, said = plainly(world, capsys, "fret 4")
    assert code == ExitCode.DEVICE
    assert "Nothing is lost" in "\n".join(said)


def test_ctrl_c_keeps_everything(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def interrupt() -> None:
        raise KeyboardInterrupt

    with pytest.raises(
        StoppedError, match=r"stopped by ctrl\+c, and every act so far is kept: type centwise bench"
    ) as told:
        by_events(world, capsys, "mute", interrupt)
    assert told.value.exit_code == 130
    assert len(world.store.benches(ADA.id)[0].acts) == 1


def test_an_act_the_store_refuses_is_done_when_it_is_said_again(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    def full() -> None:
        world.store.broken.add("add_bench_act")

    code, events = by_events(world, capsys, "mute", full, "unmute", world.store.broken.clear, "unmute", "margins")
    assert code == ExitCode.DONE
    told = [event for event in events if event["event"] in {"done", "error"}]
    assert [event["event"] for event in told] == ["done", "error", "done", "done"]
    assert told[1]["retry"] == "the same line"
    assert [act.words for act in world.store.benches(ADA.id)[0].acts] == ["mute", "unmute", "margins"]
    code, said = plainly(world, capsys, full, "mute")
    assert code == ExitCode.STORE
    assert any("Nothing is lost: say the same once more" in line for line in said)


def test_a_rehearsal_gone_on_with_in_another_window_ends_here(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    def elsewhere() -> None:
        (bench,) = world.store.benches(ADA.id)
        world.store.add_bench_act(bench.plan.id, BenchAct(2, "unmute", START))

    with pytest.raises(ElsewhereError):
        by_events(world, capsys, "mute", elsewhere, "margins")
    assert [act.words for act in world.store.benches(ADA.id)[0].acts] == ["mute", "unmute"]


def test_a_hole_in_a_sound_is_told(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def starve() -> None:
        world.player.playbacks[-1].holes = 0.12

    _, events = by_events(world, capsys, "chime 4", starve, "fret 4", "mute")
    assert [event["event"] for event in events] == ["bench", "sound", "hole", "sound", "done"]
    message = "The tone had a hole of 0.12 s in it, because this computer was busy: close other programs, then"
    assert (events[2]["lost_s"], events[2]["message"]) == (0.12, f"{message} do the same once more.")
    world.player.holes = 0.12
    _, said = plainly(world, capsys, "fret 4")
    assert f"{message} do the same once more." in said
