"""The line-by-line loop on fakes: every word, trouble with the device, and the two ways of saying it."""

from __future__ import annotations

import json
import signal
from typing import TYPE_CHECKING, Any

import pytest

from centwise.cli.diagnostics import ExitCode
from centwise.cli.events import EventsFace
from centwise.cli.lines import run_lines
from centwise.cli.plain import PlainFace
from centwise.cli.signals import EndedBySignal
from centwise.conductor import Sitting
from centwise.drill import machine
from centwise.drill.words import NOTED_S, Answered
from centwise.errors import ElsewhereError, StoppedError, StoreError
from centwise.harmless import harmless
from centwise.listening import LEVEL_KEY
from centwise.model import Listener, Trial, judgement_of
from centwise.resuming import block_left
from fakes import START, FakeWorld, MemoryStore, block_plan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from centwise.model import Judgement
    from conftest import CommandLine

ADA = Listener("listener-1", "Ada")


@pytest.fixture
def world() -> FakeWorld:
    return FakeWorld()


class Lines:
    """Feeds lines to the loop; a callable among them is called when its turn comes."""

    def __init__(self, *lines: str | Callable[[], None]) -> None:
        self._lines = lines

    def __iter__(self) -> Iterator[str]:
        for line in self._lines:
            if callable(line):
                line()
            else:
                yield f"{line}\n"


def interrupt() -> None:
    raise KeyboardInterrupt


def plainly(world: FakeWorld, *lines: str | Callable[[], None], new: bool = False, **changes: Any) -> ExitCode:
    face = PlainFace(
        ADA,
        new=new,
        player=world.player,
        store=world.store,
        as_json=bool(changes.pop("as_json", False)),
        waits=bool(changes.pop("waits", False)),
        sleep=world.clock.sleep,
    )
    with Sitting(world.store, world.clock, world.player, block_plan(**changes)) as sitting:
        return run_lines(sitting, iter(Lines(*lines)), face)


