"""The two heavy parts of the chain's check, worked out once a run: both are the same for the same seed."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from centwise.chain import estimate, tones
from centwise.strings.library import BUILT_IN

if TYPE_CHECKING:
    from centwise.chain.line import CheckLine
    from centwise.strings.instrument import Instrument

_check_tones, _check_estimate = tones.check_tones, estimate.check_estimate


@cache
def _tones_of(name: str, seed: int) -> CheckLine:
    return _check_tones(BUILT_IN.named(name), seed)


def tones_once(instrument: Instrument, seed: int) -> CheckLine:
    """Check the tones of an instrument of the package as it comes."""
    assert instrument == BUILT_IN.named(instrument.name)
    return _tones_of(instrument.name, seed)


@cache
def estimate_once() -> CheckLine:
    """Check the estimate."""
    return _check_estimate()
