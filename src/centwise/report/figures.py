"""The pictures of a progress page: curve, history, bias and window, the class. Each comes with its words.

Nothing is told by colour alone: marks and lines differ in shape too, and every picture has a table behind it.
Imports markupsafe, matplotlib, numpy, standing_text and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from markupsafe import Markup
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
from matplotlib.ticker import FuncFormatter, MaxNLocator, NullFormatter, NullLocator

from centwise.model import GOOD_ENOUGH_CENTS
from centwise.past import instant_of
from centwise.report.svg import GOOD, INK, ONE, PAPER, RULE, SOFT, TWO, add_legend, inline_svg, new_axes, style
from centwise.standing_text import day_text
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from matplotlib.axes import Axes

    from centwise.ear.curve import Curve
    from centwise.ear.history import TrendPoint
    from centwise.ports import ClassRow
    from centwise.progress import ConditionProgress
    from centwise.report.answers import AnswerRow
    from centwise.report.rehearsals import Left

OFFSET_TICKS = (-32, -8, -2, 0, 2, 8, 32)
CENTS_TICKS = (0.5, 1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100, 200)
LINEAR_CENTS = 2.0
FEWEST_REHEARSALS = 2


@dataclass(frozen=True, slots=True)
class Picture:
    """An `<svg>` to stand in a page, and the sentence that stands for it where it cannot be seen."""

    svg: Markup
    alt: str


def _picture(figure: Any, name: str, alt: str) -> Picture:  # noqa: ANN401  a Figure
    return Picture(Markup(inline_svg(figure, name, alt)), alt)  # noqa: S704  drawn here, the words escaped


def curve_picture(curve: Curve, rows: Sequence[AnswerRow], name: str) -> Picture:
    """Draw how often each answer came at each offset, and the curve all of them tell of, with its 90 % band.

    Args:
        curve: flat, unison and sharp.
        rows: the answers, in bins of offset.
        name: unlike any other figure's on the page.
    """
    with mpl.rc_context(style()):
        figure, axes = new_axes("share of the answers", "cents, flat left, sharp right")
        for place, (label, colour, line, mark) in enumerate(
            (("flat", ONE, "-", "v"), ("unison", SOFT, ":", "o"), ("sharp", TWO, "--", "^"))
        ):
            if label != "unison":
                axes.fill_between(
                    curve.offsets_cents, curve.low[place], curve.high[place], color=colour, alpha=0.18, linewidth=0
                )
            axes.plot(curve.offsets_cents, curve.chances[place], line, color=colour, linewidth=1.4)
            counts = np.array([(row.flat, row.unison, row.sharp)[place] for row in rows])
            asked = np.array([row.asked for row in rows])
            axes.scatter(
                [row.mean_cents for row in rows],
                counts / asked,
                s=10.0 + 60.0 * asked / asked.max(),
                marker=mark,
                facecolor=colour if label != "unison" else PAPER,
                edgecolor=colour,
                linewidth=0.9,
                zorder=3,
                label=f"said {label}",
            )
        axes.axvline(0.0, color=RULE, linewidth=0.8, zorder=0)
        axes.set_xscale("symlog", linthresh=LINEAR_CENTS, linscale=0.6)
        _ticks(axes.xaxis, OFFSET_TICKS, "{:+g}")
        axes.set_xlim(curve.offsets_cents[0], curve.offsets_cents[-1])
        axes.set_ylim(-0.03, 1.03)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda share, _place: f"{100 * share:.0f} %"))
        add_legend(figure, 3)
        asked_in_all = sum(row.asked for row in rows)
        return _picture(figure, name, f"Psychometric curve of {asked_in_all} answers. {_curve_words(curve)}")


def _curve_words(curve: Curve) -> str:
    said = []
    for place, label, sign in ((0, "flat", -1.0), (2, "sharp", 1.0)):
        at = sign * curve.offsets_cents
        order = np.argsort(at)
        reach = curve.chances[place][order]
        over = np.flatnonzero((reach >= 0.5) & (at[order] > -50.0))
        if over.size:
            said.append(f"Half the answers are {label} at {sign * at[order][over[0]]:+.0f} cents.")
    return " ".join(said) or "No answer reaches half at any offset shown."


def drawn_trend(progress: ConditionProgress) -> tuple[TrendPoint, ...]:
    """Return the trend where there is one to draw: from two compared sessions on; else nothing."""
    trend = progress.history.trend
    return trend if len(trend) > 1 else ()


def history_picture(progress: ConditionProgress, name: str) -> Picture:
    """Draw each block's threshold with its interval, the trend with its band, and what is good enough."""
    blocks = [block for block in progress.sessions if block.result is not None]
    days = [block.plan.started_at for block in blocks]
    with mpl.rc_context(style()):
        figure, axes = new_axes("threshold, cents", legend_rows=2)
        results = [block.result for block in blocks if block.result is not None]
        found = np.array([(r.low_cents, r.threshold_cents, r.high_cents) for r in results], dtype=float)
        trend = drawn_trend(progress)
        if trend:
            at: Any = [instant_of(point.days) for point in trend]
            axes.fill_between(
                at,
                [point.low_cents for point in trend],
                [point.high_cents for point in trend],
                color=ONE,
                alpha=0.18,
                linewidth=0,
                label="trend, 90 % band",
            )
            axes.plot(at, [point.threshold_cents for point in trend], color=ONE, linewidth=1.4)
        for assess, mark, label in ((False, "o", "drill"), (True, "s", "assessment")):
            chosen = [place for place, block in enumerate(blocks) if block.plan.assess == assess]
            if not chosen:
                continue
            of_kind: Any = [days[place] for place in chosen]
            axes.vlines(of_kind, found[chosen, 0], found[chosen, 2], color=SOFT, linewidth=0.9)
            axes.plot(of_kind, found[chosen, 1], mark, color=INK, markersize=4, markerfacecolor=PAPER, label=label)
        axes.axhline(GOOD_ENOUGH_CENTS, color=GOOD, linestyle=(0, (6, 3)), linewidth=1.2, label="good enough, 2 cents")
        axes.set_yscale("log")
        axes.set_ylim(min(1.4, 0.8 * found.min()), max(12.0, 1.2 * found.max()))
        _ticks(axes.yaxis, CENTS_TICKS, "{:g}")
        _days(axes, days)
        add_legend(figure, 2)
        now = progress.now
        stands = (
            f"the trend stands at {now.threshold_cents:.1f}, between {now.low_cents:.1f} and {now.high_cents:.1f} cents"
            if trend
            else "no trend is drawn before the third block"
        )
        return _picture(
            figure,
            name,
            f"Threshold over time: {counted(len(blocks), 'block')} from {day_text(days[0])} to "
            f"{day_text(days[-1])}, first {found[0, 1]:.1f}, last {found[-1, 1]:.1f} cents; {stands}. "
            f"Good enough is {GOOD_ENOUGH_CENTS:g} cents.",
        )


