"""`centwise check`: simulated listeners from the command line."""

from __future__ import annotations

import json

import pytest

from centwise.cli.main import run


def test_the_run_as_json_holds_every_listener(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--listeners", "12", "--trials", "20", "--seed", "4", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert (record["listeners"], record["trials"], record["seed"], record["passed"]) == (12, 20, 4, True)
    for key in ("true_threshold_cents", "estimated_threshold_cents", "low_cents", "high_cents"):
        assert len(record[key]) == 12
    held = sum(
        low <= truth <= high
        for low, truth, high in zip(
            record["low_cents"], record["true_threshold_cents"], record["high_cents"], strict=True
        )
    )
    assert record["coverage"] == pytest.approx(held / 12, abs=1e-4)


def test_the_run_in_sentences_says_what_it_did_not_check(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--listeners", "10", "--trials", "10", "--seed", "4"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "10 simulated listeners judged 10 pairs each; seed 4."
    assert said[-1].startswith("Not checked here: tones, players, device, store.")
    assert all(line.endswith(".") for line in said)


def test_intervals_that_promise_too_much_fail_the_check(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("centwise.ear.trial_run.TrialRun.coverage", property(lambda _: 0.4))
    assert run(["check", "--listeners", "20", "--trials", "10", "--seed", "4"]) == 1
    assert "40 % of them: failed." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--listeners", "0"], "0 listeners cannot be simulated"),
        (["--trials", "2"], "2 pairs are too few"),
        (["--lapses", "0.9"], "a lapse rate of 0.9"),
        (["--caution", "-1"], "a window of -1"),
    ],
)
def test_impossible_listeners_are_refused(arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", *arguments]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert words in captured.err
