"""`centwise shift`: cents to bridge travel and back, by the exact law. Imports click, drill and below."""

from __future__ import annotations

import click

from centwise.cli.options import instrument_at, instrument_options, json_option, scale_option
from centwise.cli.output import emit, say
from centwise.errors import UsageError
from centwise.model import GOOD_ENOUGH_CENTS, MAX_OFFSET_CENTS
from centwise.strings.names import DEFAULT_NAME
from centwise.units import number_text

MOST_TRAVEL_MM = 50.0


@click.command(name="shift")
@click.option("--cents", type=float, metavar="CENTS", help="The fretted note over the harmonic: -4 is 4 cents flat.")
@click.option("--mm", type=float, metavar="MM", help="Where the bridge stands: + too far back, - too far forward.")
@scale_option
@instrument_options
@json_option
def command(
    cents: float | None, mm: float | None, scale: float | None, instrument: str, string: int | None, as_json: bool
) -> None:
    """Turn cents into bridge travel, or travel into cents.

    Fretted flat, the bridge goes forward (toward the neck); fretted sharp, back. Retune after every move. The
    strings are under tension: keep your face away, move in small steps, leave a bridge that grips to a repair shop.
    """
    from centwise.drill.advice import length_text, scale_text  # noqa: PLC0415  start-up path
    from centwise.strings.geometry import bridge_offset_mm, cents_at_bridge, travel_for  # noqa: PLC0415

    if (cents is None) == (mm is None):
        raise UsageError("shift needs either --cents or --mm", "give one of them, such as --cents -4")
    chosen = instrument_at(instrument, scale)
    scale_mm = chosen.scale_mm
    number = chosen.bass_string if string is None else string
    spec = chosen.string(number)
    if cents is not None:
        if not abs(cents) <= MAX_OFFSET_CENTS:
            raise UsageError(f"{number_text(cents)} cents is outside -100 to 100", "give --cents within a semitone")
        stands_mm = bridge_offset_mm(cents, spec.length_mm)
        off_cents = cents + 0.0  # -0.0 is plain 0
    else:
        stands_mm = 0.0 if mm is None else mm
        if not abs(stands_mm) <= MOST_TRAVEL_MM:
            raise UsageError(
                f"{number_text(stands_mm)} mm is outside -50 to 50", "give --mm as far as a bridge can be moved"
            )
        off_cents = cents_at_bridge(stands_mm, spec.length_mm)
    travel = travel_for(off_cents, spec.length_mm)
    if as_json:
        emit(
            {
                "cents": round(off_cents, 6),
                "travel_mm": round(travel.travel_mm, 6),
                "direction": travel.direction,
                "travel_64ths_in": travel.sixty_fourths,
                "bridge_stands_mm": round(stands_mm, 6),
                "instrument": instrument,
                "string": number,
                "scale_mm": round(scale_mm, 4),
                "string_length_mm": round(spec.length_mm, 4),
                "good_enough": abs(off_cents) <= GOOD_ENOUGH_CENTS,
            }
        )
        return
    heard = "in unison" if off_cents == 0 else f"{abs(off_cents):.2f} cents {'sharp' if off_cents > 0 else 'flat'}"
    whose = "" if instrument == DEFAULT_NAME else f" of the {chosen.title}"
    say(f"String {number}{whose}, scale {scale_text(scale_mm)}: the fretted note is {heard}.")
    if travel.direction == "leave":
        say("The bridge stands right: leave it.")
        return
    move = f"{travel.direction} {length_text(travel.travel_mm, travel.sixty_fourths)}"
    if abs(off_cents) <= GOOD_ENOUGH_CENTS:
        say(f"Within {GOOD_ENOUGH_CENTS:g} cents: leave the bridge. To the last cent it would go {move}.")
        return
    say(f"Move the bridge {move}, then retune.")
    if number not in chosen.side_strings:
        say(
            f"Set the bridge by strings {chosen.bass_string} and {chosen.treble_string}, one for each side; "
            "the others take what that leaves."
        )
