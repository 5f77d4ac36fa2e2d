"""The technician's sheet: what was found of the chain and of the listener, and nothing that was not measured.

Imports chain and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from centwise.drill.advice import scale_text
from centwise.report.page import page_html
from centwise.standing_text import day_text

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from centwise.chain.baseline import Baseline
    from centwise.chain.line import CheckLine, Status
    from centwise.model import Listener

SIGNS: dict[Status, str] = {"passed": "✓", "failed": "✗", "not checked": "–"}
FIRST_ONLY = "One block only, mostly learning the task: no baseline to compare with yet."


@dataclass(frozen=True, slots=True)
class SheetListener:
    """Whose baseline stands on the sheet; nobody's with a reason where there is none.

    Attributes:
        listener: who, or None.
        baselines: the condition practised last first.
        reason: a whole sentence, where there is no baseline.
    """

    listener: Listener | None
    baselines: tuple[Baseline, ...] = ()
    reason: str = ""


def sheet_html(
    lines: tuple[CheckLine, ...], who: SheetListener, versions: Mapping[str, str], *, seed: int, at: datetime
) -> str:
    """Return the sheet as one page of HTML.

    Args:
        lines: every line of the check, in order.
        who: the listener's baseline.
        versions: names and versions of what the chain is made of.
        seed: that the check drew from.
        at: when it was.
    """
    return page_html(
        "sheet.html",
        at=at,
        summary=_summary(lines),
        lines=[{"title": line.title, "status": line.status, "told": line.told} for line in lines],
        signs=SIGNS,
        listener={
            "name": None if who.listener is None else who.listener.name,
            "scale": None if who.listener is None else scale_text(who.listener.scale_mm),
            "rows": [_row(baseline) for baseline in who.baselines],
            "reason": who.reason,
        },
        versions=versions,
        seed=seed,
    )


def _summary(lines: tuple[CheckLine, ...]) -> str:
    failed = [line.title for line in lines if line.status == "failed"]
    left_out = sum(line.status == "not checked" for line in lines)
    said = f"Failed: {'; '.join(failed)}." if failed else "All that was checked passed."
    return f"{said} {left_out} of {len(lines)} lines were not checked." if left_out else said


def _row(baseline: Baseline) -> dict[str, object]:
    low, high = baseline.expected_low_cents, baseline.expected_high_cents
    return {
        "condition": baseline.condition_text,
        "blocks": baseline.blocks,
        "assessments": baseline.assessments,
        "first_day": day_text(baseline.first_at),
        "last_day": day_text(baseline.last_at),
        "threshold": f"{baseline.threshold_cents:.1f}",
        "low": f"{baseline.low_cents:.1f}",
        "high": f"{baseline.high_cents:.1f}",
        "travel": f"{baseline.travel_mm:.1f}",
        "expected": "not checked: fewer than two assessments"
        if low is None or high is None
        else f"{low:.1f} to {high:.1f}",
        "note": FIRST_ONLY if baseline.blocks == 1 else "",
    }
