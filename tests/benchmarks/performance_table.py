"""The one table of all benchmarks: each figure as a ratio to its reference, with its bar and whether it holds."""

from __future__ import annotations

import importlib.metadata
import os
import platform
from dataclasses import dataclass
from datetime import UTC, datetime

PLACES = (
    "start",
    "first frame",
    "key to sound",
    "bench act",
    "render",
    "trial",
    "simulate",
    "measure",
    "class view",
    "progress",
    "report",
    "import",
)
"""What is measured, in the order of the table; a table without one of them is not written."""
COMMAND = "pytest tests/benchmarks --benchmark-only --performance docs/performance.md"
LIBRARIES = ("numpy", "textual", "matplotlib")


@dataclass(frozen=True)
class Row:
    """One figure.

    Attributes:
        place: one of `PLACES`.
        what: what was done, in words.
        took: the figure with its unit.
        reference: what it is held against, with its own figure where it has one.
        ratio: figure over reference; None where a reference would say nothing.
        bar: what is asked of it; empty for a figure that is only told.
        holds: whether the bar is kept.
    """

    place: str
    what: str
    took: str
    reference: str
    ratio: float | None
    bar: str = ""
    holds: bool = True

    @property
    def line(self) -> str:
        ratio = "" if self.ratio is None else f"{figure(self.ratio)} ×"
        kept = "" if not self.bar else "yes" if self.holds else "**no**"
        return f"| {self.place} | {self.what} | {self.took} | {self.reference} | {ratio} | {self.bar} | {kept} |"


class Table:
    """The rows so far; of two of the same work the slower one stays."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str], Row] = {}
        self.profile = ""
        self.load_before = load()

    def time(
        self,
        place: str,
        what: str,
        took_s: float,
        reference: str,
        reference_s: float,
        *,
        most_ratio: float | None = None,
        most_s: float | None = None,
    ) -> bool:
        """Add a time beside its reference's, and return whether it keeps its bar: a ratio, or seconds, or none."""
        ratio = took_s / reference_s
        bar = "" if most_ratio is None else f"{figure(most_ratio)} ×"
        holds = most_ratio is None or ratio <= most_ratio
        if most_s is not None:
            bar, holds = seconds(most_s), took_s <= most_s
        told = f"{reference}, {seconds(reference_s)}"
        return self.add(Row(place, what, seconds(took_s), told, ratio, bar, holds))

    def add(self, row: Row) -> bool:
        """Add a row and return whether it keeps its bar."""
        if row.place not in PLACES:
            raise ValueError(f"{row.place!r} is no place of the table")
        there = self.rows.get((row.place, row.what))
        if there is None or (row.ratio or 0.0) > (there.ratio or 0.0):
            self.rows[row.place, row.what] = row
        return row.holds

    @property
    def missing(self) -> list[str]:
        """Places nothing was measured of."""
        measured = {place for place, _ in self.rows}
        return [place for place in PLACES if place not in measured]

    def document(self) -> str:
        """Return the page: how it was measured, the table, where the start goes."""
        rows = sorted(self.rows.values(), key=lambda row: PLACES.index(row.place))
        barred = [row for row in rows if row.bar]
        kept = sum(row.holds for row in barred)
        return f"""# How fast it is

Measured {datetime.now(UTC):%Y-%m-%d} in one run of

    {COMMAND}

on {machine()}. {_load_told(self.load_before, load())}
{kept} of {len(barred)} bars are kept.

Each figure stands beside a reference measured in the same run: where a reference does comparable work it is named;
elsewhere it is the sine loop, 40 partials over 2 s at 48 kHz with a numpy sine and a decay for each, which says how
fast the machine is. Whole programs and their references run by turns, and medians are taken; of repeated work within
a process the shortest time, because what else the machine does only ever adds to it; of answers to a key the 95th
percentile. Of the same work on several strings, rules or levels of noise, the slowest is shown.

| of | what | took | reference | ratio | bar | kept |
|---|---|---:|---|---:|---:|---|
{chr(10).join(row.line for row in rows)}

The larger studies have pages of their own: a class of 100, 300 and 1,000 listeners in [scale.md](scale.md), the
exactness of the estimate in [efficiency.md](efficiency.md), a million answers passed from store to store in
[data-format.md](data-format.md).

{self.profile}"""


def figure(value: float) -> str:
    """Write a number with three digits that count, and no more noughts than needed."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def seconds(value: float) -> str:
    """Write a time in seconds, or in milliseconds below a second."""
    return f"{figure(value)} s" if value >= 1.0 else f"{figure(1e3 * value)} ms"


def machine() -> str:
    """Say what was measured on, in general words."""
    versions = [f"Python {platform.python_version()}"]
    versions += [f"{name} {importlib.metadata.version(name)}" for name in LIBRARIES]
    return f"{platform.system()} ({platform.machine()}) with {os.cpu_count()} processors, {', '.join(versions)}"


def load() -> float | None:
    """Return how many processes wanted a processor over the last minute, where the system tells."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else None


def _load_told(before: float | None, after: float | None) -> str:
    if before is None or after is None:
        return "The system does not tell its load."
    return f"Load before and after: {before:.1f} and {after:.1f}; the run itself makes about 1."
