"""What was measured, and whether a note will do, in whole sentences: for the terminal, the app and a screen reader.

Loads no numpy by itself. Imports drill and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.model import GOOD_ENOUGH_CENTS, SURE_ERRORS
from centwise.units import MM_PER_INCH, counted

if TYPE_CHECKING:
    from centwise.model import Direction, Tone
    from centwise.pitch.quality import NoteQuality
    from centwise.pitch.records import Measurement
    from centwise.strings.instrument import StringSpec

SMALL_MOVE_MM = MM_PER_INCH / 16
"""A bridge is moved 1/16 in at a time (common practice, no source)."""

_FLAWS = {
    "silent": "Nothing was heard. Pluck after the count; if you did, see that the microphone is on and the right one",
    "too-quiet": "Too quiet. Come nearer to the microphone, or raise its level",
    "clipped": "Too loud: its top is cut off. Turn the microphone's level down, or move away a little",
    "noisy": "Too much noise, or no clear note. Make the room quieter, or come nearer",
    "too-short": "Too short. Let it ring for two seconds",
    "several": "More than one note. Pluck once, and let it ring",
    "beats": "Other strings ring along. Mute them with a cloth",
    "gaps": "Some of its sound was lost on the way. Close other programs that keep this computer busy",
    "glides": "Its pitch glides. Pluck more softly, and press without bending",
}


def is_monitor(device: str) -> bool:
    """Return whether a microphone is a sound server's monitor of its own output, by the name it gives that."""
    return device.casefold().startswith("monitor of ")


def asking_text(tone: Tone, spec: StringSpec) -> str:
    """Say what is to be played."""
    fret = spec.octave_fret
    if tone == "harmonic":
        return f"touch string {spec.number} lightly over fret {fret} and pluck"
    return f"press string {spec.number} at fret {fret} as you play, and pluck at the same place"


def quality_text(quality: NoteQuality, tone: Tone, spec: StringSpec) -> str:
    """Say whether a note will do, and if not, what to do: kindly, and without a full stop at its end."""
    if quality.flaw is None:
        return f"Good, at {quality.peak_dbfs:.0f} dB"
    if quality.flaw in _FLAWS:
        return _FLAWS[quality.flaw]
    heard = "" if quality.pitch_hz is None else f" at {quality.pitch_hz:.0f} Hz"
    place = "touched over" if tone == "harmonic" else "pressed at"
    return (
        f"Another note{heard}, not string {spec.number} {place} fret {spec.octave_fret} ({spec.octave_hz:.0f} Hz). "
        "Find the place again, and mute the other strings"
    )


def travel(found: Measurement, spec: StringSpec) -> tuple[float, float, Direction]:
    """Return the bridge's travel and its standard error in millimetres, and which way it goes."""
    from centwise.model import direction_of  # noqa: PLC0415  start-up path
    from centwise.strings.geometry import bridge_offset_mm  # noqa: PLC0415

    near, far = (
        abs(bridge_offset_mm(found.cents + side * found.std_error_cents, spec.length_mm)) for side in (-1.0, 1.0)
    )
    stands_mm = bridge_offset_mm(found.cents, spec.length_mm)
    error_mm = max(abs(near - abs(stands_mm)), abs(far - abs(stands_mm)))
    return abs(stands_mm), error_mm, direction_of(found.verdict)


def measured_sentences(found: Measurement, spec: StringSpec, scale_mm: float, *, told: bool) -> list[str]:
    """Say what was found and what the bridge wants."""
    from centwise.drill.advice import scale_text  # noqa: PLC0415  start-up path

    harmonics = sum(row.tone == "harmonic" for row in found.plucks)
    counts = f"{counted(harmonics, 'harmonic')} and {counted(len(found.plucks) - harmonics, 'fretted note')}"
    turns = ", taken by turns with the harmonic first," if found.paired else ""
    known = "" if told else ", known by its pitch"
    said = [
        (
            f"String {spec.number} ({spec.note}){known}, scale {scale_text(scale_mm)}: {counts}{turns} measured by "
            f"{counted(len(found.partials), 'partial')} each."
        ),
        f"Harmonic {found.harmonic_hz:.3f} Hz, fretted note {found.fretted_hz:.3f} Hz.",
    ]
    amount = amount_text(found)
    sure = sure_enough(found)
    if not sure:
        said.append(
            f"Read as {amount}: too uncertain to tell flat from sharp by, or to move the bridge. Mute the other "
            "strings, pluck softly and alike, and record again."
        )
    elif found.verdict == "unison":
        said.append(f"The fretted note is in unison with the harmonic ({amount}).")
    else:
        said.append(f"The fretted note is {found.verdict}: {amount}.")
    if sure:
        said += _bridge_sentences(found, spec)
    if len(found.plucks) == 2:
        said.append("One pluck of each does not tell how much your hand scatters: record three of each to know.")
    elif found.pluck_scatter_cents > 0.0:
        said.append(f"Plucks scatter by {found.pluck_scatter_cents:.2f} cents; the error counts that in.")
    said.append("Each ± is one standard error; 1.645 times as much holds the true value nine times in ten.")
    return said


