"""The observer, the posterior, the placement of trials, simulated listeners. Pure: numpy; imports ports and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from centwise.ear.threshold import ThresholdFit, estimate_threshold

__all__ = ["ThresholdFit", "estimate_threshold"]


def __getattr__(name: str) -> Any:  # noqa: ANN401  whatever the name stands for
    """Import the public fit when it is asked for: numpy is not loaded before."""
    if name in __all__:
        from centwise.ear import threshold  # noqa: PLC0415  loaded on demand

        return getattr(threshold, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
