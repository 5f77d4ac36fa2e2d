"""An ear over days: where the threshold stands, where it went, and whether it has really moved.

log2 of the threshold is a random walk seen through each block's own uncertainty: the local level model (A. C. Harvey
1989, Forecasting, Structural Time Series Models and the Kalman Filter, section 4.1). The forward filter (R. E. Kalman
1960) gives the next block's prior, the backward smoother (H. E. Rauch, F. Tung and C. T. Striebel 1965, AIAA Journal 3,
1445-1450) the trend with its band; these references are recalled, the arithmetic is held against least squares and
statsmodels by tests. One history is one listener in one condition: the caller sorts blocks out.

The walk's steps are larger in the first blocks, where an ear learns most: untrained listeners come near musicians'
pitch thresholds, six times finer, within four to eight hours of practice (C. Micheyl, K. Delhommeau, X. Perrot and
A. J. Oxenham 2006, Hearing Research 219, 36-47). Imports errors and below.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import TYPE_CHECKING

from centwise.ear.normal import Z_90_TWO_SIDED
from centwise.ear.prior import OCTAVES_PER_ROOT_DAY, Prior, prior_from
from centwise.ear.student import t_95_two_sided
from centwise.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

Z_95_TWO_SIDED = 1.959963984540054
GOOD_AND_BAD_DAYS_OCTAVES = 0.1
"""What a threshold scatters from block to block beside what its interval says, one standard deviation (a judgement)."""
OWN_SCATTER_SESSIONS = 5
"""So many sessions tell how far they scatter (a judgement: fewer make Student's t wider than the walk of a month)."""
PRACTICE_OCTAVES = 0.4
"""How far a threshold wanders from the first compared block to the next by practice alone, one standard deviation. A
judgement, by simulation: with it the last band holds a listener who goes from 24 to 8 cents in 14 days as often as it
should, and costs one who stays where they are little (docs/efficiency.md)."""
PRACTICE_FADES_BLOCKS = 10
"""After this many compared blocks practice moves a threshold half as far a block, after twice as many a third."""


@dataclass(frozen=True, slots=True)
class Session:
    """One block's threshold in cents with its 90 % interval, and when it was, in days from any fixed instant."""

    days: float
    threshold_cents: float
    low_cents: float
    high_cents: float

    def __post_init__(self) -> None:
        """Refuse what cannot be a block's result."""
        if not math.isfinite(self.days):
            raise InputError(f"a session on day {self.days:g} has no place in a history", "give a finite day")
        if not 0.0 < self.low_cents < self.high_cents < math.inf or not 0.0 < self.threshold_cents < math.inf:
            raise InputError(
                f"a threshold of {self.threshold_cents:g} cents between {self.low_cents:g} and {self.high_cents:g} is"
                " no block's result",
                "give sizes above 0, the low end first",
            )

    @property
    def octaves(self) -> float:
        """log2 of the threshold in cents."""
        return math.log2(self.threshold_cents)

    @property
    def sd_octaves(self) -> float:
        """Standard error of `octaves` that the interval stands for."""
        return math.log2(self.high_cents / self.low_cents) / (2.0 * Z_90_TWO_SIDED)


@dataclass(frozen=True, slots=True)
class TrendPoint:
    """The level on a session's day by all sessions, later ones too, in cents with its 90 % band."""

    days: float
    threshold_cents: float
    low_cents: float
    high_cents: float


@dataclass(frozen=True, slots=True)
class History:
    """What a row of sessions says; make one with `history_of`.

    Attributes:
        sessions: all of them, oldest first. The very first is shown, not compared: it is mostly learning the task.
        trend: one point for each session that is compared.
        level_octaves: the level after the last session, by the forward filter, as log2 of the threshold in cents.
        level_sd_octaves: its standard deviation.
    """

    sessions: tuple[Session, ...]
    trend: tuple[TrendPoint, ...]
    level_octaves: float
    level_sd_octaves: float
    _smoothed: tuple[tuple[float, float], ...]
    _gains: tuple[float, ...]

    @property
    def compared(self) -> tuple[Session, ...]:
        """The sessions that are compared."""
        return self.sessions[1:]

    def prior(self, days: float) -> Prior:
        """Return the prior of a block on a later day."""
        spread = math.hypot(self.level_sd_octaves, practice_sd_octaves(max(len(self.compared), 1)))
        return prior_from(2.0**self.level_octaves, spread, self._gone(days))

    def foreseen_cents(self, days: float, sd_octaves: float) -> tuple[float, float]:
        """Return the two thresholds between which a block on a later day lies with 95 % probability, if all is as ever.

        The ear is taken to have stayed where it was, but for the walk of the days gone by: practice is left out, for
        the question is whether something is amiss. From five compared sessions on, their own scatter about their mean
        tells, however long ago they were; it is never taken for smaller than what a block's interval stands for.

        Args:
            days: when the block was, on or after the last session's day.
            sd_octaves: the block's own standard error.
        """
        gone = self._gone(days)
        used = self.compared or self.sessions
        octaves = [session.octaves for session in used]
        own = math.hypot(sd_octaves, GOOD_AND_BAD_DAYS_OCTAVES)
        seen = [session.sd_octaves**2 + GOOD_AND_BAD_DAYS_OCTAVES**2 for session in used]
        if len(used) >= OWN_SCATTER_SESSIONS:
            middle = fmean(octaves)
            scatter = max(stdev(octaves), math.sqrt(fmean(seen)), own)
            half = t_95_two_sided(len(used) - 1) * scatter * math.sqrt(1.0 + 1.0 / len(used))
        else:
            certainty = sum(1.0 / variance for variance in seen)
            middle = sum(octave / variance for octave, variance in zip(octaves, seen, strict=True)) / certainty
            half = Z_95_TWO_SIDED * math.sqrt(1.0 / certainty + own**2 + OCTAVES_PER_ROOT_DAY**2 * gone)
        return 2.0 ** (middle - half), 2.0 ** (middle + half)

    def improvement_chance(self, since_days: float) -> float | None:
        """Return the probability that the ear has really become finer since a day.

        Args:
            since_days: compared is the level on the first compared session's day at or after this one.

        Returns:
            A probability, or None where there are no two compared sessions from that day on.
        """
        days = [session.days for session in self.compared]
        start = next((i for i, day in enumerate(days) if day >= since_days), len(days))
        if start >= len(days) - 1:
            return None
        then, now = self._smoothed[start], self._smoothed[-1]
        # The two levels are seen by the same sessions and share their errors: their covariance is the gains' product.
        shared = math.prod(self._gains[start:]) * now[1]
        spread = math.sqrt(max(then[1] + now[1] - 2.0 * shared, 0.0))
        ahead = then[0] - now[0]
        return 0.5 * math.erfc(-ahead / (spread * math.sqrt(2.0))) if spread > 0.0 else float(ahead > 0.0)

    def _gone(self, days: float) -> float:
        gone = days - self.sessions[-1].days
        if not 0.0 <= gone < math.inf:
            raise InputError(
                f"day {days:g} lies before the last session's, day {self.sessions[-1].days:g}", "ask for a later one"
            )
        return gone


def practice_sd_octaves(blocks: int) -> float:
    """Return how far practice moves a threshold up to the next block, one standard deviation in octaves.

    Args:
        blocks: how many have been compared before, 1 or more.
    """
    return PRACTICE_OCTAVES / (1.0 + blocks / PRACTICE_FADES_BLOCKS)


def step_variance(days: float, blocks: int) -> float:
    """Return the variance of a threshold's way from one block to the next, in square octaves.

    Args:
        days: the time between the two, 0 or more.
        blocks: how many have been compared before, 1 or more.
    """
    return OCTAVES_PER_ROOT_DAY**2 * days + practice_sd_octaves(blocks) ** 2


def history_of(sessions: Sequence[Session]) -> History:
    """Return what sessions say together.

    Args:
        sessions: at least one, oldest first; of one listener in one condition.

    Raises:
        InputError: no session, or one that is out of order.
    """
    if not sessions:
        raise InputError("no session makes no history", "give at least one")
    for number, (before, after) in enumerate(itertools.pairwise(sessions), start=2):
        if after.days < before.days:
            raise InputError(f"session {number} is of day {after.days:g}, before the one before it", "sort them by day")
    # A single block still tells the next one where to start.
    used = sessions[1:] or sessions
    filtered, foreseen = _filtered(used)
    smoothed, gains = _smoothed_back(filtered, foreseen)
    trend = tuple(_point(session, level) for session, level in zip(sessions[1:], smoothed, strict=False))
    level, variance = filtered[-1]
    return History(tuple(sessions), trend, level, math.sqrt(variance), tuple(smoothed), tuple(gains))


def _filtered(sessions: Sequence[Session]) -> tuple[list[tuple[float, float]], list[float]]:
    """Return mean and variance after each session, and the variance foreseen just before it."""
    filtered: list[tuple[float, float]] = []
    foreseen: list[float] = []
    for i, session in enumerate(sessions):
        seen = session.sd_octaves**2 + GOOD_AND_BAD_DAYS_OCTAVES**2
        if not filtered:
            # Nothing is known before the first: it is taken as it stands.
            foreseen.append(math.inf)
            filtered.append((session.octaves, seen))
            continue
        mean, variance = filtered[-1]
        variance += step_variance(session.days - sessions[i - 1].days, i)
        gain = variance / (variance + seen)
        foreseen.append(variance)
        filtered.append((mean + gain * (session.octaves - mean), (1.0 - gain) * variance))
    return filtered, foreseen


def _smoothed_back(
    filtered: list[tuple[float, float]], foreseen: list[float]
) -> tuple[list[tuple[float, float]], list[float]]:
    """Return mean and variance of each level by all sessions, and the gains from each to the next."""
    # Latest first while it is built, so that a long history costs no more a session than a short one.
    smoothed = [filtered[-1]]
    gains: list[float] = []
    for (mean, variance), ahead in zip(filtered[-2::-1], foreseen[:0:-1], strict=True):
        gain = variance / ahead
        later_mean, later_variance = smoothed[-1]
        smoothed.append((mean + gain * (later_mean - mean), variance + gain**2 * (later_variance - ahead)))
        gains.append(gain)
    return smoothed[::-1], gains[::-1]


def _point(session: Session, level: tuple[float, float]) -> TrendPoint:
    mean, half = level[0], Z_90_TWO_SIDED * math.sqrt(level[1])
    return TrendPoint(session.days, 2.0**mean, 2.0 ** (mean - half), 2.0 ** (mean + half))