def amount_text(found: Measurement) -> str:
    """Write what was read with its standard error, to as many places as that bears: `-8.02 ± 0.04 cents`."""
    error = found.std_error_cents
    return f"{plain(found.cents, _places(error)):+.{_places(error)}f} ± {_figure(error)} cents"


def sure_enough(found: Measurement) -> bool:
    """Return whether a bridge may be moved by a reading: 1.645 of its error stay within what is good enough."""
    return SURE_ERRORS * found.std_error_cents <= GOOD_ENOUGH_CENTS


def good_enough(found: Measurement) -> bool:
    """Return whether a string may be left as it reads: by the figure that is told, a thousandth of a cent."""
    return abs(round(found.cents, 3)) <= GOOD_ENOUGH_CENTS


def _bridge_sentences(found: Measurement, spec: StringSpec) -> list[str]:
    from centwise.units import inches_64ths_text, nearest_64ths  # noqa: PLC0415  start-up path

    travel_mm, error_mm, direction = travel(found, spec)
    if direction == "leave":
        return ["The bridge stands right for this string: leave it."]
    sixty_fourths = nearest_64ths(travel_mm)
    nearest = inches_64ths_text(sixty_fourths) if sixty_fourths else "less than 1/64 in"
    error_64ths = error_mm / MM_PER_INCH * 64.0
    error_text = f"{error_mm:.2f}" if error_mm >= 0.005 else "less than 0.01"
    error_64ths_text = f"{error_64ths:.1f}" if error_64ths >= 0.05 else "less than 0.1"
    length = (
        f"{direction} {travel_mm:.2f} ± {error_text} mm "
        f"({nearest}: {travel_mm / MM_PER_INCH * 64.0:.1f} ± {error_64ths_text} sixty-fourths)"
    )
    good_mm = GOOD_ENOUGH_CENTS * travel_mm / abs(found.cents)
    good = f"within {GOOD_ENOUGH_CENTS:g} cents ({good_mm:.1f} mm)"
    reaches = abs(abs(found.cents) - GOOD_ENOUGH_CENTS) < SURE_ERRORS * found.std_error_cents
    if good_enough(found):
        said = [
            f"That is {good}: good enough to leave{', as far as this measurement can tell' if reaches else ''}.",
            f"Exact would be {length}.",
        ]
    else:
        small = " in small moves, 1/16 in at most at a time" if travel_mm > SMALL_MOVE_MM else " in one small move"
        said = [
            (
                f"That is not {good}{', though the error reaches there' if reaches else ''}: "
                f"move the bridge {length},{small}."
            ),
            "Ease the strings if a foot grips, never slacken all at once, keep the bridge upright and your face away.",
            "Moving it changes the tuning: retune, then measure again before you move it further.",
        ]
    if spec.start_fret:
        said.append(f"A bridge is not set by string {spec.number}: its own nut is often high.")
    return said


def detail_sentences(found: Measurement) -> list[str]:
    """Say every pluck and every partial, one a line."""
    said = [
        f"Pluck {place}, {row.tone} at {row.start_s:.2f} s: {row.frequency_hz:.3f} Hz, {plain(row.cents, 3):+.3f} ± "
        f"{_figure(row.std_error_cents)} cents beside the harmonics."
        for place, row in enumerate(found.plucks, 1)
    ]
    said += [
        f"Partial {row.number}: {row.harmonic_hz:.2f} and {row.fretted_hz:.2f} Hz, {plain(row.cents, 3):+.3f} ± "
        f"{_figure(row.std_error_cents)} cents, weight {100.0 * row.weight:.0f} %."
        for row in found.partials
    ]
    said.append(f"Noise alone would allow ± {_figure(found.bound_cents)} cents.")
    if found.partial_scatter_cents > 0.0:
        said.append(f"Partials scatter by {found.partial_scatter_cents:.2f} cents; the error counts that in.")
    return said


def plain(value: float, places: int) -> float:
    """Return a figure rounded, and nothing as a plain 0 without a sign."""
    return round(value, places) + 0.0


def _places(error: float) -> int:
    return 1 if error >= 0.5 else 2 if error >= 0.01 else 3


def _figure(error: float) -> str:
    return f"{error:.{_places(error)}f}" if error >= 0.0005 else "less than 0.001"
