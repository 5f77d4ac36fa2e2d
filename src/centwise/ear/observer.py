"""The listener as a model: from an offset to the chances of the three answers.

The heard difference is normal about the offset plus a constant bias; below minus the window it is called flat, above
plus the window sharp, between them unison; with the lapse rate one of the three answers comes at random. For one
offset this is the 2-AC protocol (R. H. B. Christensen, H.-S. Lee and P. B. Brockhoff 2012, Food Quality and
Preference), over offsets an ordered probit. Imports numpy, errors and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from centwise.ear.normal import normal_cdf
from centwise.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def response_probabilities(
    offset_cents: ArrayLike,
    sigma_cents: ArrayLike,
    bias_cents: ArrayLike,
    window_cents: ArrayLike,
    lapse_rate: ArrayLike,
) -> NDArray[np.float64]:
    """Return the chances of the answers flat, unison and sharp.

    Args:
        offset_cents: signed cents of the second thing judged over the first, any finite value.
        sigma_cents: standard deviation of one judgement, above 0.
        bias_cents: constant error added to the offset.
        window_cents: half-width of what is called unison, 0 or more.
        lapse_rate: chance of an answer that has nothing to do with the sound, 0 to 1.

    Returns:
        Shape (..., 3), the arguments broadcast together, then flat, unison, sharp; each last axis sums to 1.

    Raises:
        InputError: an argument outside its range, or not a finite number.
    """
    offset, sigma, bias, window, lapse = (
        np.asarray(value, dtype=np.float64)
        for value in (offset_cents, sigma_cents, bias_cents, window_cents, lapse_rate)
    )
    for name, values, lowest, highest, wanted in (
        ("an offset", offset, -np.inf, np.inf, "a finite value"),
        ("a sigma", sigma, np.nextafter(0.0, 1.0), np.inf, "a value above 0"),
        ("a bias", bias, -np.inf, np.inf, "a finite value"),
        ("a window", window, 0.0, np.inf, "a value of 0 or more"),
        ("a lapse rate", lapse, 0.0, 1.0, "a value from 0 to 1"),
    ):
        wrong = ~np.isfinite(values) | (values < lowest) | (values > highest)
        if np.any(wrong):
            culprit = values[wrong].flat[0]
            raise InputError(f"{name} of {culprit:g} is not possible in the observer", f"give {wanted}")
    flat = normal_cdf((-offset - bias - window) / sigma)
    sharp = normal_cdf((offset + bias - window) / sigma)
    flat, sharp = (np.asarray((1.0 - lapse) * chance + lapse / 3.0) for chance in (flat, sharp))
    # Not below zero by a rounding error.
    unison = np.maximum(1.0 - flat - sharp, 0.0)
    return np.stack(np.broadcast_arrays(flat, unison, sharp), axis=-1)
