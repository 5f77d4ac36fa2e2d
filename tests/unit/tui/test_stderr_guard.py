"""The guard of descriptor 2, in a process of its own under a pseudo-terminal."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

pty = pytest.importorskip("pty", reason="no pseudo-terminals on this platform")

SCRIPT = """
import ctypes, os, sys
from pathlib import Path
from centwise.tui.stderr_guard import stderr_guard

def c_library_writes(words):
    libc = ctypes.CDLL(None)
    libc.dprintf(2, b"%s", words)

before = sys.__stderr__, sys.stderr
kind = sys.argv[2]
if kind == "own stderr":
    import io
    sys.stderr = own = io.StringIO()
    before = sys.__stderr__, own
try:
    with stderr_guard(Path(sys.argv[1])):
        c_library_writes(b"library chatter\\n")
        os.write(2, b"direct chatter\\n")
        sys.__stderr__.write("frame \\u266d")
        sys.__stderr__.flush()
        assert sys.__stderr__.isatty()
        if kind == "own stderr":
            assert sys.stderr is own
        else:
            print("error line", file=sys.stderr)
        if kind == "exception":
            raise KeyError("passes")
        if kind == "exit":
            raise SystemExit(0)
except (KeyError, SystemExit):
    pass
assert (sys.__stderr__, sys.stderr) == before
os.write(2, b"after\\n")
c_library_writes(b"after too\\n")
print("end", file=sys.__stderr__)
"""


def on_a_terminal(*arguments: str) -> tuple[str, int]:
    terminal, end = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-X", "utf8", "-c", SCRIPT, *arguments], stdin=end, stdout=subprocess.DEVNULL, stderr=end
    )
    os.close(end)
    shown = b""
    try:
        while chunk := os.read(terminal, 4096):
            shown += chunk
    except OSError:
        # Linux says so when the last writer is gone.
        pass
    os.close(terminal)
    return shown.decode().replace("\r\n", "\n"), process.wait(20)


@pytest.mark.parametrize("kind", ["plain", "exception", "exit", "own stderr"])
def test_chatter_goes_to_the_log_and_frames_to_the_terminal(tmp_path: Path, kind: str) -> None:
    log = tmp_path / "logs" / "centwise.log"
    shown, code = on_a_terminal(str(log), kind)
    error_line = "" if kind == "own stderr" else "error line\n"
    assert shown == f"frame ♭{error_line}after\nafter too\nend\n"
    assert code == 0
    assert log.read_text() == "library chatter\ndirect chatter\n"


def test_the_log_grows_and_begins_anew_when_it_is_long(tmp_path: Path) -> None:
    log = tmp_path / "centwise.log"
    log.write_text("earlier\n")
    on_a_terminal(str(log), "plain")
    assert log.read_text() == "earlier\nlibrary chatter\ndirect chatter\n"
    log.write_bytes(b"x" * 1_000_001)
    on_a_terminal(str(log), "plain")
    assert log.read_text() == "library chatter\ndirect chatter\n"


def test_a_log_that_cannot_be_written_loses_the_chatter_alone(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    shown, code = on_a_terminal(str(tmp_path / "file" / "centwise.log"), "plain")
    assert shown == "frame ♭error line\nafter\nafter too\nend\n"
    assert code == 0


def test_a_closed_descriptor_is_left_alone(tmp_path: Path) -> None:
    script = (
        "import os, sys\n"
        "from pathlib import Path\n"
        "from centwise.tui.stderr_guard import stderr_guard\n"
        "os.close(2)\n"
        "with stderr_guard(Path(sys.argv[1])):\n"
        "    print('inside')\n"
    )
    log = tmp_path / "centwise.log"
    done = subprocess.run(
        [sys.executable, "-c", script, str(log)], capture_output=True, text=True, timeout=20, check=False
    )
    assert (done.returncode, done.stdout) == (0, "inside\n")
    assert not log.exists()
