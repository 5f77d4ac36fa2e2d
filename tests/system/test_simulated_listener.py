"""A simulated listener at the program itself: answers from the rendered sound, and the number that comes out."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from listener_by_ear import conversation, difference_cents, whole_block

Z_75 = 0.6744897501960817
"""Upper quartile of the normal distribution (any table): the 75 % threshold is 0.6745 sigma."""


def test_the_threshold_of_a_listener_by_ear_is_within_a_factor_1_6(tmp_path: Path) -> None:
    # Forty trials of three answers tell log2 sigma to 0.30 octaves at best (Cramer-Rao, docs/efficiency.md): any
    # estimate misses a factor of 1.6 now and then. The study finds 92 of 100 blocks within it. Of these 24 blocks,
    # eight for each ear and no seed twice, 20 must be (fewer come by chance once in 25), none further off than 2.2.
    def block(seed: int) -> tuple[float, bool]:
        sigma_cents = (4.0, 9.0, 20.0)[(seed - 1) // 8]
        (home := tmp_path / str(seed)).mkdir()
        result, missed = whole_block(home, sigma_cents, seed)
        assert result["trials"] == len(missed) == 40
        # The sound holds what was asked: within the 0.01 c promised of rendered tones.
        assert max(abs(cents) for cents in missed) < 0.01
        assert result["low_cents"] < result["threshold_cents"] < result["high_cents"]
        truth_cents = Z_75 * sigma_cents
        return result["threshold_cents"] / truth_cents, result["low_cents"] <= truth_cents <= result["high_cents"]

    # Each block is a program of its own: as many at once as there are processors.
    with ThreadPoolExecutor(os.cpu_count()) as listeners:
        ratios, inside = zip(*listeners.map(block, range(1, 25)), strict=True)
    assert sum(1 / 1.6 <= ratio <= 1.6 for ratio in ratios) >= 20, ratios
    assert all(1 / 2.2 <= ratio <= 2.2 for ratio in ratios), ratios
    assert sum(inside) >= 18


@pytest.mark.parametrize("order", ["harmonic-first", "fretted-first", "both"])
def test_nothing_before_the_answer_tells_the_offset(tmp_path: Path, order: str) -> None:
    sizes = set()
    with conversation(tmp_path, "--seed", "8", "--trials", "6", "--order", order) as talk:
        block = talk.hear()
        for n in range(1, 7):
            event = talk.hear()
            first = event["first"]
            assert event == {
                "event": "pair",
                "n": n,
                "string": 4,
                "first": first,
                "sounds": {
                    "harmonic": {
                        "start_s": 0.12 if first == "harmonic" else 2.02,
                        "end_s": 1.52 if first == "harmonic" else 3.42,
                        "frequency_hz": pytest.approx(293.68, abs=0.02),
                    },
                    "fretted": {
                        "start_s": 0.12 if first == "fretted" else 2.02,
                        "end_s": 1.52 if first == "fretted" else 3.42,
                    },
                },
                "file": str(tmp_path / "wav" / f"pair-{n:04d}.wav"),
            }
            # Files of the pairs to come would tell them ahead.
            assert len(list((tmp_path / "wav").iterdir())) == n
            sizes.add(Path(event["file"]).stat().st_size)
            measured = difference_cents(event)
            talk.say("flat")
            answer = talk.hear()
            assert answer["cents"] == pytest.approx(measured, abs=0.01)
        assert talk.hear()["event"] == "result"
    assert len(sizes) == 1
    told_ahead = {"listener", "instrument", "string", "muted", "likeness", "order", "rule", "trials", "pairs", "assess"}
    told_ahead |= {"voice", "answered"}
    assert set(block) == told_ahead | {
        "event",
        "version",
        "block",
        "seed",
        "scale_mm",
        "player",
        "rate",
        "words",
        "warm_up",
    }


def test_an_assessment_tells_number_and_answer_alone(tmp_path: Path) -> None:
    result, missed = whole_block(tmp_path, 9.0, 6, "--assess", trials=10)
    assert missed == []
    assert result["trials"] == 10
    assert result["threshold_cents"] is not None
    with conversation(tmp_path, "--assess", "--trials", "3") as talk:
        talk.hear()
        for n, word in enumerate(("flat", "unison", "sharp"), start=1):
            assert talk.hear()["n"] == n
            talk.say(word)
            assert talk.hear() == {"event": "answer", "n": n, "answer": word}


def test_bad_words_bring_an_error_and_the_same_pair(tmp_path: Path) -> None:
    with conversation(tmp_path, "--trials", "2") as talk:
        talk.hear()
        pair = talk.hear()
        content = Path(pair["file"]).read_bytes()
        for word in ("flatt", '{"answer": "flat"}', "1", "♮"):
            Path(pair["file"]).unlink()
            talk.say(word)
            error = talk.hear()
            assert error["event"] == "error"
            assert "no word of the drill now: say flat, unison, sharp, again" in error["message"]
            assert talk.hear() == pair
            assert Path(pair["file"]).read_bytes() == content
        talk.say("flat")
        assert talk.hear()["n"] == 1
        assert talk.hear()["n"] == 2


def test_again_writes_the_same_bytes_and_one_tone_alone_is_cut_from_them(tmp_path: Path) -> None:
    with conversation(tmp_path, "--trials", "2") as talk:
        talk.hear()
        pair = talk.hear()
        content = Path(pair["file"]).read_bytes()
        Path(pair["file"]).unlink()
        talk.say("again")
        assert talk.hear() == pair | {"replay": 1}
        assert Path(pair["file"]).read_bytes() == content
        for number, tone in enumerate(("harmonic", "fretted"), start=2):
            talk.say(tone)
            event = talk.hear()
            assert (event["event"], event["tone"], event["replay"]) == ("tone", tone, number)
            inside = Path(event["file"]).read_bytes()[60_000:64_000]
            assert any(inside)
            assert inside in content
        talk.say("quit")
        assert talk.hear()["event"] == "result"
        assert talk.process.wait(30) == 0
