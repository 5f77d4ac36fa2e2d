"""One block's placement of trials: what has been asked and answered, and what to ask next.

Two rules on one interface. `weighted` is the published staircase; `balanced` asks by the posterior. Both keep the
posterior, for the number never comes from the track. Imports numpy, model and below.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.grid import Grid, standard_grid, updated
from centwise.ear.placement import balanced_places
from centwise.ear.staircase import off_the_last, place_on_ladder
from centwise.ear.summary import Estimate, sigma_interval, summarised
from centwise.ear.trials import FEWEST_TRIALS
from centwise.ear.truths import UNIFORMS, draw_independent_sides, draw_sides, runs_of
from centwise.errors import InputError
from centwise.model import JUDGEMENTS, MAX_OFFSET_CENTS, RULES, Judgement, Rule, judgement_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from centwise.ear.prior import Prior


@dataclass(frozen=True, slots=True)
class Track:
    """A block under way; begin one with `begin_track`. Equal when asked and answered alike.

    Attributes:
        rule: how the next offset is chosen.
        prior: what was known before, None for a stranger.
        start: place of the first trial on the ladder of sizes.
        offsets_cents: what was asked, signed.
        answers: what was answered.
        independent: whether truths are drawn without regard to those before, as in an assessment.
    """

    rule: Rule
    prior: Prior | None
    start: int
    offsets_cents: tuple[float, ...] = ()
    answers: tuple[Judgement, ...] = ()
    independent: bool = False
    _weights: NDArray[np.float64] = field(default_factory=lambda: standard_grid().prior(), repr=False, compare=False)

    @property
    def interval_octaves(self) -> float:
        """Width of the threshold's 90 % interval so far, in octaves."""
        low, _, high = sigma_interval(standard_grid(), self._weights.sum(axis=(1, 2, 3)))
        return float(high - low)

    def next_offset(self, rng: np.random.Generator, before: tuple[float, ...] = ()) -> float:
        """Return the offset to ask next: signed cents, 0.0 in a catch trial.

        The last one never comes again, but for a unison after a unison where truths are independent.

        Args:
            rng: a stream of this trial's own; the same stream gives the same offset.
            before: what was asked in the block before the track began, such as a warm-up; it counts among the truths
                that must not come too often running, and in nothing else.
        """
        grid = standard_grid()
        uniforms = rng.random((1, UNIFORMS))
        last, run = runs_of((*before, *self.offsets_cents))
        sides = (
            draw_independent_sides(uniforms)
            if self.independent
            else draw_sides(np.array([last]), np.array([run]), uniforms)
        )
        side = int(sides[0])
        if side == 0:
            return 0.0
        last_offset = self.offsets_cents[-1] if self.offsets_cents else None
        if self.rule == "weighted":
            place = off_the_last(self._place(), side, last_offset, grid.sizes_cents)
        elif not self.answers:
            place = self.start
        else:
            right = sum(
                answer == judgement_of(offset) for offset, answer in zip(self.offsets_cents, self.answers, strict=True)
            )
            place = int(
                balanced_places(
                    grid,
                    self._weights[None],
                    sides,
                    trial=len(self.answers),
                    right=np.array([right]),
                    last=np.array([_place_of(grid, last_offset, side)]),
                )[0]
            )
        return side * float(grid.sizes_cents[place])

    def answered(self, offset_cents: float, answer: Judgement) -> Track:
        """Return the track with one more answer.

        Args:
            offset_cents: what was asked, -100 to 100.
            answer: what was answered.

        Raises:
            InputError: an offset outside the range or an unknown word.
        """
        if not abs(offset_cents) <= MAX_OFFSET_CENTS:
            raise InputError(f"an offset of {offset_cents:g} cents was not asked", "give one from -100 to 100")
        if answer not in JUDGEMENTS:
            raise InputError(f"{answer!r} is no answer", "answer flat, unison or sharp")
        grid = standard_grid()
        chances = grid.attentive_chances(offset_cents)[JUDGEMENTS.index(answer)]
        return replace(
            self,
            offsets_cents=(*self.offsets_cents, float(offset_cents)),
            answers=(*self.answers, answer),
            _weights=updated(self._weights, chances, grid.lapses),
        )

    def estimate(self) -> Estimate | None:
        """Return what the answers so far say of the ear, or None with fewer than five."""
        if len(self.answers) < FEWEST_TRIALS:
            return None
        return summarised(standard_grid(), self._weights, len(self.answers))

    def _place(self) -> int:
        return place_on_ladder(self.start, standard_grid().sizes_cents.size, self.offsets_cents, self.answers)


def begin_track(
    rule: Rule, *, prior: Prior | None = None, start_cents: float = 40.0, independent: bool = False
) -> Track:
    """Return a block's track before its first trial.

    Args:
        rule: "weighted" or "balanced".
        prior: what earlier sessions say of the threshold, None for a stranger.
        start_cents: size of the first offset, above 0, at most 100; the nearest size on the ladder is taken.
        independent: draw each truth without regard to those before, as an assessment does.

    Raises:
        InputError: an unknown rule, or a start outside its range.
    """
    if rule not in RULES:
        raise InputError(f"{rule!r} is no rule", f"choose {' or '.join(sorted(RULES))}")
    if not 0.0 < start_cents <= MAX_OFFSET_CENTS:
        raise InputError(f"a block cannot start at {start_cents:g} cents", "start above 0 and at most at 100")
    grid = standard_grid()
    weights = grid.prior() if prior is None else grid.prior(prior.weights(grid.sigma_cents))
    return Track(rule, prior, start_place(grid, start_cents), independent=independent, _weights=weights)


def start_place(grid: Grid, start_cents: float) -> int:
    """Return the place on the ladder of sizes nearest to a size above 0, in octaves."""
    return 1 + int(np.argmin(np.round(np.abs(np.log2(grid.sizes_cents[1:] / start_cents)), 9)))


def _place_of(grid: Grid, offset_cents: float | None, side: int) -> int:
    """Return the place of the last offset if it lies on this side and on the ladder, else 0."""
    if offset_cents is None or offset_cents * side <= 0:
        return 0
    found = np.flatnonzero(grid.sizes_cents == abs(offset_cents))
    return int(found[0]) if found.size else 0
