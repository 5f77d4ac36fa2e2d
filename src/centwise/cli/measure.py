"""`centwise measure`: the cents between harmonic and fretted note in a recording, and what the bridge wants."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from centwise.cli.options import instrument_options, json_option, scale_option
from centwise.cli.output import emit, say
from centwise.errors import UsageError
from centwise.model import DEFAULT_SCALE_MM, GOOD_ENOUGH_CENTS

if TYPE_CHECKING:
    from centwise.model import Direction
    from centwise.pitch.intake import Recording
    from centwise.pitch.records import Measurement
    from centwise.strings.instrument import Instrument, StringSpec

SURE = 1.645
"""Standard errors on either side that hold the value nine times in ten."""
ONE_MOVE_MM = 25.4 / 16
"""A bridge is moved 1/16 in at a time (common practice, no source)."""


@click.command(name="measure")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--harmonic", type=click.Path(path_type=Path), metavar="FILE", help="A recording of harmonics only.")
@click.option("--fretted", type=click.Path(path_type=Path), metavar="FILE", help="A recording of fretted notes only.")
@instrument_options
@scale_option
@click.option("--details", is_flag=True, help="Tell every pluck and every partial, too.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw the partials of both notes in cents over time (.png, .svg or .pdf; needs matplotlib).",
)
@json_option
def command(
    file: Path | None,
    harmonic: Path | None,
    fretted: Path | None,
    instrument: str,
    string: int | None,
    scale: float | None,
    details: bool,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Measure the fretted note against the harmonic in FILE (.wav, .flac or .ogg).

    Pluck the harmonic over the octave fret, let it ring for a second, then the note fretted there; repeat as often as
    you like, three times is good. Mute the other strings. Without --string the string is known by its pitch.
    """
    if (file is None) == (harmonic is None and fretted is None) or (harmonic is None) != (fretted is None):
        raise UsageError(
            "measure needs one FILE, or both --harmonic and --fretted", "give it, such as centwise measure take.wav"
        )
    from centwise.strings.geometry import check_scale_mm  # noqa: PLC0415  start-up path
    from centwise.strings.instrument import instrument_named  # noqa: PLC0415

    scale_mm = check_scale_mm(DEFAULT_SCALE_MM if scale is None else scale)
    chosen = instrument_named(instrument).with_scale(scale_mm)
    if string is not None:
        chosen.string(string)
    if picture is not None:
        from centwise.cli.picture import check_picture, draw_picture  # noqa: PLC0415  an extra, rarely asked for

        check_picture(picture)
    found = _measured(file, harmonic, fretted, chosen, string)
    spec = chosen.string(found.string)
    if picture is not None:
        draw_picture(found, picture)
    if as_json:
        emit(record(found, spec, scale_mm))
        return
    for sentence in sentences(found, spec, scale_mm, told=string is not None):
        say(sentence)
    if details:
        for sentence in detail_sentences(found):
            say(sentence)


def record(found: Measurement, spec: StringSpec, scale_mm: float) -> dict[str, Any]:
    """Return a measurement as plain data, rounded to what it can bear."""
    travel_mm, error_mm, direction = travel(found, spec)
    return {
        "cents": _plain(found.cents, 6),
        "std_error_cents": round(found.std_error_cents, 6),
        "bound_cents": round(found.bound_cents, 6),
        "verdict": found.verdict,
        "good_enough": abs(found.cents) <= GOOD_ENOUGH_CENTS,
        "travel_mm": round(travel_mm, 6),
        "travel_std_error_mm": round(error_mm, 6),
        "travel_64ths_in": round(travel_mm / 25.4 * 64.0),
        "direction": direction,
        "harmonic_hz": round(found.harmonic_hz, 6),
        "fretted_hz": round(found.fretted_hz, 6),
        "string": found.string,
        "scale_mm": round(scale_mm, 4),
        "string_length_mm": round(spec.length_mm, 4),
        "paired": found.paired,
        "partial_scatter_cents": round(found.partial_scatter_cents, 6),
        "pluck_scatter_cents": round(found.pluck_scatter_cents, 6),
        "plucks": [
            {
                "tone": row.tone,
                "file": row.recording,
                "start_s": round(row.start_s, 3),
                "duration_s": round(row.duration_s, 3),
                "frequency_hz": round(row.frequency_hz, 6),
                "cents": _plain(row.cents, 6),
                "std_error_cents": round(row.std_error_cents, 6),
                "partials": row.partials,
            }
            for row in found.plucks
        ],
        "partials": [
            {
                "number": row.number,
                "harmonic_hz": round(row.harmonic_hz, 6),
                "fretted_hz": round(row.fretted_hz, 6),
                "cents": _plain(row.cents, 6),
                "std_error_cents": round(row.std_error_cents, 6),
                "weight": round(row.weight, 6),
            }
            for row in found.partials
        ],
    }


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


