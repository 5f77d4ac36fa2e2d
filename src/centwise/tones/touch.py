"""How one pluck turned out: where, how loud, with which phases. Drawn afresh for every tone.

The number of draws is the same for every string, rate, voice and offset, so nothing drawn can tell any of them.
Imports numpy and nothing of centwise.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

POINT_MM = (45.0, 63.0)
"""Where the finger plucks, from the bridge: part of the 45 to 90 mm that are played (common practice, no source)."""
ROVE_DB = 2.0
"""Every tone is up to so much louder or softer, so that loudness cannot be taken for pitch."""
TILT_DB_PER_OCTAVE = (-0.4, 1.2)
"""Every tone is so much duller or brighter (judgement), so that brightness cannot be taken for pitch."""
PICK_S = 0.004
MOST_PARTIALS = 256
MOST_SYMPATHETIC = 256
_BODY_MODES = 11
_HIGHEST_RATE_HZ = 192_000


@dataclass(frozen=True, slots=True)
class Touch:
    """One pluck. All angles are within 0 to 2 pi.

    Attributes:
        point_mm: distance of the plucked point from the bridge.
        level_db: rove, -2 to 2.
        tilt_db_per_octave: what the partials have on top, the first none.
        phases_rad: shape (256,), of the lasting partials.
        quenched_phases_rad: shape (256,), of the modes a touch at the node quenches.
        body_phases_rad: shape (11,).
        sympathetic_phases_rad: shape (256,), of the other strings.
        pick: shape (768,), white noise within -1..1; as many of it are used as the rate has frames in 4 ms.
    """

    point_mm: float
    level_db: float
    tilt_db_per_octave: float
    phases_rad: NDArray[np.float64] = field(repr=False)
    quenched_phases_rad: NDArray[np.float64] = field(repr=False)
    body_phases_rad: NDArray[np.float64] = field(repr=False)
    sympathetic_phases_rad: NDArray[np.float64] = field(repr=False)
    pick: NDArray[np.float64] = field(repr=False)


def draw_touch(rng: np.random.Generator) -> Touch:
    """Draw one pluck from a generator; always takes the same number of draws."""
    turn = 2.0 * np.pi
    return Touch(
        point_mm=rng.uniform(*POINT_MM),
        level_db=rng.uniform(-ROVE_DB, ROVE_DB),
        tilt_db_per_octave=rng.uniform(*TILT_DB_PER_OCTAVE),
        phases_rad=rng.uniform(0.0, turn, MOST_PARTIALS),
        quenched_phases_rad=rng.uniform(0.0, turn, MOST_PARTIALS),
        body_phases_rad=rng.uniform(0.0, turn, _BODY_MODES),
        sympathetic_phases_rad=rng.uniform(0.0, turn, MOST_SYMPATHETIC),
        pick=rng.uniform(-1.0, 1.0, round(PICK_S * _HIGHEST_RATE_HZ)),
    )
