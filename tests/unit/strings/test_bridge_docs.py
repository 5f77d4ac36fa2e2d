"""What the two pages on instruments and on setting a bridge state in figures is what the program computes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from banjo import FIVE_STRING, alternation_factor
from centwise.strings.bridge import contact_mm, feet_through, foot_shares
from centwise.strings.fretted import fretted_cents_over_harmonic, null_contact_mm, pressing_cents
from centwise.strings.geometry import bridge_offset_mm, cents_at_bridge
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES
from centwise.strings.reading import read_instrument
from centwise.units import nearest_64ths

DOCS = Path(__file__).parents[3] / "docs"
SETTING = (DOCS / "setting-a-bridge.md").read_text(encoding="utf-8")
INSTRUMENTS = (DOCS / "instruments.md").read_text(encoding="utf-8")


def rows(text: str, pattern: str) -> list[tuple[str, ...]]:
    found = [match.groups() for match in re.finditer(pattern, text, re.MULTILINE)]
    assert found
    return found


def test_the_table_of_cents_and_millimetres() -> None:
    table = rows(SETTING, r"^\| (\d+) cents? (flat|sharp) \| ([\d.]+) mm too far (back|forward) \| (\d+) \|$")
    assert len(table) == 8
    for cents, lean, mm, way, sixty_fourths in table:
        offset_mm = bridge_offset_mm(float(cents) * (-1.0 if lean == "flat" else 1.0), 26.25 * 25.4)
        assert (way == "back") == (offset_mm > 0.0)
        assert f"{abs(offset_mm):.2f}" == mm
        assert abs(nearest_64ths(offset_mm)) == int(sixty_fourths)


def test_the_table_of_scale_lengths() -> None:
    table = rows(SETTING, r"^\| ([\d.]+) in \| .* \| ([\d.]+) mm \| ([\d.]+) c \|$")
    scales = {round(BUILT_IN.named(name).scale_mm / 25.4, 3) for name in BUILT_IN_NAMES}
    assert {float(scale) for scale, _, _ in table} == scales
    for scale, mm, cents in table:
        scale_mm = float(scale) * 25.4
        assert float(mm) == pytest.approx(abs(bridge_offset_mm(1.0, scale_mm)), abs=0.006)
        assert f"{cents_at_bridge(-25.4 / 16.0, scale_mm):.2f}" == cents


def test_the_table_of_stretch_and_stiffness() -> None:
    table = rows(SETTING, r"^\| (\d)(?:, at fret 17)? \| ([\d.]+) c \| ([\d.]+) mm \|$")
    assert [int(number) for number, _, _ in table] == [1, 2, 3, 4, 5]
    for number, cents, mm in table:
        assert f"{pressing_cents(FIVE_STRING, int(number)):.1f}" == cents
        assert f"{null_contact_mm(FIVE_STRING, int(number)):.1f}" == mm


def test_the_sentences() -> None:
    assert foot_shares(FIVE_STRING, 4) == pytest.approx((0.65, 0.35))
    assert foot_shares(FIVE_STRING, 1) == pytest.approx((0.20, 0.80))
    assert "by 0.65 and the treble foot by 0.35, the 1st by 0.20 and 0.80" in SETTING
    assert f"leaves {alternation_factor(FIVE_STRING):.3f} of the error" in SETTING
    feet = feet_through(FIVE_STRING, {number: null_contact_mm(FIVE_STRING, number) for number in (4, 1)})
    left = {
        number: fretted_cents_over_harmonic(FIVE_STRING, number, contact_mm(FIVE_STRING, number, feet))
        for number in (3, 2)
    }
    assert "the 3rd about 7 cents sharp and the 2nd about 2" in " ".join(SETTING.split())
    assert {number: round(cents) for number, cents in left.items()} == {3: 7, 2: 2}
    assert 1.0 <= feet.bass_mm - feet.treble_mm <= 2.0
    assert sum(string.tension_n for string in FIVE_STRING.strings) == pytest.approx(280.0, abs=5.0)


def test_the_table_of_instruments() -> None:
    table = rows(INSTRUMENTS, r"^\| `([a-z0-9-]+)`[^|]*\| ([^|]+) \| ([\d.]+) in \| (\d) and (\d) \|$")
    assert [name for name, *_ in table] == list(BUILT_IN_NAMES)
    for name, strings, scale_in, bass, treble in table:
        instrument = BUILT_IN.named(name)
        notes = strings.split(",")[0].replace("♯", "#").split()
        assert [note.upper() for note in notes] == [string.note[:-1].upper() for string in reversed(instrument.strings)]
        assert [note.islower() for note in notes] == [string.start_fret > 0 for string in reversed(instrument.strings)]
        assert float(scale_in) == pytest.approx(instrument.scale_mm / 25.4)
        assert (int(bass), int(treble)) == (instrument.bass_string, instrument.treble_string)


def test_the_example_is_an_instrument() -> None:
    (text,) = re.findall(r"```toml\n(.*?)```", INSTRUMENTS, re.DOTALL)
    instrument = read_instrument(text, "octave-mandolin", "octave-mandolin.toml")
    assert [string.note for string in instrument.strings] == ["E4", "A3", "D3", "G2"]
    assert {string.course for string in instrument.strings} == {2}
    assert all(string.tension_n > 40.0 for string in instrument.strings)
