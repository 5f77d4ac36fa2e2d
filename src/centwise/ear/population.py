"""Many simulated listeners at once, through the rules that drill a real one.

Listener i of a study with seed s draws what a block of seed s + i would draw, trial by trial, so any of them can be
replayed through `Track` alone; a test holds the two equal to the last choice. Imports numpy, draws and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from centwise.draws import MAX_SEED, Draws, Purpose
from centwise.ear.grid import Grid, standard_grid, updated
from centwise.ear.normal import Z_75, normal_cdf
from centwise.ear.placement import COMFORT, DIGITS, Comfort, balanced_places, entropy_places, held_places, predictions
from centwise.ear.simulated import answer_codes
from centwise.ear.staircase import FIRST_STEP_FACTOR, RIGHT_STEP, UNSURE_STEP, WRONG_STEP
from centwise.ear.summary import sigma_interval
from centwise.ear.track import start_place
from centwise.ear.truths import UNIFORMS, draw_sides

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from centwise.ear.prior import Prior
    from centwise.model import Tone

    Array = NDArray[np.float64]
    Whole = NDArray[np.int64]

StudyRule = Literal["balanced", "weighted", "entropy", "unheld", "plain", "held weighted", "held entropy"]
"""The drill's two rules, and others to compare them with: `entropy` asks where the entropy of the whole posterior is
expected to fall most (QUEST+, Watson 2017), `unheld` is the balanced rule without its comfort, `plain` is the weighted
up-down staircase (Kaernbach 1991) that counts unison as wrong, and the two `held` ones are kept within the balanced
rule's comfort."""

CHUNK = 25
"""Listeners whose posteriors are advanced together: about 4 MB, which stays near the processor (200 at once took 1.4
times as long, measured)."""


@dataclass(frozen=True)
class Population:
    """Listeners' true parameters, each of shape (n,), as in `SimulatedListener`.

    `order_error_cents` is + for those who hear the second tone sharp; one figure stands for all. `drift_octaves` is the
    change of log2 sigma from one trial to the next. `noise` "t4" replaces the normal judgement by Student's t with 4
    degrees of freedom of the same quartiles: now and then far off, as an inattentive listener is.
    """

    sigma_cents: Array
    window_cents: Array
    bias_cents: Array
    lapse_rate: Array
    order_error_cents: float = 0.0
    drift_octaves: float = 0.0
    noise: Literal["normal", "t4"] = "normal"

    @property
    def size(self) -> int:
        """How many listeners there are."""
        return self.sigma_cents.size

    def part(self, which: slice) -> Population:
        """Return some of the listeners."""
        return Population(
            self.sigma_cents[which],
            self.window_cents[which],
            self.bias_cents[which],
            self.lapse_rate[which],
            self.order_error_cents,
            self.drift_octaves,
            self.noise,
        )

    def chances(self, offsets_cents: Array, n: int, first: Tone) -> Array:
        """Return the chances of flat, unison and sharp in trial n (from 1) for one offset each, shape (size, 3)."""
        sigma = self.sigma_cents * 2.0 ** (self.drift_octaves * (n - 1))
        bias = self.bias_cents + (self.order_error_cents if first == "harmonic" else -self.order_error_cents)
        below = (-offsets_cents - bias - self.window_cents) / sigma
        above = (offsets_cents + bias - self.window_cents) / sigma
        below, above = (normal_cdf(x) if self.noise == "normal" else _t4_cdf(x) for x in (below, above))
        flat, sharp = ((1.0 - self.lapse_rate) * x + self.lapse_rate / 3.0 for x in (below, above))
        return np.stack((flat, np.maximum(1.0 - flat - sharp, 0.0), sharp), axis=-1)


@dataclass(frozen=True)
class Blocks:
    """What a study's listeners were asked and answered, and what the posterior made of it.

    Attributes:
        offsets_cents: shape (trials, n).
        answers: 0 flat, 1 unison, 2 sharp, shape (trials, n).
        marks: numbers of trials after which the posterior was read.
        octaves: low end, mean and high end of log2 sigma at each mark, shape (marks, n, 3).
    """

    offsets_cents: Array
    answers: Whole
    marks: tuple[int, ...]
    octaves: Array

    @property
    def right(self) -> NDArray[np.bool_]:
        """Whether each answer was right, shape (trials, n)."""
        return np.asarray(self.answers == np.sign(self.offsets_cents).astype(np.int64) + 1)


def simulate_blocks(
    population: Population,
    trials: int,
    rule: StudyRule = "balanced",
    *,
    seed: int = 0,
    marks: Sequence[int] | None = None,
    start_cents: float = 40.0,
    prior: Prior | None = None,
    comfort: Comfort = COMFORT,
    both_orders: bool = False,
) -> Blocks:
    """Drill every listener of a population through one block.

    Args:
        population: the listeners.
        trials: pairs a block, 1 or more.
        rule: how offsets are chosen.
        seed: listener i draws as a block of seed + i does.
        marks: after which trials to read the posterior; None, after the last.
        start_cents: size of the first offset.
        prior: as for `begin_track`.
        comfort: of the balanced rule.
        both_orders: whether the fretted tone comes first in every second pair.
    """
    lattice = standard_grid()
    readings = (trials,) if marks is None else tuple(marks)
    first = lattice.prior(None if prior is None else prior.weights(lattice.sigma_cents))
    firsts: tuple[Tone, ...] = tuple("fretted" if both_orders and n % 2 else "harmonic" for n in range(trials))
    plan = _Plan(rule, readings, start_place(lattice, start_cents), comfort, firsts)
    parts = [
        _chunk(lattice, population.part(slice(at, at + CHUNK)), plan, seed + at, first)
        for at in range(0, population.size, CHUNK)
    ]
    return Blocks(
        np.concatenate([part.offsets_cents for part in parts], axis=1),
        np.concatenate([part.answers for part in parts], axis=1),
        readings,
        np.concatenate([part.octaves for part in parts], axis=1),
    )


