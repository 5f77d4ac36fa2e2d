"""How long a large class takes to pass from store to store, and how it grows: a table for the issue's bar.

    python tests/benchmarks/exchange.py --trials 125000 250000 500000 1000000

Each size is a class of 40 blocks a listener, 25 answers a block, two others merged into each listener: a file of the
data format is written, imported into an empty store, imported again, and exported; each in a process of its own, whose
seconds, processor seconds and largest memory are told. The bar is 90 s for the import of 1,000,000 answers, and 500 MB.
"""

from __future__ import annotations

import argparse
import filecmp
import json
import os
import subprocess
import sys
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from centwise import __version__
from centwise.exchange.lines import lines_of
from centwise.exchange.records import BlockRecord, ListenerRecord
from centwise.model import BlockPlan, BlockResult, Condition, Listener, Trial

if TYPE_CHECKING:
    from collections.abc import Iterator

BLOCKS, ANSWERS = 40, 25
BEGIN = datetime(2026, 1, 1, tzinfo=UTC)


def records(trials: int) -> Iterator[ListenerRecord | BlockRecord]:
    """Give a class with so many answers; ids are numbers in the form of UUIDs."""
    for number in range(trials // (BLOCKS * ANSWERS)):
        listener_id = f"{number:08x}-0000-4000-8000-000000000000"
        # Two others were merged into each: an import asks of every block whom its listener means.
        merged_ids = tuple(f"{number:08x}-0000-4000-8000-{other:012x}" for other in (1, 2))
        yield ListenerRecord(Listener(listener_id, f"Pupil {number}"), 1, merged_ids)
        for count in range(BLOCKS):
            start = BEGIN + timedelta(days=count, minutes=number)
            plan = BlockPlan(
                id=f"{number:08x}-0000-4000-8000-{count:012x}",
                listener_id=listener_id,
                condition=Condition(string=4 if count % 2 else 1),
                rule="balanced",
                trials=ANSWERS,
                assess=False,
                seed=number * BLOCKS + count,
                scale_mm=666.75,
                player="miniaudio",
                started_at=start,
            )
            answers = tuple(
                Trial(
                    n,
                    (-1.0) ** n * 40.0 / n,
                    "harmonic",
                    "flat" if n % 2 else "sharp",
                    start + timedelta(seconds=9 * n),
                )
                for n in range(1, ANSWERS + 1)
            )
            result = BlockResult(ANSWERS, ANSWERS, 9.0, 6.5, 12.5, 0.5, -2.0, 3.0, 6.0, 3.5, 2.5, 4.9, 9)
            yield BlockRecord(plan, answers, result, start + timedelta(minutes=4), 1)


def command(*arguments: str) -> tuple[float, float, float, str]:
    """Run centwise in a process of its own; return seconds, the processor's, megabytes at most, and what it said."""
    code = (
        "import resource, sys, time; from centwise.cli.main import run\n"
        "begin = time.perf_counter(); code = run(sys.argv[1:]); passed = time.perf_counter() - begin\n"
        "megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024\n"
        "print(passed, time.process_time(), megabytes, file=sys.stderr)\n"
        "sys.exit(code)"
    )
    done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True)
    passed, processor, megabytes = done.stderr.splitlines()[-1].split()
    return float(passed), float(processor), float(megabytes), done.stdout


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trials", type=int, nargs="+", default=[125_000, 250_000, 500_000, 1_000_000])
    options = parser.parse_args()
    before = os.getloadavg()[0]
    print("| answers | file, MB | import, s | processor, s | again, s | processor, s | export, s | processor, s | MB |")
    print("|---:|---:|---:|---:|---:|---:|---:|---:|---:|")
    for trials in options.trials:
        with tempfile.TemporaryDirectory() as folder:
            file, data, copy = (Path(folder) / name for name in ("class.jsonl", "data", "copy.jsonl"))
            with file.open("w", encoding="ascii") as out:
                out.writelines(lines_of(records(trials), written_by=__version__, names=True))
            said: dict[str, str] = {}
            cells, most = [f"{trials:,}", f"{file.stat().st_size / 1e6:.0f}"], 0.0
            for what, arguments in {
                "import": ("import", str(file), "--json"),
                "again": ("import", str(file), "--json"),
                "export": ("export", str(copy)),
            }.items():
                passed, processor, memory, said[what] = command(*arguments, "--data", str(data))
                cells += [f"{passed:.1f}", f"{processor:.1f}"]
                most = max(most, memory)
            assert json.loads(said["import"])["trials"] == trials
            assert json.loads(said["again"])["trials"] == 0
            # In portions: a child's largest memory begins with its parent's.
            assert filecmp.cmp(copy, file, shallow=False)
            print(f"| {' | '.join([*cells, f'{most:.0f}'])} |", flush=True)
    print(f"\nLoad before and after: {before:.1f} and {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors.")


if __name__ == "__main__":
    main()
