"""The whole suite on every Python there should be, each in an environment of its own that the wheel was installed in.

    python tests/three_pythons.py --write docs/platforms.md
    python tests/three_pythons.py python3.12 python3.13 -- tests/unit

Without paths, `python3.11`, `python3.12` and `python3.13` are looked for. Wheel and source archive are built as they
are released; in each environment the wheel is installed with its test parts, a block is taken from an empty folder, and
the tests run in the unpacked archive, so that neither sees the source tree. What fails is run once more by itself. Exit
code 1 when anything failed then. Words after `--` go to pytest. Wants the network, and some 15 minutes for each Python.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
import shutil
import signal
import subprocess
import sys
import tarfile
import tempfile
import time
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).parents[1]
WANTED = ("python3.11", "python3.12", "python3.13")
TRIALS = 40
COMMAND = "python tests/three_pythons.py --write docs/platforms.md"
BEGIN, END = "<!-- written by tests/three_pythons.py -->\n", "<!-- until here -->\n"


@dataclass
class Outcome:
    """What one Python made of it."""

    version: str
    block: str = "not taken"
    passed: int = 0
    skipped: int = 0
    failed: list[str] = field(default_factory=list)
    still_failed: list[str] = field(default_factory=list)
    minutes: float = 0.0

    @property
    def well(self) -> bool:
        return self.block == "taken" and self.passed > 0 and not self.still_failed

    @property
    def line(self) -> str:
        again = f"{len(self.failed) - len(self.still_failed)} of {len(self.failed)}" if self.failed else ""
        cells = (self.version, self.block, self.passed, self.skipped, len(self.failed), again, f"{self.minutes:.0f}")
        return "| " + " | ".join(map(str, cells)) + " |"


def told(sentence: str) -> None:
    print(f"{datetime.now(UTC):%H:%M} {sentence}", flush=True)


def run(*command: str | Path, cwd: Path, lines: str = "", checked: bool = True) -> subprocess.CompletedProcess[str]:
    """Run a command without anything of this environment that could lead it to the source tree."""
    gone = ("PYTHON", "VIRTUAL_ENV", "CENTWISE", "MYPY")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(gone)}
    done = subprocess.run(command, cwd=cwd, env=kept, input=lines, capture_output=True, text=True, check=False)
    if checked and done.returncode:
        sys.exit(f"{' '.join(map(str, command))} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done


def environment(python: Path, folder: Path) -> Path:
    """Make an environment and return its Python."""
    run(python, "-m", "venv", folder, cwd=folder.parent)
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def build(python: Path, base: Path) -> tuple[Path, Path]:
    """Build as for a release; return the wheel, and the folder of the unpacked archive."""
    builder = environment(python, base / "builder")
    run(builder, "-m", "pip", "install", "-q", "build", cwd=base)
    run(builder, "-m", "build", "--outdir", base / "dist", ROOT, cwd=base)
    (wheel,), (archive,) = (base / "dist").glob("*.whl"), (base / "dist").glob("*.tar.gz")
    with tarfile.open(archive) as held:
        held.extractall(base / "archive", **({"filter": "data"} if hasattr(tarfile, "data_filter") else {}))
    (unpacked,) = (base / "archive").iterdir()
    return wheel, unpacked


def block(python: Path, empty: Path) -> str:
    """Take a whole block from a folder with nothing in it, and say how that went."""
    empty.mkdir()
    program = python.with_name("centwise.exe" if os.name == "nt" else "centwise")
    options = ("--events", "--player", "silent:hurry", "--listener", "Ada", "--trials", str(TRIALS), "--data", "data")
    done = run(program, "drill", *options, cwd=empty, lines="sharp\n" * (2 * TRIALS), checked=False)
    last = json.loads(done.stdout.splitlines()[-1]) if done.stdout else {}
    whole = done.returncode == 0 and last.get("trials") == TRIALS
    return "taken" if whole else f"code {done.returncode}: {done.stderr}"


def counted(report: Path, outcome: Outcome | None = None) -> list[str]:
    """Return the tests that failed; count the others into the outcome."""
    failed = []
    for case in ET.parse(report).iter("testcase"):
        what = {child.tag for child in case}
        if what & {"failure", "error"}:
            failed.append(f"{case.get('classname')}::{case.get('name')}")
        elif outcome is not None:
            outcome.skipped += "skipped" in what
            outcome.passed += "skipped" not in what
    return sorted(set(failed))


def tried(python: Path, base: Path, wheel: Path, unpacked: Path, pytest_words: list[str]) -> Outcome:
    """Install the wheel for one Python and run everything."""
    version = run(python, "-c", "import platform; print(platform.python_version())", cwd=base).stdout.strip()
    outcome, folder = Outcome(version), base / version
    folder.mkdir()
    own = environment(python, folder / "environment")
    told(f"Python {version}: installing")
    run(own, "-m", "pip", "install", "-q", f"{wheel}[test]", cwd=folder)
    outcome.block = block(own, folder / "empty")
    tree = folder / "tree"
    shutil.copytree(unpacked, tree)
    told(f"Python {version}: block {outcome.block}; testing")
    begun = time.monotonic()
    report = folder / "report.xml"
    words = (own, "-m", "pytest", "-q", *pytest_words)
    done = run(*words, f"--junitxml={report}", cwd=tree, checked=False)
    (folder / "pytest.log").write_text(done.stdout + done.stderr, encoding="utf-8")
    outcome.minutes = (time.monotonic() - begun) / 60.0
    outcome.failed = outcome.still_failed = counted(report, outcome)
    if outcome.failed:
        told(f"Python {version}: {len(outcome.failed)} failed, once more by themselves")
        done = run(*words, "--last-failed", f"--junitxml={report}", cwd=tree, checked=False)
        (folder / "again.log").write_text(done.stdout + done.stderr, encoding="utf-8")
        outcome.still_failed = counted(report)
    told(f"Python {version}: {outcome.line}")
    return outcome


def table(outcomes: list[Outcome], pytest_words: list[str]) -> str:
    """Return what is written into the page."""
    command = " ".join([COMMAND, *(["--", *pytest_words] if pytest_words else [])])
    rows = "\n".join(outcome.line for outcome in outcomes)
    failed = [f"- Python {each.version}: `{name}`" for each in outcomes for name in each.still_failed]
    return f"""Measured {datetime.now(UTC):%Y-%m-%d} on {platform.system()} ({platform.machine()}) by

    {command}

