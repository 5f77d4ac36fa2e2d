"""A listener made of numbers: answers by the observer's chances, with drift, lapses, caution and bias as asked.

Imports numpy, model and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import Z_75
from centwise.ear.observer import response_probabilities
from centwise.errors import InputError
from centwise.model import JUDGEMENTS

if TYPE_CHECKING:
    from centwise.model import Judgement, Tone


@dataclass(frozen=True, slots=True)
class SimulatedListener:
    """An observer with known parameters.

    Attributes:
        sigma_cents: standard deviation of one judgement at the first trial, above 0.
        window_cents: half-width of what is called unison, 0 or more: caution is a wide one.
        bias_cents: constant error that follows the tones.
        lapse_rate: chance of an answer at random, 0 to 1.
        drift_octaves: how much log2 sigma changes from one trial to the next: below 0 the listener improves.
        order_error_cents: constant error that follows the positions: + hears the second tone sharp.
    """

    sigma_cents: float
    window_cents: float
    bias_cents: float = 0.0
    lapse_rate: float = 0.0
    drift_octaves: float = 0.0
    order_error_cents: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible parameters with the observer's own words."""
        response_probabilities(0.0, self.sigma_cents, self.bias_cents, self.window_cents, self.lapse_rate)
        for name, value in (("a drift", self.drift_octaves), ("an order error", self.order_error_cents)):
            if not np.isfinite(value):
                raise InputError(f"{name} of {value:g} is not possible in the observer", "give a finite value")

    @property
    def threshold_cents(self) -> float:
        """The true threshold at the first trial, 0.6745 sigma."""
        return Z_75 * self.sigma_cents

    def judge(
        self, offset_cents: float, rng: np.random.Generator, *, n: int = 1, first: Tone = "harmonic"
    ) -> Judgement:
        """Answer one pair.

        Args:
            offset_cents: signed cents of the fretted note over the harmonic.
            rng: a stream of this trial's own; one uniform is drawn.
            n: number of the trial, from 1: only a drifting listener minds.
            first: the tone heard first: only a listener with an order error minds.
        """
        sigma = self.sigma_cents * 2.0 ** (self.drift_octaves * (n - 1))
        bias = self.bias_cents + (self.order_error_cents if first == "harmonic" else -self.order_error_cents)
        chances = response_probabilities(offset_cents, sigma, bias, self.window_cents, self.lapse_rate)
        return JUDGEMENTS[int(answer_codes(chances, np.asarray(rng.random())))]


def answer_codes(chances: np.ndarray, uniforms: np.ndarray) -> np.ndarray:
    """Return 0, 1, 2 for flat, unison, sharp from chances (..., 3) and one uniform draw each (...)."""
    flat, sharp = chances[..., 0], chances[..., 2]
    return np.asarray(np.where(uniforms < flat, 0, np.where(uniforms < 1.0 - sharp, 1, 2)))
