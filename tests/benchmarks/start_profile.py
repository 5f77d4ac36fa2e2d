"""Where the time goes until the app's first frame: `python tests/benchmarks/start_profile.py`.

Starts the app at a pseudo-terminal with Python's own `-X importtime`, up to the first frame, and sums what each package
took to load, without the packages it loads in turn. Telling every import takes time itself, so the sums are for
comparing with one another.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from first_frame import BARE_APP, BARE_WORDS, OUR_WORDS, first_frame
from performance_table import figure

if TYPE_CHECKING:
    from collections.abc import Mapping

COMMAND = "python tests/benchmarks/start_profile.py"
LINE = re.compile(r"import time:\s+(\d+) \|\s+(\d+) \|( +)([\w.]+)")
LEAST_MS = 5.0
"""Packages that take less are summed up as the rest."""
SLOWEST = 10
ROUNDS = 3


def imports_ms(written: str) -> dict[str, float]:
    """Read what `-X importtime` tells: milliseconds of each module by itself, by its full name."""
    found: dict[str, float] = {}
    for self_us, _, _, name in LINE.findall(written):
        found[name] = found.get(name, 0.0) + int(self_us) / 1e3
    return found


def by_package(modules_ms: Mapping[str, float]) -> dict[str, float]:
    """Sum modules up by package, those of the standard library as one."""
    sums: Counter[str] = Counter()
    for name, milliseconds in modules_ms.items():
        top = name.partition(".")[0]
        # `copy` looks for a module of another Python, whose name begins with org.
        sums["the standard library" if top in sys.stdlib_module_names or top == "org" else top] += milliseconds
    return dict(sums)


def profiled(words: tuple[str, ...], folder: Path, *arguments: str | Path) -> tuple[float, dict[str, float]]:
    """Return milliseconds to the first frame and of each module, of the quickest of a few starts."""
    runs = [first_frame(words, folder, *arguments, more={"PYTHONPROFILEIMPORTTIME": "1"}) for _ in range(ROUNDS)]
    taken_s, written = min(runs)
    return 1e3 * taken_s, imports_ms(written)


def section(folder: Path) -> str:
    """Measure, and return the part of the page on the start."""
    bare = folder / "bare.py"
    bare.write_text(BARE_APP, encoding="utf-8")
    ours_ms, ours = profiled(OUR_WORDS, folder, sys.executable, "-m", "centwise")
    theirs_ms, theirs = profiled(BARE_WORDS, folder, sys.executable, bare)
    packages, bare_packages = by_package(ours), by_package(theirs)
    shown = sorted((n for n, ms in packages.items() if ms >= LEAST_MS), key=lambda name: -packages[name])
    rows = [(name, packages[name], bare_packages.get(name, 0.0)) for name in shown]
    rest = [sum(ms for name, ms in some.items() if name not in shown) for some in (packages, bare_packages)]
    rows.append(("all other packages", rest[0], rest[1]))
    rows.append(("no import: the interpreter, the store, the first page", *_left((ours_ms, ours), (theirs_ms, theirs))))
    rows.append(("**to the first frame**", ours_ms, theirs_ms))
    lines = "\n".join(f"| {name} | {figure(a)} | {figure(b)} |" for name, a, b in rows)
    posts = sorted(((ms, name) for name, ms in ours.items() if name not in theirs), reverse=True)[:SLOWEST]
    listed = "\n".join(f"| `{name}` | {figure(ms)} |" for ms, name in posts)
    return f"""## Where the start goes

Milliseconds until the first frame at a terminal of 80 by 24, by package, each without what it loads in turn, in the
quickest of {ROUNDS} starts. Measured by

    {COMMAND}

which starts the app under `python -X importtime`; telling every import takes time itself, so the sums are for comparing
with one another, and the table above has the true ones. {len(ours)} modules are loaded, {len(theirs)} by the bare app.

| package | centwise, ms | bare Textual app, ms |
|---|---:|---:|
{lines}

The slowest modules that the bare app does not load:

| module | ms |
|---|---:|
{listed}
"""


def _left(*runs: tuple[float, dict[str, float]]) -> tuple[float, float]:
    ours, theirs = (total - sum(modules.values()) for total, modules in runs)
    return ours, theirs


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        print(section(Path(folder)))


if __name__ == "__main__":
    main()
