"""The picture of a measurement: the partials of both notes in cents over time, drawn by matplotlib.

Imports numpy, report and below.
"""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING

from centwise.errors import UsageError
from centwise.model import GOOD_ENOUGH_CENTS
from centwise.systems import check_file_name, written_whole
from centwise.takes.telling import amount_text, sure_enough

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

    from centwise.model import Tone
    from centwise.pitch.partials import PartialFit
    from centwise.pitch.records import Measurement

SUFFIXES = (".png", ".svg", ".pdf")
SMOOTH_FRAMES = 5
STILL_SHOWN_DB = 40.0
"""A partial is drawn until it has lost so much: below, its pitch says little and swings much."""
# Two colours that stay apart in every kind of colour blindness (M. Okabe and K. Ito 2008), and two kinds of line.
STYLES: dict[Tone, tuple[str, str]] = {"harmonic": ("#0072b2", "-"), "fretted": ("#d55e00", "--")}


def check_picture(path: Path) -> None:
    """Refuse a picture that could not be drawn, before anything is measured.

    Raises:
        UsageError: its name has another suffix.
        InputError: no file can have that name.
    """
    check_file_name(path)
    if path.suffix.lower() not in SUFFIXES:
        raise UsageError(f"{path.name!r} does not say a kind of picture", f"end its name in {', '.join(SUFFIXES)}")


def draw_picture(found: Measurement, path: Path) -> None:
    """Draw every partial that counts, of every pluck, in cents over the mean of the same partial in the harmonics.

    Args:
        found: the measurement.
        path: ends in .png, .svg or .pdf; an existing file is replaced.

    Raises:
        InputError: the file cannot be written.
    """
    from centwise.report.svg import new_figure  # noqa: PLC0415  loaded only for pictures

    figure = new_figure(figsize=(9.0, 5.0), layout="constrained")
    axes = figure.add_subplot()
    named: set[Tone] = set()
    for note in found.notes:
        colour, line = STYLES[note.tone]
        for row in found.partials:
            since_s, cents = partial_track(note.partials[row.number], row.harmonic_hz, note.start_s)
            label = note.tone if note.tone not in named else None
            named.add(note.tone)
            strength = 0.25 + 0.75 * math.sqrt(row.weight)
            axes.plot(since_s, cents, line, color=colour, alpha=strength, linewidth=1.2, label=label)
    axes.axhspan(-GOOD_ENOUGH_CENTS, GOOD_ENOUGH_CENTS, color="0.92", zorder=0, label="good enough, ±2 cents")
    error = found.std_error_cents
    axes.axhline(found.cents, color="0.2", linewidth=0.9, label=f"measured, {amount_text(found)}")
    axes.axhspan(found.cents - error, found.cents + error, color="0.7", alpha=0.6, zorder=0.5)
    reach = max(2.0 * GOOD_ENOUGH_CENTS, 1.5 * abs(found.cents), 6.0 * found.partial_scatter_cents)
    axes.set_ylim(-reach, reach)
    axes.set_xlabel("seconds after the pluck")
    axes.set_ylabel("cents over the harmonic's partial (flat below, sharp above)")
    said = f"the fretted note is {found.verdict}" if sure_enough(found) else "too uncertain to tell flat from sharp by"
    axes.set_title(f"String {found.string}: {said}")
    for handle in axes.legend(loc="upper right", fontsize="small").legend_handles:
        if handle is not None:
            handle.set_alpha(1.0)
    buffer = io.BytesIO()
    figure.savefig(buffer, format=path.suffix[1:].lower(), dpi=150)
    with written_whole(path) as part:
        part.write_bytes(buffer.getvalue())


def partial_track(
    fit: PartialFit, reference_hz: float, start_s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a partial's pitch over time: seconds after the pluck, and cents over a frequency, smoothed over 0.1 s."""
    import numpy as np  # noqa: PLC0415  start-up path

    step_s = fit.track_s[1] - fit.track_s[0]
    beside_hz = np.gradient(fit.track_rad, step_s) / (2.0 * np.pi)
    over = np.ones(SMOOTH_FRAMES)
    smooth_hz = np.convolve(beside_hz, over, mode="same") / np.convolve(np.ones(beside_hz.size), over, mode="same")
    cents = 1200.0 * np.log2((fit.frequency_hz + smooth_hz) / reference_hz)
    shown = fit.track_level >= fit.track_level.max() * 10.0 ** (-STILL_SHOWN_DB / 20.0)
    return fit.track_s[shown] - start_s, np.asarray(cents[shown])