def lean_picture(progress: ConditionProgress, name: str) -> Picture | None:
    """Draw each block's bias with its interval, and its unison window; None where no block has them."""
    blocks = [
        (block.plan.started_at, block.result)
        for block in progress.sessions
        if block.result is not None
        and block.result.bias_cents is not None
        and block.result.bias_low_cents is not None
        and block.result.bias_high_cents is not None
        and block.result.unison_window_cents is not None
    ]
    if not blocks:
        return None
    days: Any = [at for at, _result in blocks]
    values = np.array(
        [(r.bias_low_cents, r.bias_cents, r.bias_high_cents, r.unison_window_cents) for _at, r in blocks], dtype=float
    )
    with mpl.rc_context(style()):
        figure, axes = new_axes("cents, flat below, sharp above")
        axes.axhline(0.0, color=SOFT, linewidth=0.8)
        for side in (-1.0, 1.0):
            axes.plot(
                days,
                side * values[:, 3],
                "_",
                color=TWO,
                markersize=9,
                markeredgewidth=1.6,
                label="unison window" if side > 0 else None,
            )
        axes.vlines(days, values[:, 0], values[:, 2], color=ONE, linewidth=0.9)
        axes.plot(days, values[:, 1], "D", color=ONE, markersize=4, label="bias, 90 % interval")
        reach = 1.15 * float(np.abs(values).max())
        axes.set_ylim(-max(reach, 2.0), max(reach, 2.0))
        _days(axes, days)
        axes.yaxis.set_major_formatter(FuncFormatter(lambda cents, _place: f"{cents:+g}" if cents else "0"))
        add_legend(figure, 2)
        low, bias, high, window = values[-1]
        return _picture(
            figure,
            name,
            f"Bias and unison window of {counted(len(blocks), 'block')}; the last has a bias of "
            f"{bias:+.1f} cents, between {low:+.1f} and {high:+.1f}, and a unison window of {window:.1f} cents.",
        )


