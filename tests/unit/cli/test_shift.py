"""Cents to bridge travel and back, against worked figures."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from conftest import CommandLine

SIXTEENTH_MM, EIGHTH_MM = 25.4 / 16, 25.4 / 8


def shifted(centwise: CommandLine, *arguments: str) -> dict[str, Any]:
    assert centwise("shift", "--json", *arguments) == 0
    assert centwise.err == ""
    (line,) = centwise.out.splitlines()
    record = json.loads(line)
    assert isinstance(record, dict)
    return record


@pytest.mark.parametrize(
    ("mm", "cents", "direction"),
    [
        # Exact law -1200 log2((S+2d)/(S+d)) at S = 666.75 mm: a bridge too far back frets flat.
        (SIXTEENTH_MM, -4.1073, "forward"),
        (-SIXTEENTH_MM, 4.1368, "back"),
        (EIGHTH_MM, -8.1855, "forward"),
        (-EIGHTH_MM, 8.3033, "back"),
        (25.4 / 32, -2.06, "forward"),
        (25.4 / 64, -1.03, "forward"),
    ],
)
def test_a_misplaced_bridge_and_its_cents(centwise: CommandLine, mm: float, cents: float, direction: str) -> None:
    found = shifted(centwise, f"--mm={mm}", "--scale", "26.25in", "--string", "4")
    assert found["cents"] == pytest.approx(cents, abs=0.01 if abs(cents) < 3 else 5e-5)
    assert found["direction"] == direction
    assert found["travel_mm"] == pytest.approx(abs(mm), abs=1e-6)
    assert found["travel_64ths_in"] == round(abs(mm) / 25.4 * 64)
    back = shifted(centwise, f"--cents={found['cents']}", "--scale", "26.25in")
    assert back["travel_mm"] == pytest.approx(abs(mm), abs=1e-6)
    assert back["bridge_stands_mm"] == pytest.approx(mm, abs=1e-6)
    assert back["direction"] == direction


@pytest.mark.parametrize(
    ("scale", "mm_per_cent"),
    [
        ("22.5in", 0.33011),
        ("24in", 0.3521),
        ("25.5in", 0.3741),
        ("26.25in", 0.38513),
        ("26.5in", 0.3888),
        ("27in", 0.39613),
    ],
)
def test_millimetres_in_a_small_cent(centwise: CommandLine, scale: str, mm_per_cent: float) -> None:
    # First order: S / (1200 / ln 2).
    found = shifted(centwise, "--cents=-0.01", "--scale", scale)
    assert found["travel_mm"] / 0.01 == pytest.approx(mm_per_cent, abs=6e-5)


def test_the_fifth_string_by_its_own_length(centwise: CommandLine) -> None:
    found = shifted(centwise, "--mm", "0.01", "--string", "5")
    assert found["string_length_mm"] == pytest.approx(499.50, abs=0.005)
    assert found["cents"] / 0.01 == pytest.approx(-3.466, abs=1e-3)


@pytest.mark.parametrize(
    "scale", ["26.25in", "26 1/4in", "26-1/4 in", "105/4in", "666.75mm", "66.675cm", '26.25"', "26.25 inches"]
)
def test_one_length_in_many_spellings(centwise: CommandLine, scale: str) -> None:
    assert shifted(centwise, "--cents", "-4", "--scale", scale) == shifted(centwise, "--cents", "-4")


def test_every_key_of_the_json(centwise: CommandLine) -> None:
    found = shifted(centwise, "--cents", "-4")
    assert list(found) == [
        "cents",
        "travel_mm",
        "direction",
        "travel_64ths_in",
        "bridge_stands_mm",
        "instrument",
        "string",
        "scale_mm",
        "string_length_mm",
        "good_enough",
    ]
    assert (found["string"], found["scale_mm"], found["good_enough"]) == (4, 666.75, False)
    assert found["travel_mm"] == pytest.approx(1.5459, abs=5e-5)


@pytest.mark.parametrize(
    ("arguments", "sentences"),
    [
        (
            ("--cents", "-4"),
            [
                "String 4, scale 26.25 in (666.75 mm): the fretted note is 4.00 cents flat.",
                "Move the bridge forward 1.5 mm (1/16 in), then retune.",
            ],
        ),
        (
            ("--cents", "8", "--string", "1", "--scale", "27in"),
            [
                "String 1, scale 27 in (685.80 mm): the fretted note is 8.00 cents sharp.",
                "Move the bridge back 3.1 mm (1/8 in), then retune.",
            ],
        ),
        (
            # By its outer full-length strings: common practice, no source.
            ("--cents", "5", "--string", "5"),
            [
                "String 5, scale 26.25 in (666.75 mm): the fretted note is 5.00 cents sharp.",
                "Move the bridge back 1.4 mm (1/16 in), then retune.",
                "Set the bridge by strings 4 and 1, one for each side; the others take what that leaves.",
            ],
        ),
        (
            ("--cents", "1"),
            [
                "String 4, scale 26.25 in (666.75 mm): the fretted note is 1.00 cents sharp.",
                "Within 2 cents: leave the bridge. To the last cent it would go back 0.4 mm (1/64 in).",
            ],
        ),
        (
            ("--cents", "0"),
            [
                "String 4, scale 26.25 in (666.75 mm): the fretted note is in unison.",
                "The bridge stands right: leave it.",
            ],
        ),
    ],
)
def test_it_is_said_in_sentences(centwise: CommandLine, arguments: tuple[str, ...], sentences: list[str]) -> None:
    assert centwise("shift", *arguments) == 0
    assert centwise.out.splitlines() == sentences
    assert centwise.err == ""


@pytest.mark.parametrize("cents", ["0", "-0.0", "0.0"])
def test_nothing_is_a_plain_nought(centwise: CommandLine, cents: str) -> None:
    found = shifted(centwise, f"--cents={cents}")
    assert (found["direction"], found["travel_mm"], found["good_enough"]) == ("leave", 0.0, True)
    assert math.copysign(1.0, found["cents"]) == 1.0
    assert math.copysign(1.0, found["travel_mm"]) == 1.0
    assert math.copysign(1.0, found["bridge_stands_mm"]) == 1.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "either --cents or --mm"),
        (("--cents", "1", "--mm", "1"), "either --cents or --mm"),
        (("--cents", "100.5"), "100.5 cents is outside -100 to 100"),
        (("--cents=-101",), "-101 cents is outside"),
        (("--cents=-100.0001",), "-100.0001 cents is outside"),
        (("--cents", "100.00000000001"), "100.00000000001 cents is outside"),
        (("--mm", "50.0000001"), "50.0000001 mm is outside"),
        (("--cents", "nan"), "nan cents is outside"),
        (("--cents", "inf"), "inf cents is outside"),
        (("--cents=-inf",), "-inf cents is outside"),
        (("--cents", "four"), "'four' is not a valid float"),
        (("--mm", "51"), "51 mm is outside"),
        (("--mm", "nan"), "nan mm is outside"),
        (("--cents", "1", "--string", "6"), "no string 6"),
        (("--cents", "1", "--string", "0"), "no string 0"),
        (
            (
                "--cents",
                "1",
                "--string=-1",
            ),
            "no string -1",
        ),
        (("--cents", "1", "--instrument", "lute"), "no instrument named 'lute'"),
        (("--cents", "1", "--scale", "26.25"), "'26.25' is not a length"),
        (("--cents", "1", "--scale", "3ft"), "'3ft' is not a length"),
        (("--cents", "1", "--scale", "1/0in"), "'1/0in' is not a length"),
        (("--cents", "1", "--scale", "10mm"), "10 mm is outside 200 to 1500"),
        (("--cents", "1", "--scale", "0mm"), "not a length above zero"),
        (("--cents", "1", "extra"), "unexpected extra argument"),
    ],
)
def test_what_cannot_be_shifted_is_refused(centwise: CommandLine, arguments: tuple[str, ...], words: str) -> None:
    centwise.refuses("shift", *arguments, code=2, words=words)
