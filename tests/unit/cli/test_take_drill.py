"""`centwise drill --take`: the ear against the meter, and the instrument's own notes drilled, line by line."""

from __future__ import annotations

import hashlib
import json
import shutil
import time
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile
from test_measure import LIES

from centwise.model import Condition
from centwise.store.sqlite import SqliteStore
from centwise.takes.folder import MANIFEST, TakeFolder, TakeSet
from microphones import RATE_HZ, noise, pluck

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.ports import StoredBlock
    from conftest import CommandLine

from datetime import UTC, datetime

from banjo import FIVE_STRING
from centwise.pitch.intake import Intake
from centwise.pitch.quality import judge_note

OWN_CENTS = (5.0, -3.0, 0.02)
"""Made from sines by the test: sharp, flat, and not to be told from unison."""


@pytest.fixture(scope="session")
def takes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of three takes, as `record` leaves it."""
    at = datetime(2026, 3, 1, tzinfo=UTC)
    folder = TakeFolder.create(
        tmp_path_factory.mktemp("own") / "takes",
        TakeSet("five-string", 1, 650.0, "a microphone of the tests", RATE_HZ, RATE_HZ, at),
    )
    for take, cents in enumerate(OWN_CENTS, 1):
        for tone, sound in (("harmonic", pluck(0.0)), ("fretted", pluck(cents))):
            heard = sound + noise(len(sound) / RATE_HZ, seed=take)
            note = folder.add(heard, take, tone, at)  # type: ignore[arg-type]
            intake = Intake(RATE_HZ, 1, note.file)
            intake.add(heard)
            folder.judge(note, judge_note(intake.finish(), tone, FIVE_STRING, 1))  # type: ignore[arg-type]
    assert len(folder.takes.pairs()) == 3
    return folder.path


def blocks(tmp_path: Path) -> tuple[StoredBlock, ...]:
    store = SqliteStore.open(tmp_path / "data")
    try:
        return tuple(store.blocks(store.listeners()[0].id))
    finally:
        store.close()


def drill(centwise: CommandLine, take: Path, *arguments: str, lines: str = "") -> int:
    return centwise("drill", "--take", str(take), "--player", "silent:hurry", "--seed", "5", *arguments, lines=lines)


def test_the_ear_is_asked_before_the_meter_is_told(centwise: CommandLine, takes: Path, tmp_path: Path) -> None:
    assert drill(centwise, takes, "--plain", lines="sharp\nunison\nunison\n") == 0, centwise.err
    said = centwise.out.splitlines()
    assert said[1] == "Your own recording of string 1: 3 pairs as played, scale 25.59 in (650.00 mm). Seed 5."
    told = [line for line in said if line.startswith("The meter reads")]
    assert told[0].startswith("The meter reads sharp by 5.00 ± ")
    assert "Ear and meter agree. The bridge would go back 1.9 mm" in told[0]
    assert told[1].startswith("The meter reads flat by 3.00 ± ")
    assert "You said unison. The bridge would go forward" in told[1]
    assert told[2].startswith("The meter reads unison within 0.1 cents. Ear and meter agree.")
    # Nothing about the first pair before its answer.
    before = said[: said.index(told[0])]
    assert not any("cents" in line or "flat by" in line or "sharp by" in line for line in before)
    assert "Ear and meter agree on 2 of 3 pairs." in said
    assert "But these pairs made no sound, so that says nothing about your ear." in said
    assert any("standard error of" in line and "90 % sure" in line for line in said)
    (block,) = blocks(tmp_path)
    plan = block.plan
    assert plan.condition == Condition("five-string", 1, True, 0.0, "harmonic-first", "recorded")
    assert plan.given_cents == pytest.approx((5.0, -3.0, 0.0), abs=0.01)
    assert plan.given_cents[2] == 0.0
    assert plan.scale_mm == 650.0
    assert [trial.correct for trial in block.trials] == [True, False, True]
    assert block.result is not None
    assert block.result.threshold_cents is None


def test_an_assessment_tells_all_readings_at_its_end(centwise: CommandLine, takes: Path) -> None:
    assert drill(centwise, takes, "--plain", "--assess", "--order", "fretted-first", lines="flat\nflat\nflat\n") == 0
    said = centwise.out.splitlines()
    end = said.index("Ear and meter agree on 1 of 3 pairs.")
    assert not any("meter reads" in line for line in said[:end])
    end += 1  # the silent player's pairs say nothing
    assert said[end + 1].startswith("Pair 1: you said flat, the meter reads sharp by 5.00")
    assert said[end + 2].startswith("Pair 2: you said flat, the meter reads flat by 3.00")
    assert said[end + 3].startswith("Pair 3: you said flat, the meter reads unison within 0.1 cents")
    assert "One difference is within 2 cents of unison" in said[end + 4]


def test_more_pairs_than_there_are_begin_again(centwise: CommandLine, takes: Path, tmp_path: Path) -> None:
    assert drill(centwise, takes, "--json", "--trials", "5", lines="sharp\nflat\nquit\n") == 0
    record = json.loads(centwise.out)
    assert record["voice"] == "recorded"
    assert [(pair["answer"], pair["meter"], pair["agrees"]) for pair in record["pairs"]] == [
        ("sharp", "sharp", True),
        ("flat", "flat", True),
    ]
    (block,) = blocks(tmp_path)
    assert len(block.plan.given_cents) == 5
    assert block.plan.given_cents[3] == block.plan.given_cents[0]


def events(centwise: CommandLine) -> list[dict[str, Any]]:
    return [json.loads(line) for line in centwise.out.splitlines()]


def test_shifted_notes_are_drilled_in_a_condition_of_their_own(
    centwise: CommandLine, takes: Path, tmp_path: Path
) -> None:
    out = tmp_path / "pairs"
    arguments = ("--shifted", "--events", "--trials", "12", "--player", f"file:{out}", "--seed", "5")
    answers = "".join(f"{word}\n" for word in ["flat", "sharp", "unison"] * 4)
    assert centwise("drill", "--take", str(takes), *arguments, lines=answers) == 0, centwise.err
    told = events(centwise)
    assert (told[0]["voice"], told[0]["string"]) == ("shifted", 1)
    truths = {event["n"]: event for event in told if event["event"] == "answer"}
    pairs = [event for event in told if event["event"] == "pair"]
    assert len(pairs) == len(truths) == 12
    for pair in pairs:
        assert "frequency_hz" not in pair["sounds"]["fretted"]
        samples, rate_hz = soundfile.read(pair["file"])
        cents = [
            strongest_hz(samples, rate_hz, pair["sounds"][tone]["start_s"] + 0.05, 587.33)
            for tone in ("harmonic", "fretted")
        ]
        # An independent reading of the file: the phase of the first partial over a second.
        assert 1200.0 * np.log2(cents[1] / cents[0]) == pytest.approx(truths[pair["n"]]["cents"], abs=0.02)
    result = told[-1]
    assert (result["voice"], result["event"]) == ("shifted", "result")
    assert 0.0 < result["take_error_cents"] < 0.1
    assert "pairs" not in result
    (block,) = blocks(tmp_path)
    assert (block.plan.condition.voice, block.plan.given_cents) == ("shifted", ())
    assert len({trial.offset_cents for trial in block.trials}) > 6


def strongest_hz(samples: np.ndarray, rate_hz: int, start_s: float, near_hz: float) -> float:
    """Return the frequency near one: heterodyned, averaged over 50 ms, its phase fitted by a line."""
    part = samples[round(start_s * rate_hz) :][:rate_hz]
    moved = part * np.exp(-2j * np.pi * near_hz * np.arange(len(part)) / rate_hz)
    kernel = np.hanning(rate_hz // 12)
    slow = np.convolve(moved, kernel / kernel.sum(), mode="valid")[::48]
    slope = np.polyfit(np.arange(len(slow)) * 48 / rate_hz, np.unwrap(np.angle(slow)), 1, w=np.abs(slow))[0]
    return near_hz + float(slope) / (2 * np.pi)


def test_what_the_takes_own_error_means_is_told_with_the_result(centwise: CommandLine, takes: Path) -> None:
    answers = "".join(f"{word}\n" for word in ["flat", "sharp"] * 12)
    assert drill(centwise, takes, "--shifted", "--plain", "--trials", "24", lines=answers) == 0
    assert "24 pairs on string 1, made of your own recorded notes, scale 25.59 in (650.00 mm). Seed 5." in centwise.out
    assert "Your recorded notes are known to ± " in centwise.out
    assert "it may move the lean of a unison by as much, and the threshold by less than 0.01 cents." in centwise.out


def test_histories_do_not_mix(centwise: CommandLine, takes: Path, tmp_path: Path) -> None:
    answers = "".join(f"{word}\n" for word in ["flat", "sharp"] * 12)
    assert centwise("drill", "--plain", "--string", "1", "--trials", "24", "--player", "file:" + str(tmp_path / "a"),
                    lines=answers) == 0  # fmt: skip
    assert centwise("drill", "--plain", "--take", str(takes), "--shifted", "--trials", "24",
                    "--player", "file:" + str(tmp_path / "b"), lines=answers) == 0  # fmt: skip
    rendered, shifted = blocks(tmp_path)
    assert rendered.plan.condition.voice == "rendered"
    assert shifted.plan.condition.voice == "shifted"
    # Nothing earlier in its own condition: it begins as a stranger's block does.
    assert rendered.result is not None
    assert rendered.result.threshold_cents is not None
    assert shifted.plan.prior_threshold_cents is None


def test_one_file_of_alternating_notes(centwise: CommandLine, tmp_path: Path) -> None:
    whole = np.concatenate([pluck(0.0, seconds=2.0), pluck(-6.0, seconds=2.0)])
    soundfile.write(tmp_path / "take.flac", whole + noise(len(whole) / RATE_HZ), RATE_HZ, subtype="PCM_24")
    assert drill(centwise, tmp_path / "take.flac", "--plain", "--scale", "26in", lines="flat\n") == 0
    assert "Your own recording of string 1: 1 pair as played, scale 26 in (660.40 mm)." in centwise.out
    assert "The meter reads flat by 6.00 ± " in centwise.out
    assert "Ear and meter agree on the pair." in centwise.out


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("--shifted",), 2, "there is no take to shift the notes of: name one with --take"),
        (("--take", "TAKES", "--unmuted"), 2, "a take sounds as it was recorded: leave out --unmuted"),
        (("--take", "TAKES", "--likeness", "1"), 2, "a take sounds as it was recorded"),
        (("--take", "TAKES", "--lesson", "first-week"), 2, "a lesson says itself what --take says"),
        (("--take", "TAKES", "--string", "3"), 3, "the octave of string 1, not of string 3"),
        (("--take", "TAKES/none.wav"), 3, "none.wav"),
        (("--take", "."), 3, "is a folder: give a WAV, FLAC or OGG file"),
    ],
)
def test_what_cannot_be_asked(
    centwise: CommandLine, takes: Path, arguments: tuple[str, ...], code: int, words: str
) -> None:
    told = [argument.replace("TAKES", str(takes)) for argument in arguments]
    centwise.refuses("drill", "--plain", "--player", "silent:hurry", *told, code=code, words=words)


def test_a_take_that_was_changed_is_refused(centwise: CommandLine, takes: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(takes, copy)
    name = json.loads((copy / MANIFEST).read_text())["notes"][0]["file"]
    (copy / name).write_bytes((copy / name).read_bytes() + b"\0")
    centwise.refuses(
        "drill", "--plain", "--player", "silent:hurry", "--take", str(copy), code=3, words="is not what was recorded"
    )


@pytest.mark.parametrize("lie", LIES)
def test_a_take_that_lies_is_told_in_a_sentence_at_once_and_begins_nothing(
    centwise: CommandLine, tmp_path: Path, lie: str
) -> None:
    make, words = LIES[lie]
    path = tmp_path / "take.wav"
    make(path)
    centwise("measure", "missing.wav")  # numpy is loaded before the watch is started
    start = time.perf_counter()
    centwise.refuses("drill", "--plain", "--player", "silent:hurry", "--take", str(path), code=3, words=words)
    assert time.perf_counter() - start < 1.0
    store = SqliteStore.open(tmp_path / "data")
    assert not store.listeners()
    store.close()


@pytest.mark.parametrize("lie", ["4 GB header", "NaN", "64 channels", "silence", "half a FLAC"])
def test_a_folder_whose_manifest_vouches_for_a_lie(
    centwise: CommandLine, takes: Path, tmp_path: Path, lie: str
) -> None:
    make, words = LIES[lie]
    copy = tmp_path / "copy"
    shutil.copytree(takes, copy)
    manifest = json.loads((copy / MANIFEST).read_text())
    path = copy / manifest["notes"][0]["file"]
    make(path)
    manifest["notes"][0]["sha256"] = hashlib.sha256(path.read_bytes()).hexdigest()
    (copy / MANIFEST).write_text(json.dumps(manifest))
    for command in (("measure", str(copy)), ("drill", "--plain", "--player", "silent:hurry", "--take", str(copy))):
        centwise.refuses(*command, code=3, words=words)


def test_pairs_that_the_meter_reads_too_unsurely_hold_no_ear(centwise: CommandLine, tmp_path: Path) -> None:
    # The fretted note begins 3 cents sharp and settles within a second: its reading is some cents uncertain.
    fretted = pluck(0.0)
    after_s = np.maximum(np.arange(len(fretted)) / RATE_HZ - 0.5, 0.0)
    places = np.concatenate(([0.0], np.cumsum(2.0 ** (3.0 * np.exp(-after_s[:-1] / 0.6) / 1200.0))))
    turned = np.interp(np.minimum(places, len(fretted) - 1.0), np.arange(len(fretted)), fretted)
    path = tmp_path / "gliding.wav"
    whole = np.concatenate((noise(0.5), pluck(0.0), noise(0.5, seed=2), turned, noise(0.3, seed=3)))
    soundfile.write(path, whole, RATE_HZ, subtype="PCM_24")
    assert centwise("measure", str(path), "--json") == 0, centwise.err
    meter = json.loads(centwise.out)
    assert not meter["sure_enough"]
    assert drill(centwise, path, "--plain", lines="unison\n") == 3
    doubt = f"{1.645 * meter['std_error_cents']:.1f}"
    assert f"the meter reads a pair of gliding.wav within {doubt} cents only" in centwise.err
    # The very notes, shifted, can be drilled: what is unsure is told as the error of all their offsets.
    assert drill(centwise, path, "--shifted", "--events", lines="quit\n") == 0, centwise.err