@dataclass(frozen=True)
class _Plan:
    """What all blocks of a study share."""

    rule: StudyRule
    marks: tuple[int, ...]
    start: int
    comfort: Comfort
    firsts: tuple[Tone, ...]


def _chunk(grid: Grid, people: Population, plan: _Plan, seed: int, first: Array) -> Blocks:
    count = people.size
    draws = [Draws((seed + i) % (MAX_SEED + 1)) for i in range(count)]
    weights = np.repeat(first[None], count, axis=0)
    run = _Run.begun(count, plan.start)
    offsets, answers, read = [], [], []
    for n, tone in enumerate(plan.firsts, start=1):
        uniforms = np.stack([each.stream(Purpose.PLACEMENT, n).random(UNIFORMS) for each in draws])
        sides = draw_sides(run.last, run.run, uniforms)
        places = np.where(sides == 0, 0, _places(grid, weights, sides, run, plan, n))
        offsets.append(grid.sizes_cents[places] * sides)
        judged = np.array([each.stream(Purpose.LISTENER, n).random() for each in draws])
        answers.append(answer_codes(people.chances(offsets[-1], n, tone), judged))
        run = run.after(sides, places, answers[-1], plan.rule, grid.sizes_cents.size)
        weights = _answered(grid, weights, places, sides, answers[-1])
        if n in plan.marks:
            read.append(sigma_interval(grid, weights.sum(axis=(2, 3, 4))))
    return Blocks(np.stack(offsets), np.stack(answers), plan.marks, np.stack(read))


def _places(grid: Grid, weights: Array, sides: Whole, run: _Run, plan: _Plan, n: int) -> Whole:
    last = np.where(run.last == sides, run.place, 0)
    if plan.rule.startswith("held") and n > 1:
        wish = run.level if plan.rule == "held weighted" else None
        return held_places(
            grid, weights, sides, wish=wish, trial=n - 1, right=run.right, last=last, comfort=plan.comfort
        )
    if plan.rule in ("weighted", "plain"):
        beside = np.where(run.level > 1, run.level - 1, run.level + 1)
        return np.where(run.level == last, beside, run.level)
    if n == 1:
        return run.level
    if plan.rule == "balanced":
        return balanced_places(grid, weights, sides, trial=n - 1, right=run.right, last=last, comfort=plan.comfort)
    if plan.rule == "entropy":
        return entropy_places(grid, weights, sides, last=last)
    gain = np.round(predictions(grid, weights, sides)[0], DIGITS)
    gain[:, 0] = -1.0
    gain[np.arange(last.size), last] = -1.0
    return np.asarray(gain.argmax(axis=1))


@dataclass(frozen=True)
class _Run:
    """Where each block stands, arrays of shape (n,).

    Last truth and how often it came running, place last asked, right answers, the staircase's level, and whether it
    still hurries.
    """

    last: Whole
    run: Whole
    place: Whole
    right: Whole
    level: Whole
    hurried: NDArray[np.bool_]

    @classmethod
    def begun(cls, count: int, start: int) -> _Run:
        nothing = np.zeros(count, dtype=np.int64)
        return cls(nothing, nothing, nothing, nothing, nothing + start, np.ones(count, dtype=bool))

    def after(self, sides: Whole, places: Whole, answers: Whole, rule: StudyRule, sizes: int) -> _Run:
        right = answers == sides + 1
        unsure = UNSURE_STEP if rule.endswith("weighted") else WRONG_STEP
        down = RIGHT_STEP * np.where(self.hurried, FIRST_STEP_FACTOR, 1)
        step = np.where(right, down, np.where(answers == 1, unsure, WRONG_STEP))
        return _Run(
            last=sides,
            run=np.where((sides == self.last) & (self.run > 0), self.run + 1, 1),
            place=places,
            right=self.right + right,
            level=np.clip(self.level + np.where(sides == 0, 0, step), 1, sizes - 1),
            hurried=self.hurried & (right | (sides == 0)),
        )


def _answered(grid: Grid, weights: Array, places: Whole, sides: Whole, answers: Whole) -> Array:
    # A pair asked flat is the mirror image of one asked sharp: answer and bias turn round.
    turned = np.where(sides < 0, 2 - answers, answers)
    chances = grid.table[places, turned]
    chances = np.where((sides < 0)[:, None, None, None], chances[..., ::-1], chances)
    return updated(weights, chances, grid.lapses)


def _t4_cdf(x: Array) -> Array:
    """Return Student's t distribution function with 4 degrees of freedom, scaled to the normal's quartiles.

    Closed form: 1/2 + 3/8 u (1 - u^2/12) with u = t / sqrt(1 + t^2/4) (Abramowitz and Stegun 26.7.4, n = 4; recalled,
    held against scipy by a test).
    """
    t = x * (_T4_QUARTILE / Z_75)
    u = t / np.sqrt(1.0 + t * t / 4.0)
    return np.asarray(0.5 + 0.375 * u * (1.0 - u * u / 12.0))


_T4_QUARTILE = 0.7406970841126736
