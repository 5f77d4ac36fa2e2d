"""A lesson in sentences: what comes next, and its days. No I/O. Imports standing_text and below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.standing_text import date_text
from centwise.units import counted

if TYPE_CHECKING:
    from datetime import date

    from centwise.lessons.lesson import Lesson, Standpoint, Step
    from centwise.model import Order

ORDER_TEXTS: dict[Order, str] = {
    "harmonic-first": "the harmonic first",
    "fretted-first": "the fretted note first",
    "both": "either tone first",
}


def stand_sentences(at: Standpoint, today: date) -> tuple[str, ...]:
    """Say where the listener stands in a lesson, and when its blocks count if that is limited."""
    days = days_sentence(at.lesson, today)
    return (next_block_sentence(at), days) if days else (next_block_sentence(at),)


def next_block_sentence(at: Standpoint) -> str:
    """Say where the listener stands, as in `Lesson First week, step 1 of 4: block 2 of 2 on string 4`."""
    lesson, step = at.lesson, at.step
    count = f"block {at.block}" if step.blocks is None or at.done else f"block {at.block} of {step.blocks}"
    where = f"Lesson {lesson.title}, step {at.number} of {len(lesson.steps)}"
    if at.done:
        return f"{where}: the lesson is done. More of its last step, {count} on string {at.string}."
    return f"{where}: {count} on string {at.string}.{_target(at)}"


def _target(at: Standpoint) -> str:
    if at.step.target_cents is None:
        return ""
    last = at.thresholds_cents[-1] if at.thresholds_cents else None
    so_far = "" if last is None else f"; the last was {last:.1f}"
    return f" Target: two blocks in a row at {at.step.target_cents:g} cents or less{so_far}."


def days_sentence(lesson: Lesson, today: date) -> str:
    """Say when its blocks count, most of all when that is not today; empty for a lesson without days."""
    if lesson.first_day is not None and today < lesson.first_day:
        return f"It begins on {date_text(lesson.first_day)}: blocks before that do not count in it."
    if lesson.last_day is not None and today > lesson.last_day:
        return f"It ended on {date_text(lesson.last_day)}: blocks no longer count in it."
    if lesson.last_day is not None:
        return f"It ends on {date_text(lesson.last_day)}."
    return ""


def outline_sentences(lesson: Lesson) -> tuple[str, ...]:
    """Say what a lesson asks for, as in `Step 1: strings 4 and 1, 20 pairs, the harmonic first, 2 blocks each`."""
    said = [f"Step {number}: {_step(step)}." for number, step in enumerate(lesson.steps, start=1)]
    if lesson.first_day is not None:
        said.append(f"From {date_text(lesson.first_day)}.")
    if lesson.last_day is not None:
        said.append(f"Until {date_text(lesson.last_day)}.")
    return tuple(said)


def _step(step: Step) -> str:
    *all_but_last, last = [str(string) for string in step.strings]
    strings = f"strings {', '.join(all_but_last)} and {last}" if all_but_last else f"string {last}"
    parts = [strings, f"{step.trials} pairs{' of assessment' if step.assess else ''}", ORDER_TEXTS[step.order]]
    if step.likeness > 0:
        parts.append("both tones in one voice" if step.likeness == 1 else f"likeness {step.likeness:g}")
    if not step.muted:
        parts.append("the other strings ringing along")
    if step.target_cents is not None:
        parts.append(f"until two blocks in a row reach {step.target_cents:g} cents")
    if step.blocks is not None:
        count = f"{counted(step.blocks, 'block')}{' each' if all_but_last else ''}"
        parts.append(f"at most {count}" if step.target_cents is not None else count)
    return ", ".join(parts)
