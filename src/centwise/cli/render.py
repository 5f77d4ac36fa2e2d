"""`centwise render`: tones and pairs as sound files, and where the tones lie in them.

Imports click, bootstrap and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from centwise.cli.options import PATH, instrument_options, json_option, own_instruments, seed_option
from centwise.cli.output import emit, say
from centwise.errors import UsageError
from centwise.model import MAX_OFFSET_CENTS, Condition, PairSpec
from centwise.strings.names import DEFAULT_NAME
from centwise.units import number_text

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.model import Sound, ToneSpan


@click.command(name="render")
@click.argument("file", type=PATH)
@click.option(
    "--kind",
    type=click.Choice(["pair", "harmonic", "fretted", "open"]),
    default="pair",
    show_default=True,
    help="What to write: both tones, or one of them.",
)
@instrument_options
@click.option("--cents", type=float, default=0.0, show_default=True, help="The fretted note over the harmonic.")
@click.option(
    "--first",
    type=click.Choice(["harmonic", "fretted"]),
    default="harmonic",
    show_default=True,
    help="Which tone of a pair comes first.",
)
@click.option(
    "--rate", type=int, default=48000, show_default=True, metavar="HZ", help="Frames per second, 22050 to 192000."
)
@click.option(
    "--likeness", type=float, default=0.0, show_default=True, help="0 as on the instrument, 1 both tones in one voice."
)
@click.option("--unmuted", is_flag=True, help="Let the other strings ring along.")
@seed_option
@json_option
def command(
    file: Path,
    kind: str,
    instrument: str,
    string: int | None,
    cents: float,
    first: str,
    rate: int,
    likeness: float,
    unmuted: bool,
    seed: int | None,
    as_json: bool,
) -> None:
    """Write a tone or a pair to FILE (.wav, .flac or .ogg).

    The fretted note lies the asked cents above (+) or below (-) the harmonic of the same string.
    """
    if not abs(cents) <= MAX_OFFSET_CENTS:
        raise UsageError(f"{number_text(cents)} cents is outside -100 to 100", "give --cents within a semitone")
    from centwise.audio.samples import check_ceiling  # noqa: PLC0415  start-up path
    from centwise.audio.sound_file import write_sound  # noqa: PLC0415
    from centwise.bootstrap import new_seed  # noqa: PLC0415
    from centwise.draws import Draws, Purpose  # noqa: PLC0415
    from centwise.tones.pair import render_pair  # noqa: PLC0415
    from centwise.tones.single import render_single  # noqa: PLC0415

    chosen = own_instruments().named(instrument)
    number = chosen.bass_string if string is None else string
    drawn = new_seed() if seed is None else seed
    rng = Draws(drawn).stream(Purpose.TONES, 1)
    chosen.string(number)
    spans: dict[str, ToneSpan]
    sound: Sound
    if kind == "pair":
        condition = Condition(instrument=instrument, string=number, muted=not unmuted, likeness=likeness)
        spec = PairSpec(
            n=1, condition=condition, offset_cents=cents, first="harmonic" if first == "harmonic" else "fretted"
        )
        pair = render_pair(spec, chosen, rate_hz=rate, rng=rng)
        sound, peak_dbfs = pair.sound, pair.peak_dbfs
        spans = {"harmonic": pair.harmonic, "fretted": pair.fretted}
    else:
        tone_kind: Any = kind
        single = render_single(
            tone_kind, chosen, number, offset_cents=cents, rate_hz=rate, rng=rng, likeness=likeness, muted=not unmuted
        )
        sound, peak_dbfs = single.sound, single.peak_dbfs
        spans = {kind: single.span}
    check_ceiling(sound.samples)
    write_sound(file, sound.samples, sound.rate_hz)
    if as_json:
        emit(
            {
                "file": str(file),
                "kind": kind,
                "instrument": instrument,
                "string": number,
                **({"first": first} if kind == "pair" else {}),
                "sounds": {name: span_record(span, with_pitch=True) for name, span in spans.items()},
                "asked_cents": cents,
                "rate": rate,
                "seed": drawn,
                "peak_dbfs": round(peak_dbfs, 3),
            }
        )
        return
    whose = "" if instrument == DEFAULT_NAME else f" of the {chosen.title}"
    what = "the pair" if kind == "pair" else f"the {kind} tone"
    say(
        f"Wrote {what} of string {number}{whose} to {file}: "
        f"{sound.duration_s:.2f} s, peak {peak_dbfs:.1f} dBFS, seed {drawn}."
    )


def span_record(span: ToneSpan, *, with_pitch: bool) -> dict[str, float]:
    """Return a tone's place in its file, with its pitch unless that would tell the answer."""
    place = {"start_s": round(span.start_s, 6), "end_s": round(span.end_s, 6)}
    return {**place, "frequency_hz": round(span.frequency_hz, 6)} if with_pitch else place