def by_events(
    world: FakeWorld, capsys: pytest.CaptureFixture[str], *lines: str | Callable[[], None], **changes: Any
) -> tuple[ExitCode, list[dict[str, Any]]]:
    with Sitting(world.store, world.clock, world.player, block_plan(**changes)) as sitting:
        code = run_lines(sitting, iter(Lines(*lines)), EventsFace(ADA, player=world.player, store=world.store))
    return code, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_a_block_by_words(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    assert plainly(world, "flat", "U", "  sharp ", "f", "♯", trials=5) == ExitCode.DONE
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "Welcome back, Ada. A drill: each answer is explained."
    assert sum(line.startswith(("Right.", "Not this time")) for line in said) == 5
    assert "Pair 5 of 5: the harmonic, then the fretted note." in said
    assert any(line.startswith("The block is over: ") for line in said)
    assert all(line.endswith((".", "?")) for line in said)
    kept = world.store.block("block-1")
    assert [trial.answer for trial in kept.trials] == ["flat", "unison", "sharp", "flat", "sharp"]
    assert kept.result is not None


def test_a_new_listener_is_advised_how_loud_is_safe(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    plainly(world, "quit", new=True)
    said = capsys.readouterr().out
    assert said.startswith("Welcome, Ada.")
    assert "80 dB(A) for at most 40 hours a week" in said
    plainly(FakeWorld(), "quit")
    assert "80 dB(A)" not in capsys.readouterr().out


def test_the_result_as_json_comes_last(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    plainly(world, *["flat"] * 6, trials=6, as_json=True)
    record = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert record["trials"] == 6
    assert record["verdict"] == "few"
    assert record["low_cents"] < record["threshold_cents"] < record["high_cents"]


def test_by_events_too_the_quiet_tone_is_of_the_instrument_at_hand(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    by_events(world, capsys, "softer", "quit", instrument="archtop-guitar", string=4, scale_mm=628.65)
    assert "open-string-6" in [sound.name for sound in world.player.sounds]


def test_acts_between_the_answers(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    assert plainly(world, "again", "harmonic", "fretted", "", "help", "softer", "tone", "flat", "quit") == ExitCode.DONE
    said = capsys.readouterr().out.splitlines()
    assert "Pair 1 of 40 again: the harmonic, then the fretted note." in said
    assert "The harmonic alone." in said
    assert "The fretted note alone." in said
    assert "A quiet tone at -14 dB." in said
    assert [sound.name for sound in world.player.sounds][:4] == [
        "pair-0001",
        "pair-0001",
        "pair-0001-harmonic",
        "pair-0001-fretted",
    ]
    assert world.store.block("block-1").trials[0].replays == 3
    assert world.store.setting(LEVEL_KEY) == "-14"


def test_the_level_never_exceeds_what_was_rendered(world: FakeWorld) -> None:
    plainly(world, *["louder"] * 40, "quit")
    assert world.player.level_db == 0.0
    softest = FakeWorld()
    plainly(softest, *["softer"] * 40, "quit")
    assert softest.player.level_db == -42.0


def test_an_unknown_word_is_named_and_the_same_pair_comes_again(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plainly(world, "bb", "\x1b[2Jsharp", "quit") == ExitCode.DONE
    out = capsys.readouterr().out
    told = "'bb' is no word of the drill now. Say flat, unison, sharp, again, harmonic, fretted, directions, "
    assert f"{told}tone, softer, louder, help or quit.\n" in out
    assert "\x1b" not in out
    assert [sound.name for sound in world.player.sounds] == ["pair-0001"] * 3
    assert world.store.block("block-1").trials == ()


def test_the_words_named_are_those_taken_just_then(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def unplug() -> None:
        world.player.fails_at_play = True

    _, events = by_events(world, capsys, "hm", "flat", "help", unplug, "sharp", "hm", trials=9)
    named = [event["words"] for event in events if event["event"] in {"error", "help"} and "words" in event]
    answers, hear, level = ["flat", "unison", "sharp"], ["again", "harmonic", "fretted"], ["tone", "softer", "louder"]
    assert named == [
        [*answers, *hear, "directions", *level, "help", "quit"],
        [*answers, *hear, "last", *level, "help", "quit"],
        ["again", "last", *level, "help", "quit"],
    ]
    assert events[0]["words"] == named[0]
    (error, *_) = (event for event in events if event["event"] == "error")
    assert all(word in error["message"] for word in named[0])


def test_every_word_named_is_taken(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["again", "harmonic", "fretted", "last", "tone", "softer", "louder", "help", "quit"]
    by_events(world, capsys, "flat", *words)
    _, events = by_events(FakeWorld(), capsys, "directions", "flat", *words)
    assert "error" not in {event["event"] for event in events}
    assert [event["event"] for event in events] == [
        *("block", "pair", "pair", "answer", "pair", "pair", "tone", "tone", "last", "level", "level", "level", "help"),
        "result",
    ]


def test_the_pair_judged_last_is_heard_once_more_and_counts_as_no_replay(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    plainly(world, "flat", "last", "last  harmonic", "LAST fretted", "sharp", "quit")
    said = capsys.readouterr().out
    for line in ("the harmonic, then the fretted note", "the harmonic alone", "the fretted note alone"):
        assert f"Pair 1 once more: {line}.\nAnd pair 2? Answer flat, unison or sharp.\n" in said
    names = [sound.name for sound in world.player.sounds]
    assert names[2:5] == ["pair-0001", "pair-0001-harmonic", "pair-0001-fretted"]
    assert [trial.replays for trial in world.store.block("block-1").trials] == [0, 0]


def test_an_assessment_tells_nothing_by_a_judged_pair_either(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    _, events = by_events(world, capsys, "flat", "last", assess=True)
    assert "last" not in {event["event"] for event in events}
    assert "last" not in events[0]["words"]


def test_files_are_written_as_rendered_whatever_is_said(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    _, events = by_events(world, capsys, "softer", "quit", player="file:somewhere")
    assert [event["event"] for event in events] == ["block", "pair", "error", "pair", "result"]
    assert world.store.setting(LEVEL_KEY) is None


def test_the_input_may_end_at_any_time(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    assert plainly(world, *["flat"] * 6) == ExitCode.DONE
    assert "The block is over: " in capsys.readouterr().out
    kept = world.store.block("block-1")
    assert len(kept.trials) == 6
    assert kept.result is not None
    assert kept.result.threshold_cents is not None


@pytest.mark.parametrize(
    ("answers", "words"),
    [(0, "before the first answer of the block"), (1, "with 1 answer of the"), (3, "with 3 answers of the block kept")],
)
def test_ctrl_c_ends_the_block_with_its_result(
    world: FakeWorld, capsys: pytest.CaptureFixture[str], answers: int, words: str
) -> None:
    assert plainly(world, *["flat"] * answers, interrupt) == ExitCode.INTERRUPTED
    out, err = capsys.readouterr()
    assert err.startswith(f"centwise: stopped by ctrl+c {words}")
    assert err.endswith(": type centwise drill for the next block.\n")
    assert err.count("\n") == 1
    assert "The block is over: " in out
    kept = world.store.block("block-1")
    assert len(kept.trials) == answers
    assert kept.result is not None


@pytest.mark.parametrize(
    ("answers", "changes", "told"),
    [
        (0, {}, "before the first answer of the block: type centwise drill for the next block."),
        (2, {}, "with 2 answers of the block kept: type centwise drill --resume to go on."),
        (2, {"take_sha256": "0" * 64}, "with 2 answers of the block kept: begin another with centwise drill --take."),
    ],
)
def test_a_signal_names_a_way_on_that_there_is(
    world: FakeWorld, answers: int, changes: dict[str, Any], told: str
) -> None:
    def terminate() -> None:
        raise EndedBySignal(signal.SIGTERM)

    with pytest.raises(StoppedError) as stopped:
        plainly(world, *["flat"] * answers, terminate, **changes)
    assert str(stopped.value) == f"told to end by SIGTERM {told}"
    assert stopped.value.exit_code == 128 + signal.SIGTERM
    assert world.store.block("block-1").result is None
    # Only where it says so is there a block to go on with.
    resumable = block_left(world.store, "listener-1") is not None
    assert resumable is ("--resume" in told)


def test_an_assessment_says_only_that_the_answer_is_kept(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    plainly(world, "flat", "unison", assess=True)
    said = capsys.readouterr().out
    assert "Noted: flat." in said
    assert "Noted: unison." in said
    # The same short pause after each, and none where nobody waits.
    assert world.clock.passed_s == pytest.approx(2 * NOTED_S)
    for player in ("file:somewhere", "silent:hurry"):
        other = FakeWorld()
        plainly(other, "flat", "unison", assess=True, player=player)
        assert other.clock.passed_s == 0.0
    for leak in ("Right", "Not this time", "would go", "leave it"):
        assert leak not in said


def test_a_device_that_fails_is_told_and_tried_again(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def unplug() -> None:
        world.player.fails_at_play = True

    def plug() -> None:
        world.player.fails_at_play = False

    assert plainly(world, "flat", unplug, "sharp", "again", "unison", plug, "again", "flat", "quit") == ExitCode.DONE
    said = capsys.readouterr().out
    # After the second answer no device takes the third pair; the next two lines find it still gone.
    assert said.count("No loudspeaker takes the sound: plug one in. Nothing is lost: say again") == 3
    kept = world.store.block("block-1").trials
    assert [(trial.n, trial.answer, trial.replays) for trial in kept] == [
        (1, "flat", 0),
        (2, "sharp", 0),
        (3, "flat", 0),
    ]


def test_an_answer_to_a_pair_nobody_heard_is_not_taken(world: FakeWorld) -> None:
    world.player.fails_at_play = True
    assert plainly(world, "flat", "sharp") == ExitCode.DEVICE
    kept = world.store.block("block-1")
    assert kept.trials == ()
    assert kept.result is not None


def test_a_device_that_fails_while_it_plays(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    world.player.fails_at_wait = True

    def plug() -> None:
        world.player.fails_at_wait = False

    assert plainly(world, plug, "again", "flat", "quit") == ExitCode.DONE
    assert "The loudspeaker went away" in capsys.readouterr().out
    assert world.player.sounds[0].samples is world.player.sounds[1].samples
    assert world.store.block("block-1").trials[0].replays == 0


def test_a_store_that_fails_stops_the_block_untold(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    def fill_the_disk() -> None:
        world.store.broken.add("add_trial")

    with pytest.raises(StoreError, match="cannot add_trial"):
        plainly(world, "flat", fill_the_disk, "sharp")
    said = capsys.readouterr().out
    assert sum(line.startswith(("Right.", "Not this time")) for line in said.splitlines()) == 1
    assert len(world.store.block("block-1").trials) == 1


def test_an_answer_the_store_refuses_is_kept_when_asked_once_more(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    def fill_the_disk() -> None:
        world.store.broken.add("add_trial")

    lines = (fill_the_disk, "sharp", "flat", "again", "keep", world.store.broken.clear, "keep", "unison")
    code, events = by_events(world, capsys, *lines, trials=2)
    assert code == ExitCode.DONE
    assert [event["event"] for event in events] == [
        "block", "pair", "error", "error", "error", "error", "answer", "pair", "answer", "result",
    ]  # fmt: skip
    for refused in (events[2], events[5]):
        assert (refused["retry"], refused["words"]) == ("keep", ["keep", "quit"])
    # No other answer was taken meanwhile, and nothing of the pair was told.
    assert all("is no word of the drill now: say keep or quit" in event["message"] for event in events[3:5])
    assert [trial.answer for trial in world.store.block("block-1").trials] == ["sharp", "unison"]


def test_a_result_the_store_refuses_is_kept_when_asked_once_more(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    world.store.broken.add("end_block")
    code = plainly(world, "flat", "sharp", world.store.broken.clear, "keep", trials=2)
    said = capsys.readouterr().out
    assert code == ExitCode.DONE
    assert "Every answer is kept; only the result is not written down yet. Say keep to try once more" in said
    assert "The block is over: " in said
    kept = world.store.block("block-1")
    assert (len(kept.trials), kept.result is not None) == (2, True)


def test_quitting_while_the_store_refuses_leaves_the_block_open(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(StoreError, match="cannot add_trial"):
        plainly(world, "flat", lambda: world.store.broken.add("add_trial"), "sharp", "quit")
    assert "Your last answer is not kept yet; every one before it is." in capsys.readouterr().out
    kept = world.store.block("block-1")
    assert ([trial.answer for trial in kept.trials], kept.result) == (["flat"], None)


def test_a_block_gone_on_with_in_another_window_ends_here_with_a_sentence(world: FakeWorld) -> None:
    def elsewhere() -> None:
        world.store.add_trial("block-1", Trial(2, 40.0, "harmonic", "sharp", START))

    with pytest.raises(ElsewhereError):
        plainly(world, "flat", elsewhere, "unison")
    assert [trial.answer for trial in world.store.block("block-1").trials] == ["flat", "sharp"]


def test_a_pair_with_a_hole_in_it_is_sounded_once_more_by_itself(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    def whole() -> None:
        world.player.holes = 0.0

    world.player.holes = 0.187
    assert plainly(world, whole, "again", "flat", "quit", trials=3) == ExitCode.DONE
    said = capsys.readouterr().out.splitlines()
    hole = "Pair 1 had a hole of 0.19 s in it, because this computer was busy: "
    assert [line for line in said if line.startswith("Pair 1 ")] == [
        "Pair 1 of 3: the harmonic, then the fretted note.",
        f"{hole}here it is once more.",
        "Pair 1 of 3: the harmonic, then the fretted note.",
        f"{hole}here it is once more.",
        "Pair 1 of 3: the harmonic, then the fretted note.",
        f"{hole}close other programs, then say again.",
        "Pair 1 of 3 again: the harmonic, then the fretted note.",
    ]
    # Only what the listener asked for is a replay.
    assert [trial.replays for trial in world.store.block("block-1").trials] == [1]


def test_an_answer_to_a_pair_with_a_hole_in_it_is_not_taken(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    def starve() -> None:
        world.player.playbacks[-1].holes = 0.4

    lines = (starve, "flat", starve, "sharp", starve, "unison", starve, "flat")
    code, events = by_events(world, capsys, *lines, trials=2)
    assert code == ExitCode.DONE
    told = [(event["event"], event.get("n"), event.get("again")) for event in events[1:-1]]
    assert told == [
        ("pair", 1, None),
        ("hole", 1, True),
        ("pair", 1, None),
        ("hole", 1, True),
        ("pair", 1, None),
        ("hole", 1, False),
        ("answer", 1, None),
        ("pair", 2, None),
        ("hole", 2, True),
        ("pair", 2, None),
    ]
    assert (events[2]["lost_s"], events[2]["message"][:21]) == (0.4, "Pair 1 had a hole of ")
    assert [trial.answer for trial in world.store.block("block-1").trials] == ["unison"]


def test_events_are_one_object_a_line(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    code, events = by_events(world, capsys, "flat", "wat", "again", "fretted", "sharp", trials=2)
    assert code == ExitCode.DONE
    assert [event["event"] for event in events] == [
        "block",
        "pair",
        "answer",
        "pair",
        "error",
        "pair",
        "pair",
        "tone",
        "answer",
        "result",
    ]
    block, pair, answer = events[:3]
    assert (block["trials"], block["seed"], block["listener"], block["rate"]) == (2, 11, "Ada", 48000)
    assert (pair["n"], pair["string"], pair["first"]) == (1, 4, "harmonic")
    assert set(pair["sounds"]["harmonic"]) == {"start_s", "end_s", "frequency_hz"}
    assert set(pair["sounds"]["fretted"]) == {"start_s", "end_s"}
    assert answer["truth"] in {"flat", "unison", "sharp"}
    assert answer["correct"] == (answer["truth"] == "flat")
    assert (answer["cents"] < 0) == (answer["truth"] == "flat")
    assert {event["n"] for event in events[3:9] if "n" in event} == {2}
    assert "'wat' is no word" in events[4]["message"]
    assert events[-1]["trials"] == 2


def test_an_assessments_answer_events_hold_only_number_and_answer(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    _, events = by_events(world, capsys, "flat", "sharp", "unison", assess=True)
    answers = [event for event in events if event["event"] == "answer"]
    assert answers == [
        {"event": "answer", "n": n, "answer": word} for n, word in enumerate(("flat", "sharp", "unison"), start=1)
    ]


def test_trouble_as_an_event(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    world.player.fails_at_play = True

    def plug() -> None:
        world.player.fails_at_play = False

    code, events = by_events(world, capsys, plug, "again", "flat")
    assert code == ExitCode.DONE
    assert [event["event"] for event in events] == ["block", "error", "pair", "answer", "pair", "result"]
    assert events[1]["retry"] == "again"
    assert "replay" not in events[2]


def test_a_name_is_harmless_in_both_ways_of_saying_it(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    wicked = "A\x1b[31m\x9b2J\u202eb\r\nc"
    assert harmless(wicked) == "A\ufffd[31m\ufffd2J\ufffdb\ufffd\ufffdc"
    face = PlainFace(
        Listener("listener-1", wicked),
        new=True,
        player=world.player,
        store=world.store,
        as_json=False,
        waits=False,
        sleep=world.clock.sleep,
    )
    with Sitting(world.store, world.clock, world.player, block_plan()) as sitting:
        run_lines(sitting, iter(()), face)
    said = capsys.readouterr().out
    assert not set(said) & {"\x1b", "\x9b", "\u202e", "\r"}
    assert said.startswith("Welcome, A\ufffd[31m")
    second = FakeWorld()
    second.store = MemoryStore()
    with Sitting(second.store, second.clock, second.player, block_plan()) as sitting:
        run_lines(
            sitting, iter(()), EventsFace(Listener("listener-1", wicked), player=second.player, store=second.store)
        )
    line = capsys.readouterr().out.splitlines()[0]
    assert line.isascii()
    assert line.isprintable()
    assert json.loads(line)["listener"] == wicked


WRONG_WAY: dict[Judgement, Judgement] = {"flat": "sharp", "sharp": "flat", "unison": "unison"}


def warm_up_answers(*, swapped: bool, **changes: Any) -> list[Judgement]:
    """The answers to three warm-up pairs, all right or all the wrong way round."""
    drill = machine.begin(block_plan(**changes))
    answers: list[Judgement] = []
    for _ in range(3):
        assert drill.pair is not None
        truth = judgement_of(drill.pair.offset_cents)
        answers.append(WRONG_WAY[truth] if swapped else truth)
        drill, _ = machine.step(drill, Answered(answers[-1], START))
    return answers


def test_swapped_directions_are_told_kindly_and_may_be_practised(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = warm_up_answers(swapped=True, warm_up=3, trials=5)
    plainly(world, *answers, "directions", "quit", warm_up=3, trials=5)
    said = capsys.readouterr().out
    assert "Pair 1 of 8: the harmonic, then the fretted note. This one does not count yet." in said
    assert said.index("Flat and sharp seem to have changed places") < said.index("Say directions for 4 more large ones")
    assert "Pair 4 of 12: the harmonic, then the fretted note. This one does not count yet." in said


def test_swapped_directions_as_events(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    answers = warm_up_answers(swapped=True, warm_up=3, trials=5)
    _, events = by_events(world, capsys, *answers, "directions", "quit", warm_up=3, trials=5)
    assert [event["event"] for event in events[-4:]] == ["swapped", "pair", "pair", "result"]
    assert events[-3]["n"] == events[-2]["n"] == 4
    assert "scored" not in events[-3]
    assert events[-2]["scored"] is False


def test_nothing_is_said_of_directions_to_those_who_have_them_right(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = warm_up_answers(swapped=False, warm_up=3, trials=5)
    _, events = by_events(world, capsys, *answers, warm_up=3, trials=5)
    assert "swapped" not in {event["event"] for event in events}


def test_directions_cannot_be_practised_once_a_pair_counted(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    _, events = by_events(world, capsys, "flat", "directions", trials=5)
    assert [event["event"] for event in events[2:5]] == ["answer", "pair", "error"]
    assert "directions" in events[4]["message"]


def test_a_rest_is_proposed_in_a_long_assessment_and_waits_at_a_terminal(
    world: FakeWorld, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plainly(world, *["flat"] * 50, "", "flat", "quit", assess=True, trials=60, waits=True) == ExitCode.DONE
    said = capsys.readouterr().out
    assert "50 pairs are done and 10 are left. Rest your ears for a minute." in said
    assert said.index("Press enter to go on, or say quit.") < said.index("Pair 51 of 60")
    world = FakeWorld()
    assert plainly(world, *["flat"] * 50, "Quit", assess=True, trials=60, waits=True) == ExitCode.DONE
    said = capsys.readouterr().out
    assert "Pair 51" not in said
    assert said.count("The block is over: ") == 1
    result = world.store.block("block-1").result
    assert result is not None
    assert result.trials == 50


def test_a_rest_as_an_event_waits_for_nothing(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    _, events = by_events(world, capsys, *["flat"] * 51, assess=True, trials=60)
    rest = next(event for event in events if event["event"] == "rest")
    assert (rest["done"], rest["left"]) == (50, 10)
    assert events[events.index(rest) + 1]["event"] == "pair"


def test_the_help_says_who_warms_up_only_by_asking(centwise: CommandLine) -> None:
    assert centwise("drill", "--help") == 0
    said = " ".join(centwise.out.split())
    assert "Over a pipe and with --events a newcomer gets them only by asking for them here." in said
    for ask, pairs in (((), 0), (("--warm-up", "3"), 3)):
        arguments = ("drill", "--events", "--player", "silent:hurry", "--trials", "5", "--listener", f"Ada {pairs}")
        assert centwise(*arguments, *ask) == 0
        assert json.loads(centwise.out.splitlines()[0])["warm_up"] == pairs


def test_a_level_the_store_does_not_take_ends_no_block(world: FakeWorld, capsys: pytest.CaptureFixture[str]) -> None:
    world.store.broken.add("set_setting")
    assert plainly(world, "louder", "flat", "flat", trials=2) == ExitCode.DONE
    assert "cannot set_setting: mend the test. Nothing is lost: say again" in capsys.readouterr().out
    world = FakeWorld()
    world.store.broken.add("set_setting")
    code, events = by_events(world, capsys, "softer", "flat", "flat", trials=2)
    assert code == ExitCode.DONE
    assert [event["event"] for event in events if event["event"] != "pair"] == [
        *("block", "error", "answer", "answer", "result")
    ]
