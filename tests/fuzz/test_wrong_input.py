"""A small share of the hunt for inputs that are met badly; the whole of it runs by its own command."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HUNT = Path(__file__).with_name("wrong_input.py")


def test_wrong_input_is_met_with_a_sentence() -> None:
    done = subprocess.run(
        [sys.executable, str(HUNT), "--cases", "300", "--seed", "2026"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "300 cases" in done.stdout
    assert "0 of them wrong" in done.stdout


def test_what_is_met_badly_is_seen(tmp_path: Path) -> None:
    # The hunt is worth nothing if it cannot see: a program that writes elsewhere, hangs or breaks must be told.
    spy = f"""
import sys, time
sys.path.insert(0, {str(HUNT.parent)!r})
import wrong_input
from pathlib import Path
wrong_input.LONGEST_S = 0.2
def broken(arguments):
    if arguments == ["elsewhere"]:
        Path({str(tmp_path / "elsewhere")!r}).write_text("x")
        return 0
    if arguments == ["hangs"]:
        time.sleep(5)
    if arguments == ["silent"]:
        return 3
    if arguments == ["controls"]:
        print("\\x1b[2J")
        return 0
    raise RuntimeError("broken")
wrong_input.run = broken
home = Path({str(tmp_path)!r}) / "home"
home.mkdir()
sandbox = wrong_input.Sandbox(home)
sys.addaudithook(sandbox.audit)
with wrong_input.at_home(home):
    for word in ("elsewhere", "hangs", "silent", "controls", "breaks"):
        print(word, wrong_input.faults(sandbox, wrong_input.Case("spy", (word,))))
"""
    done = subprocess.run([sys.executable, "-c", spy], capture_output=True, text=True, check=True)
    told = dict(line.split(" ", 1) for line in done.stdout.splitlines())
    assert "elsewhere" in told["elsewhere"]
    assert "longer than" in told["hangs"]
    assert "without a sentence" in told["silent"]
    assert "terminal control" in told["controls"]
    assert "RuntimeError" in told["breaks"]
