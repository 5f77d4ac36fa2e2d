"""One listener's progress as lines of a terminal: sentences, then a table of each condition's last blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.cli.columns import table
from centwise.drill.advice import scale_text
from centwise.progress_text import (
    good_enough_sentence,
    next_sentence,
    now_sentence,
    practised_sentence,
    short_day,
    trend_sentence,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from centwise.progress import ConditionProgress, ListenerProgress

MOST_ROWS = 10


def progress_lines(progress: ListenerProgress) -> Iterator[str]:
    """Yield the lines."""
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
        yield from _sessions(condition)
    if progress.blocks and not progress.conditions:
        yield "No block has said anything of the ear yet: judge at least 20 pairs in one go, with sound."
    yield ""
    yield next_sentence(progress.next)


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
        yield f"  {earlier:,} earlier block{'' if earlier == 1 else 's'}: --json has every one."
