"""One listener's progress as lines of a terminal: sentences, then a table of each condition's last blocks.

Imports plotext, charting and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.bench.told import error_text
from centwise.charting import draw_threshold, legend
from centwise.cli.columns import table
from centwise.drill.advice import NO_HEARING_TEST, scale_text
from centwise.progress_text import (
    bench_sentence,
    good_enough_sentence,
    next_sentence,
    now_sentence,
    practised_sentence,
    short_day,
    trend_sentence,
)
from centwise.units import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.progress import ConditionProgress, ListenerProgress

MOST_ROWS = 10
CHART_COLUMNS, CHART_ROWS = 76, 16


def progress_lines(progress: ListenerProgress, *, chart: bool = False) -> Iterator[str]:
    """Yield the lines; with a chart of each condition where one is asked for."""
    listener = progress.listener
    yield f"{listener.name}: {practised_sentence(progress)}"
    yield f"Scale {scale_text(listener.scale_mm)}, {listener.instrument}."
    if listener.note:
        yield f"Note: {' '.join(listener.note.split())}"
    for condition in progress.conditions:
        yield ""
        yield now_sentence(condition)
        yield trend_sentence(condition)
        yield good_enough_sentence(condition)
        if chart:
            yield from _chart(condition)
        yield from _sessions(condition)
    if progress.conditions:
        yield NO_HEARING_TEST
    elif progress.blocks:
        yield "No block has said anything of the ear yet: judge at least 20 pairs in one go, with sound."
    if progress.benches:
        yield ""
        yield bench_sentence(progress.benches)
        yield from _rehearsals(progress)
    yield ""
    yield next_sentence(progress.next)


def _chart(progress: ConditionProgress) -> Iterator[str]:
    import plotext  # noqa: PLC0415  only who asks for a chart waits for it

    plotext.clear_figure()
    plotext.theme("clear")
    plotext.plotsize(CHART_COLUMNS, CHART_ROWS)
    draw_threshold(plotext, progress)
    yield from (f"  {line}".rstrip() for line in plotext.uncolorize(plotext.build()).splitlines())
    yield f"  {legend(progress)}"


def _sessions(progress: ConditionProgress) -> Iterator[str]:
    head = ("Day", "Cents", "90 % interval", "Trend", "Right", "Min", "Kind")
    rows = []
    for block, point in list(zip(progress.sessions, (None, *progress.history.trend), strict=True))[-MOST_ROWS:]:
        result = block.result
        if result is None or result.threshold_cents is None:
            continue
        rows.append(
            (
                short_day(block.plan.started_at),
                f"{result.threshold_cents:.1f}",
                f"{result.low_cents or 0.0:.1f}-{result.high_cents or 0.0:.1f}",
                "" if point is None else f"{point.threshold_cents:.1f}",
                f"{result.correct} of {result.trials}",
                f"{round(block.practised_s / 60.0)}",
                "assessment" if block.plan.assess else "drill",
            )
        )
    yield from (f"  {line}" for line in table(head, rows, right=(1, 2, 3, 4, 5)))
    earlier = len(progress.sessions) - len(rows)
    if earlier:
        yield f"  {counted(earlier, 'earlier block')}: --json has every one."


def _rehearsals(progress: ListenerProgress) -> Iterator[str]:
    head = ("Day", "Bridge", "Left", "Moves", "Compared", "Order kept")
    rows = [
        (
            short_day(bench.plan.started_at),
            f"{bench.plan.bridge}, {bench.plan.difficulty}{'' if bench.plan.heard else ', without sound'}",
            ", ".join(f"{share.string} {error_text(share.left_cents)}" for share in result.shares),
            str(result.moves),
            str(result.comparisons),
            f"{sum(point.kept for point in result.order)} of {len(result.order)}",
        )
        for bench in progress.benches
        if (result := bench.result) is not None
    ]
    if rows:
        yield from (f"  {line}" for line in table(head, rows[-MOST_ROWS:], right=(3, 4, 5), widest=48))