def bench_picture(left: Sequence[Left], name: str) -> Picture | None:
    """Draw what rehearsals left on the outer strings, one after the other; None for fewer than two."""
    known = [one for one in left if one.bass_cents is not None and one.treble_cents is not None]
    if len(known) < FEWEST_REHEARSALS:
        return None
    numbers = np.arange(1, len(known) + 1)
    bass, treble = (
        np.array([getattr(one, side) for one in known], dtype=float) for side in ("bass_cents", "treble_cents")
    )
    with mpl.rc_context(style()):
        figure, axes = new_axes("left, cents, flat below, sharp above", "rehearsals, the first at the left")
        axes.axhspan(-GOOD_ENOUGH_CENTS, GOOD_ENOUGH_CENTS, color=GOOD, alpha=0.18, linewidth=0, label="good enough")
        axes.axhline(0.0, color=SOFT, linewidth=0.8)
        axes.plot(numbers - 0.08, bass, "o", color=ONE, markersize=5, label="bass side")
        axes.plot(numbers + 0.08, treble, "^", color=TWO, markersize=5, label="treble side")
        reach = 1.15 * max(float(np.abs(bass).max()), float(np.abs(treble).max()), 3.0)
        axes.set_ylim(-reach, reach)
        axes.set_xlim(0.5, len(known) + 0.5)
        axes.xaxis.set_major_locator(MaxNLocator(integer=True))
        axes.yaxis.set_major_formatter(FuncFormatter(lambda cents, _place: f"{cents:+g}" if cents else "0"))
        add_legend(figure, 3)
        within = int(((np.abs(bass) <= GOOD_ENOUGH_CENTS) & (np.abs(treble) <= GOOD_ENOUGH_CENTS)).sum())
        return _picture(
            figure,
            name,
            f"What {len(known)} rehearsals left on the outer strings; the last {bass[-1]:+.1f} cents on the bass side "
            f"and {treble[-1]:+.1f} on the treble side; in {within} of them both were within "
            f"{GOOD_ENOUGH_CENTS:g} cents.",
        )


def class_counts(rows: Sequence[ClassRow]) -> list[tuple[float, float, int]]:
    """Return how many ears lie in each third of an octave: its two ends in cents, and the count; nothing for nobody."""
    cents = _thresholds(rows)
    if not cents.size:
        return []
    counts, edges = np.histogram(cents, _thirds(cents))
    return [(float(low), float(high), int(n)) for low, high, n in zip(edges, edges[1:], counts, strict=False)]


def _thresholds(rows: Sequence[ClassRow]) -> Any:  # noqa: ANN401  an array
    return np.array([row.threshold_cents for row in rows if row.threshold_cents is not None])


def _thirds(cents: Any) -> Any:  # noqa: ANN401  arrays
    """Return the ends of the thirds of an octave that hold all of them."""
    first, last = np.floor(3 * np.log2(cents.min())), np.ceil(3 * np.log2(cents.max()))
    edges = np.exp2(np.arange(first, max(last, first + 1) + 0.5) / 3.0)
    # Rounding must leave nobody out.
    edges[0], edges[-1] = min(edges[0], cents.min()), max(edges[-1], cents.max())
    return edges


def class_picture(rows: Sequence[ClassRow], name: str) -> Picture | None:
    """Draw how the thresholds of a class lie: how many ears in each third of an octave; None where nobody has one."""
    cents = _thresholds(rows)
    if not cents.size:
        return None
    edges = _thirds(cents)
    with mpl.rc_context(style()):
        figure, axes = new_axes("listeners", "threshold, cents, finer at the left")
        axes.hist(cents, bins=edges.tolist(), color=ONE, alpha=0.6, edgecolor=INK, linewidth=0.6)
        axes.axvline(GOOD_ENOUGH_CENTS, color=GOOD, linestyle=(0, (6, 3)), linewidth=1.2, label="good enough, 2 cents")
        axes.set_xscale("log")
        axes.set_xlim(min(1.6, edges[0]), max(12.0, edges[-1]))
        _ticks(axes.xaxis, CENTS_TICKS, "{:g}")
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
        add_legend(figure, 1)
        reached = int((cents <= GOOD_ENOUGH_CENTS).sum())
        return _picture(
            figure,
            name,
            f"Thresholds of {counted(cents.size, 'listener')}: from {cents.min():.1f} to "
            f"{cents.max():.1f} cents, half of them at {np.median(cents):.1f} or less; {reached} within "
            f"{GOOD_ENOUGH_CENTS:g} cents.",
        )


def _ticks(axis: Any, values: Sequence[float], form: str) -> None:  # noqa: ANN401  either axis
    axis.set_major_locator(mpl.ticker.FixedLocator(values))
    axis.set_major_formatter(FuncFormatter(lambda value, _place: form.format(value) if value else "0"))
    axis.set_minor_locator(NullLocator())
    axis.set_minor_formatter(NullFormatter())


def _days(axes: Axes, days: Sequence[datetime]) -> None:
    span_days = (days[-1] - days[0]).total_seconds() / 86400.0
    margin = timedelta(days=max(0.05 * span_days, 0.5))
    ends: Any = (days[0] - margin, days[-1] + margin)
    axes.set_xlim(ends)
    locator = AutoDateLocator(minticks=2, maxticks=6)
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))
