"""`centwise measure`: the cents between harmonic and fretted note in a recording, and what the bridge wants.

Imports click, takes and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from centwise.cli.options import PATH, instrument_at, instrument_options, json_option, scale_option
from centwise.cli.output import emit, say
from centwise.cli.waiting import waiting
from centwise.errors import UsageError
from centwise.takes.telling import detail_sentences, good_enough, measured_sentences, plain, sure_enough, travel
from centwise.units import nearest_64ths

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.pitch.records import Measurement
    from centwise.strings.instrument import Instrument, StringSpec
    from centwise.takes.folder import TakeSet


@click.command(name="measure")
@click.argument("file", type=PATH, required=False)
@click.option("--harmonic", type=PATH, metavar="FILE", help="A recording of harmonics only.")
@click.option("--fretted", type=PATH, metavar="FILE", help="A recording of fretted notes only.")
@instrument_options
@scale_option
@click.option("--details", is_flag=True, help="Tell every pluck and every partial, too.")
@click.option(
    "--picture",
    type=PATH,
    metavar="FILE",
    help="Draw the partials of both notes in cents over time (.png, .svg or .pdf).",
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
    """Measure the fretted note against the harmonic in FILE (.wav, .flac or .ogg), or in a folder of recorded takes.

    Pluck the harmonic over the octave fret, let it ring for a second, then the note fretted there; repeat as often as
    you like, three times is good. Mute the other strings. Without --string the string is known by its pitch.
    """
    if (file is None) == (harmonic is None and fretted is None) or (harmonic is None) != (fretted is None):
        raise UsageError(
            "measure needs one FILE, or both --harmonic and --fretted", "give it, such as centwise measure take.wav"
        )
    from centwise.takes.folder import is_take_folder, read_takes  # noqa: PLC0415  start-up path

    takes = read_takes(file) if file is not None and is_take_folder(file) else None
    if takes is not None:
        # What the folder says holds until the command line says otherwise.
        source = click.get_current_context().get_parameter_source("instrument")
        instrument = takes.instrument if source is ParameterSource.DEFAULT else instrument
        string = takes.string if string is None else string
        scale = takes.scale_mm if scale is None else scale
    chosen = instrument_at(instrument, scale)
    if string is not None:
        chosen.string(string)
    if picture is not None:
        from centwise.cli.picture import check_picture, draw_picture  # noqa: PLC0415  start-up path

        check_picture(picture)
    with waiting("the recording is being measured"):
        found = _measured(file, harmonic, fretted, chosen, string, takes)
        spec = chosen.string(found.string)
        if picture is not None:
            draw_picture(found, picture)
    if as_json:
        emit({"instrument": instrument} | record(found, spec, chosen.scale_mm))
        return
    for sentence in measured_sentences(found, spec, chosen.scale_mm, told=string is not None):
        say(sentence)
    if details:
        for sentence in detail_sentences(found):
            say(sentence)


def record(found: Measurement, spec: StringSpec, scale_mm: float) -> dict[str, Any]:
    """Return a measurement as plain data, rounded to what it can bear."""
    travel_mm, error_mm, direction = travel(found, spec)
    # What is too uncertain to say to a person is not said to a program either.
    sure = sure_enough(found)
    return {
        "cents": plain(found.cents, 6),
        "std_error_cents": round(found.std_error_cents, 6),
        "bound_cents": round(found.bound_cents, 6),
        "verdict": found.verdict if sure else None,
        "good_enough": good_enough(found) if sure else None,
        "sure_enough": sure,
        "travel_mm": round(travel_mm, 6) if sure else None,
        "travel_std_error_mm": round(error_mm, 6),
        "travel_64ths_in": nearest_64ths(travel_mm) if sure else None,
        "direction": direction if sure else None,
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
                "cents": plain(row.cents, 6),
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
                "cents": plain(row.cents, 6),
                "std_error_cents": round(row.std_error_cents, 6),
                "weight": round(row.weight, 6),
            }
            for row in found.partials
        ],
    }


def _measured(
    file: Path | None,
    harmonic: Path | None,
    fretted: Path | None,
    instrument: Instrument,
    string: int | None,
    takes: TakeSet | None,
) -> Measurement:
    from centwise.pitch.measure import measure_apart, measure_pairs, measure_take  # noqa: PLC0415  start-up path
    from centwise.takes.opening import recorded_pairs, recording_of  # noqa: PLC0415

    if file is not None and takes is not None:
        return measure_pairs(recorded_pairs(file, takes), instrument, string)
    if file is not None:
        return measure_take(recording_of(file), instrument, string)
    if harmonic is None or fretted is None:
        raise AssertionError  # the command has looked
    return measure_apart(recording_of(harmonic), recording_of(fretted), instrument, string)