| Python | a block of {TRIALS}, from the wheel | passed | skipped | failed | of these passed alone | minutes |
|---|---|---:|---:|---:|---:|---:|
{rows}

{"Still failing:" if failed else "Nothing failed when it was run by itself."}
{chr(10).join(["", *failed, ""]) if failed else ""}"""


def put_into(page: str, text: str) -> str:
    """Return a page with the table between its marks."""
    marked = re.compile(f"{re.escape(BEGIN)}.*?{re.escape(END)}", re.DOTALL)
    return marked.sub(lambda _: f"{BEGIN}\n{text}\n{END}", page)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("pythons", nargs="*", metavar="PYTHON", help="interpreters, by path or name")
    parser.add_argument("--write", type=Path, metavar="FILE", help="put the table between the marks of this page")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="work in this new folder, and leave it")
    words = sys.argv[1:]
    cut = words.index("--") if "--" in words else len(words)
    options, pytest_words = parser.parse_args(words[:cut]), words[cut + 1 :]
    for name in ("SIGINT", "SIGHUP"):
        # A job in the background has them ignored, and would hand that on to the programs under test.
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_DFL)
    named = options.pythons or [name for name in WANTED if shutil.which(name)]
    pythons = [Path(found) for name in named if (found := shutil.which(name))]
    if len(pythons) < len(options.pythons or WANTED):
        there = ", ".join(map(str, pythons)) or "none"
        sys.exit(f"found {there} of {', '.join(options.pythons or WANTED)}: name the interpreters by their paths")
    with tempfile.TemporaryDirectory() as temporary:
        base = Path(temporary)
        if options.keep:
            options.keep.mkdir(parents=True)
            base = options.keep.resolve()
        told("building")
        wheel, unpacked = build(pythons[0], base)
        outcomes: list[Outcome] = []
        for python in pythons:
            outcomes.append(tried(python, base, wheel, unpacked, pytest_words))
            text = table(outcomes, pytest_words)
            if options.write:
                # After each, so that a run that is cut off has told what it found.
                options.write.write_text(put_into(options.write.read_text(encoding="utf-8"), text), encoding="utf-8")
    print(text)
    return 0 if all(outcome.well for outcome in outcomes) else 1


if __name__ == "__main__":
    sys.exit(main())