def sentences(found: Measurement, spec: StringSpec, scale_mm: float, *, told: bool) -> list[str]:
    """Say what was found and what the bridge wants."""
    from centwise.drill.advice import scale_text  # noqa: PLC0415  start-up path

    harmonics = sum(row.tone == "harmonic" for row in found.plucks)
    counts = f"{_count(harmonics, 'harmonic')} and {_count(len(found.plucks) - harmonics, 'fretted note')}"
    turns = ", taken by turns with the harmonic first," if found.paired else ""
    known = "" if told else ", known by its pitch"
    error, cents = found.std_error_cents, found.cents
    said = [
        (
            f"String {spec.number} ({spec.note}){known}, scale {scale_text(scale_mm)}: {counts}{turns} measured by "
            f"{_count(len(found.partials), 'partial')} each."
        ),
        f"Harmonic {found.harmonic_hz:.3f} Hz, fretted note {found.fretted_hz:.3f} Hz.",
    ]
    amount = f"{_plain(cents, _places(error)):+.{_places(error)}f} ± {_figure(error)} cents"
    if found.verdict == "unison":
        said.append(f"The fretted note is in unison with the harmonic ({amount}).")
    else:
        said.append(f"The fretted note is {found.verdict}: {amount}.")
    said += _bridge_sentences(found, spec)
    if SURE * error > GOOD_ENOUGH_CENTS:
        said.append(
            "The error is too wide to decide by: mute the others, pluck alike, record again before you move anything."
        )
    if len(found.plucks) == 2:
        said.append("One pluck of each does not tell how much your hand scatters: record three of each to know.")
    elif found.pluck_scatter_cents > 0.0:
        said.append(f"Plucks scatter by {found.pluck_scatter_cents:.2f} cents; the error counts that in.")
    return said


def _bridge_sentences(found: Measurement, spec: StringSpec) -> list[str]:
    from centwise.units import inches_64ths_text, nearest_64ths  # noqa: PLC0415  start-up path

    travel_mm, error_mm, direction = travel(found, spec)
    if direction == "leave":
        return ["The bridge stands right for this string: leave it."]
    sixty_fourths = nearest_64ths(travel_mm)
    nearest = inches_64ths_text(sixty_fourths) if sixty_fourths else "less than 1/64 in"
    error_64ths = error_mm / 25.4 * 64.0
    error_text = f"{error_mm:.2f}" if error_mm >= 0.005 else "less than 0.01"
    error_64ths_text = f"{error_64ths:.1f}" if error_64ths >= 0.05 else "less than 0.1"
    length = (
        f"{direction} {travel_mm:.2f} ± {error_text} mm "
        f"({nearest}: {travel_mm / 25.4 * 64.0:.1f} ± {error_64ths_text} sixty-fourths)"
    )
    good_mm = GOOD_ENOUGH_CENTS * travel_mm / abs(found.cents)
    good = f"within {GOOD_ENOUGH_CENTS:g} cents ({good_mm:.1f} mm)"
    reaches = abs(abs(found.cents) - GOOD_ENOUGH_CENTS) < SURE * found.std_error_cents
    if abs(found.cents) <= GOOD_ENOUGH_CENTS:
        said = [
            f"That is {good}: good enough to leave{', as far as this measurement can tell' if reaches else ''}.",
            f"Exact would be {length}.",
        ]
    else:
        small = " in small moves, 1/16 in at most at a time" if travel_mm > ONE_MOVE_MM else " in one small move"
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
        f"Pluck {place}, {row.tone} at {row.start_s:.2f} s: {row.frequency_hz:.3f} Hz, {_plain(row.cents, 3):+.3f} ± "
        f"{_figure(row.std_error_cents)} cents beside the harmonics."
        for place, row in enumerate(found.plucks, 1)
    ]
    said += [
        f"Partial {row.number}: {row.harmonic_hz:.2f} and {row.fretted_hz:.2f} Hz, {_plain(row.cents, 3):+.3f} ± "
        f"{_figure(row.std_error_cents)} cents, weight {100.0 * row.weight:.0f} %."
        for row in found.partials
    ]
    said.append(f"Noise alone would allow ± {_figure(found.bound_cents)} cents.")
    if found.partial_scatter_cents > 0.0:
        said.append(f"Partials scatter by {found.partial_scatter_cents:.2f} cents; the error counts that in.")
    return said


def _measured(
    file: Path | None, harmonic: Path | None, fretted: Path | None, instrument: Instrument, string: int | None
) -> Measurement:
    from centwise.pitch.measure import measure_apart, measure_take  # noqa: PLC0415  start-up path

    if file is not None:
        return measure_take(_recording(file), instrument, string)
    if harmonic is None or fretted is None:
        raise AssertionError  # the command has looked
    return measure_apart(_recording(harmonic), _recording(fretted), instrument, string)


def _recording(path: Path) -> Recording:
    from centwise.audio.sound_file import open_sound  # noqa: PLC0415  start-up path
    from centwise.pitch.intake import Intake  # noqa: PLC0415

    with open_sound(path) as sound:
        intake = Intake(sound.rate_hz, sound.channels, str(path), sound.frames)
        for block in sound.blocks:
            intake.add(block)
    return intake.finish()


def _plain(value: float, places: int) -> float:
    """Return a figure rounded, and nothing as a plain 0 without a sign."""
    return round(value, places) + 0.0


def _places(error: float) -> int:
    return 1 if error >= 0.5 else 2 if error >= 0.01 else 3


def _figure(error: float) -> str:
    return f"{error:.{_places(error)}f}" if error >= 0.0005 else "less than 0.001"


def _count(number: int, name: str) -> str:
    return f"{number} {name}{'s' if number != 1 else ''}"
