"""A lesson as frozen records, and where a listener stands in it by the blocks that are stored. No I/O, no clock.

Nothing is kept of a lesson but its blocks: a block counts in a step when it was heard under the step's condition on the
lesson's days, with all its pairs. So a lesson can be mended, moved or passed on without losing a pupil's place.
Imports planning and below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from centwise.systems import local_time

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date, datetime

    from centwise.model import Order
    from centwise.planning import BlockRequest
    from centwise.ports import BlockSummary

IN_A_ROW = 2
"""So many blocks in a row at or below the target reach it; one alone may be luck (a judgement)."""


@dataclass(frozen=True, slots=True)
class Step:
    """What is practised until something is reached.

    Attributes:
        strings: the strings, each practised by turns.
        order: which tone comes first.
        trials: pairs in a block, 1 to 1000.
        likeness: 0 as on the instrument, 1 both tones in one voice.
        muted: whether the other strings are silent.
        assess: whether nothing is told between the pairs.
        blocks: a string is done after so many blocks; None, it is done by the target alone.
        target_cents: a string is done once two blocks in a row have a threshold at or below this; None for no target.
    """

    strings: tuple[int, ...]
    order: Order
    trials: int
    likeness: float
    muted: bool
    assess: bool
    blocks: int | None
    target_cents: float | None


@dataclass(frozen=True, slots=True)
class Lesson:
    """A lesson. `name` is its file's name without the ending; title and about are free text, never markup.

    Blocks count from `first_day` to `last_day`, both included; None leaves that side open.
    """

    name: str
    title: str
    about: str
    instrument: str
    steps: tuple[Step, ...]
    first_day: date | None = None
    last_day: date | None = None


@dataclass(frozen=True, slots=True)
class Standpoint:
    """Where a listener stands in a lesson: the block that comes next.

    Attributes:
        lesson: the lesson.
        number: the step's number, from 1.
        step: the step.
        string: the string that has its turn.
        block: which block of this string in this step comes next, from 1.
        thresholds_cents: of this string's blocks in this step so far, oldest first; None where one had no threshold.
        done: whether the whole lesson is done; then its last step goes on.
    """

    lesson: Lesson
    number: int
    step: Step
    string: int
    block: int
    thresholds_cents: tuple[float | None, ...]
    done: bool = False

    def request(self, base: BlockRequest) -> BlockRequest:
        """Return the request for this block; what no lesson says (seed, rule, warm-up) is left as it is in `base`."""
        step = self.step
        return replace(
            base,
            instrument=self.lesson.instrument,
            string=self.string,
            trials=step.trials,
            assess=step.assess,
            order=step.order,
            muted=step.muted,
            likeness=step.likeness,
        )


def standpoint(lesson: Lesson, blocks: Iterable[BlockSummary]) -> Standpoint:
    """Return where a listener stands in a lesson.

    Args:
        lesson: the lesson.
        blocks: all blocks of the listener, oldest first; each counts in one step at most, the first that asks for it.
    """
    here = 0
    heard = _nothing(lesson.steps[0])
    for block in blocks:
        step = lesson.steps[here]
        if block.result is None or not _on_its_days(lesson, block) or not _counts(lesson, step, block):
            continue
        heard[block.plan.condition.string].append(block.result.threshold_cents)
        if here < len(lesson.steps) - 1 and all(_is_done(step, found) for found in heard.values()):
            here += 1
            heard = _nothing(lesson.steps[here])
    step = lesson.steps[here]
    left = {string: found for string, found in heard.items() if not _is_done(step, found)}
    turn = min(left or heard, key=lambda string: len(heard[string]))
    return Standpoint(lesson, here + 1, step, turn, len(heard[turn]) + 1, tuple(heard[turn]), done=not left)


def local_day(instant: datetime) -> date:
    """Return the day of an instant on this machine's own calendar, which is the pupil's."""
    return local_time(instant).date()


def _nothing(step: Step) -> dict[int, list[float | None]]:
    return {string: [] for string in step.strings}


def _is_done(step: Step, thresholds_cents: list[float | None]) -> bool:
    if step.blocks is not None and len(thresholds_cents) >= step.blocks:
        return True
    last = thresholds_cents[-IN_A_ROW:]
    return (
        step.target_cents is not None
        and len(last) == IN_A_ROW
        and all(found is not None and found <= step.target_cents for found in last)
    )


def _on_its_days(lesson: Lesson, block: BlockSummary) -> bool:
    day = local_day(block.plan.started_at)
    return (lesson.first_day is None or day >= lesson.first_day) and (lesson.last_day is None or day <= lesson.last_day)


def _counts(lesson: Lesson, step: Step, block: BlockSummary) -> bool:
    plan, result = block.plan, block.result
    condition = plan.condition
    return (
        result is not None
        and result.trials >= step.trials
        and plan.heard
        and condition.voice == "rendered"
        and condition.instrument == lesson.instrument
        and condition.string in step.strings
        and condition.order == step.order
        and condition.muted == step.muted
        and abs(condition.likeness - step.likeness) < 1e-9
        and plan.assess == step.assess
    )
