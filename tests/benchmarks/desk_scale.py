"""How the store and the teacher's screens bear size: `python tests/benchmarks/desk_scale.py`.

Makes classes of 100, 300 and 1,000 listeners with 25 blocks of 40 pairs each (a million answers in the largest), opens
each in a fresh process, and prints what it took beside the bars of the largest: class view 1 s, a listener's page 2 s
(on the screen and as `--html`), `progress --json` of everybody 5 s, 500 MB. Exit code 1 when a bar is missed, or when
something grows faster than the store does. `--write FILE` puts the table into a file.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import json
import os
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from made_class import MadeClass, make_class

SIZES = (100, 300, 1000)
SCREEN = (120, 40)
PATIENCE_S = 60.0
NAMES = {
    "store_mb": "store on disk, MB",
    "start_s": "app to the listeners' names, s",
    "class_first_s": "class view, rows still to be worked out, s",
    "class_first_cpu_s": "  the same, processor seconds",
    "class_s": "class view, s",
    "page_s": "one listener's page, s",
    "sort_s": "class sorted anew, s",
    "find_s": "a name found by typing, a key, s",
    "lines_s": "centwise progress, the class in lines, s",
    "json_s": "centwise progress --json, everybody, s",
    "json_cpu_s": "  the same, processor seconds",
    "html_s": "centwise progress --html, one listener, s",
    "ways_s": "  with ten ways of hearing, s",
    "ways_cpu_s": "  the same, processor seconds",
    "app_mb": "memory of the app, MB",
    "json_mb": "memory of --json, MB",
}
BARS = {
    "class_first_s": 1.0,
    "class_s": 1.0,
    "page_s": 2.0,
    "html_s": 2.0,
    "ways_s": 2.0,
    "json_s": 5.0,
    "app_mb": 500.0,
    "json_mb": 500.0,
}
GROWING = ("store_mb", "class_first_cpu_s", "json_cpu_s")
SLACK = 1.5
"""From one size to the next nothing that grows may grow by more than this times the listeners."""


def measured(folder: Path) -> dict[str, float]:
    """Return the figures of one store, each from a process of its own."""
    figures = {"store_mb": sum(file.stat().st_size for file in folder.glob("centwise.sqlite3*")) / 1e6}
    # Twice: the first one finds rows still to be worked out, the second one what is kept.
    first = json.loads(_child("app", folder))
    second = json.loads(_child("app", folder))
    figures |= {key: second[key] for key in ("start_s", "class_s", "page_s", "sort_s", "find_s")}
    figures["class_first_s"], figures["class_first_cpu_s"] = first["class_s"], first["class_cpu_s"]
    figures["app_mb"] = max(first["app_mb"], second["app_mb"])
    for key, arguments in (("lines", ("progress",)), ("json", ("progress", "--json"))):
        begun = time.perf_counter()
        figures |= {f"{key}_{what}": x for what, x in json.loads(_child("command", folder, *arguments)).items()}
        figures[f"{key}_s"] = time.perf_counter() - begun
    return figures


def measured_page(folder: Path, ways: Path) -> dict[str, float]:
    """Return the figures of a page to print: of a listener of the class, and of one who hears in ten ways."""
    figures = {}
    for key, data, name in (("html", folder, "Listener 00007"), ("ways", ways, "Listener 00000")):
        arguments = ("progress", "--listener", name, "--html", str(folder.with_name("page.html")))
        begun = time.perf_counter()
        found = json.loads(_child("command", data, *arguments))
        figures |= {f"{key}_s": time.perf_counter() - begun, f"{key}_cpu_s": found["cpu_s"]}
    return figures


def _child(*arguments: object) -> str:
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    run = subprocess.run(
        [sys.executable, __file__, "--child", *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        env=environment,
    )
    if run.returncode:
        raise SystemExit(run.stderr)
    return run.stderr.splitlines()[-1]


def _peak_mb() -> float:
    import resource

    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1e6 if sys.platform == "darwin" else 1e3)


def command_child(folder: Path, arguments: list[str]) -> None:
    """Run one command as the program does, and tell the peak of its memory."""
    from centwise.cli.main import run

    code = run([*arguments, "--data", str(folder)])
    if code:
        raise SystemExit(code)
    sys.stderr.write(f"\n{json.dumps({'mb': _peak_mb(), 'cpu_s': time.process_time()})}\n")


async def app_child(folder: Path) -> None:
    """Open the app on the store, go to the class and a page, and tell how long each took from its key on."""
    begun = time.perf_counter()
    import textual.app
    import textual.pilot

    async def briefly(_least: float = 0.0, _most: float = 0.0) -> None:
        await asyncio.sleep(0)

    # A key is not followed by a wait until the process is idle.
    textual.pilot.wait_for_idle = briefly  # type: ignore[attr-defined]
    textual.app.wait_for_idle = briefly  # type: ignore[attr-defined]
    from textual.widgets import OptionList

    from centwise.audio.open import open_player
    from centwise.bootstrap import build_services
    from centwise.planning import BlockRequest
    from centwise.settings.load import Settings
    from centwise.tui.app import CentwiseApp
    from centwise.tui.class_table import ClassTable
    from centwise.tui.desk import Desk

    settings = Settings(folder, player="silent")
    services = build_services(settings, player="silent")
    desk = Desk(services, settings, BlockRequest(), silent_player=lambda: open_player("silent", services.clock))
    app = CentwiseApp(desk)
    figures: dict[str, float] = {}

    async def until(there: object) -> None:
        end = time.perf_counter() + PATIENCE_S
        while time.perf_counter() < end:
            try:
                if there():  # type: ignore[operator]
                    return
            except Exception:  # noqa: BLE001  the page does not stand yet
                pass
            # Seldom enough not to take the processor from the work that is waited for.
            await asyncio.sleep(0.01)
        raise SystemExit(f"nothing came within {PATIENCE_S:g} s")

    def text() -> str:
        lines = app.screen._compositor.render_strips()
        return "\n".join("".join(segment.text for segment in line) for line in lines)

    async with app.run_test(size=SCREEN) as pilot:
        await until(lambda: app.screen.query_one(OptionList).option_count)
        figures["start_s"] = time.perf_counter() - begun
        # As a person would: the heavy half has been loading since the first frame.
        await asyncio.sleep(3.0)

        async def timed(name: str, key: str, there: object) -> None:
            at, processor = time.perf_counter(), time.process_time()
            await pilot.press(key)
            await until(there)
            figures[name] = time.perf_counter() - at
            figures[name.replace("_s", "_cpu_s")] = time.process_time() - processor

        await timed("find_s", "7", lambda: "Listener 00007" in text() and "Listener 00001" not in text())
        await timed("class_s", "f3", lambda: app.screen.query_one(ClassTable)._rows and "Listener 00005" in text())
        table = app.screen.query_one(ClassTable)
        await timed("sort_s", "n", lambda: table._rows[0].listener.name != "Listener 00000")
        await timed("page_s", "enter", lambda: "2 c┤" in text() and "Next: " in text())
        figures["app_mb"] = _peak_mb()
    desk.close()
    services.store.close()
    sys.stderr.write(f"\n{json.dumps(figures)}\n")


def table_of(found: dict[int, dict[str, float]]) -> str:
    """Return the table, sizes side by side."""
    sizes = list(found)
    lines = [
        f"| {'':<44} | " + " | ".join(f"{size:,} listeners, {size * 1000:,} answers" for size in sizes) + " | bar |",
        "|---|" + "---:|" * (len(sizes) + 1),
    ]
    for key, name in NAMES.items():
        cells = " | ".join(f"{found[size][key]:.3g}" for size in sizes)
        lines.append(f"| {name} | {cells} | {f'{BARS[key]:g}' if key in BARS else ''} |")
    return "\n".join(lines)


def misses(found: dict[int, dict[str, float]]) -> list[str]:
    """Say which bars were missed, and what grows faster than the store does."""
    sizes = list(found)
    largest = found[sizes[-1]]
    said = [f"{NAMES[key]}: {largest[key]:.3g} is over {bar:g}" for key, bar in BARS.items() if largest[key] > bar]
    for before, after in itertools.pairwise(sizes[1:]):
        for key in GROWING:
            growth, share = found[after][key] / found[before][key], after / before
            if growth > SLACK * share:
                said.append(f"{NAMES[key]}: {growth:.1f} times as much for {share:.1f} times the listeners")
    return said


def main() -> int:
    """Make the classes, measure, print the table."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--sizes", default=",".join(map(str, SIZES)), help="listeners, smallest first")
    options.add_argument("--write", type=Path, help="put the table into this file")
    options.add_argument("--child", nargs="+", help=argparse.SUPPRESS)
    asked, rest = options.parse_known_args()
    if asked.child:
        kind, folder, *arguments = (*asked.child, *rest)
        if kind == "app":
            asyncio.run(app_child(Path(folder)))
        else:
            command_child(Path(folder), arguments)
        return 0
    found: dict[int, dict[str, float]] = {}
    before = os.getloadavg()[0]
    for size in map(int, asked.sizes.split(",")):
        with tempfile.TemporaryDirectory() as base:
            folder = Path(base) / "data"
            make_class(folder, MadeClass(size))
            make_class(ways := Path(base) / "ways", MadeClass(1, blocks_each=100, ways=10))
            found[size] = measured(folder) | measured_page(folder, ways)
    table = table_of(found)
    load = f"Load before and after: {before:.1f} and {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors."
    print(f"{table}\n\n{load}")
    if asked.write is not None:
        said = f"Measured {datetime.now(UTC):%Y-%m-%d} by `python tests/benchmarks/desk_scale.py`. {load}"
        said += " Seconds grow with the load; processor seconds do not."
        asked.write.write_text(f"# A class of a thousand\n\n{said}\n\n{table}\n", encoding="utf-8")
    missed = misses(found)
    print("\n".join(missed) if missed else "Every bar is kept, and nothing grows faster than the store.")
    return bool(missed)


if __name__ == "__main__":
    sys.exit(main())
