"""The real program in a real terminal: tmux holds the screen, this test presses the keys."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from sound_server import PulseServer, Recording

pytestmark = [
    pytest.mark.terminal,
    pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed"),
]
PATIENCE_S = 40.0
BEFORE, AFTER = "before the app", "left with"

# Runs the program as `centwise` does, after a library has been made to write to descriptor 2 while the app stands.
NOISY = """
import os, sys, threading
def cry():
    os.write(2, b"a library cries out\\n")
threading.Timer(2.0, cry).start()
from centwise.__main__ import main
main()
"""


class Terminal:
    """One terminal of its own tmux server."""

    def __init__(self, folder: Path, columns: int, rows: int) -> None:
        # A server of its own: the one before may still be on its way out.
        self._server = ["tmux", "-L", f"centwise-test-{os.getpid()}-{folder.name}", "-f", "/dev/null", "-u"]
        self.data = folder / "data"
        environ = {
            "CENTWISE_DATA": str(self.data),
            "CENTWISE_CONFIG": str(folder / "settings.toml"),
            "LC_ALL": "C.UTF-8",
        }
        (folder / "settings.toml").write_text("")
        options = [item for name, value in environ.items() for item in ("-e", f"{name}={value}")]
        self._tmux("new-session", "-d", "-x", str(columns), "-y", str(rows), *options, "exec sh")

    def _tmux(self, *words: str) -> str:
        done = subprocess.run([*self._server, *words], capture_output=True, text=True, timeout=20, check=True)
        return done.stdout

    def press(self, *keys: str) -> None:
        self._tmux("send-keys", *keys)

    def type(self, text: str) -> None:
        self._tmux("send-keys", "-l", text)

    def run(self, *command: str) -> None:
        """Run a command between two lines that tell where the shell's own screen begins and what it left with."""
        # With '' inside, the words stand on the screen only once the shell has said them.
        before, after = (text.replace(" ", " ''", 1) for text in (BEFORE, AFTER))
        self.type(f"clear; echo {before}; {shlex.join(command)}; echo {after} $?")
        self.press("Enter")

    def resize(self, columns: int, rows: int) -> None:
        self._tmux("resize-window", "-x", str(columns), "-y", str(rows))

    def renew(self) -> None:
        """Put a new terminal with its own shell in the place of this one."""
        self._tmux("respawn-pane", "-k", "exec sh")

    def screen(self) -> str:
        return self._tmux("capture-pane", "-p")

    def coloured(self) -> str:
        """Return the screen with the colours its cells have, as escape sequences."""
        return self._tmux("capture-pane", "-p", "-e")

    def wait_for(self, text: str, *, gone: bool = False) -> str:
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            shown = self.screen()
            if (text in shown) != gone:
                return shown
            time.sleep(0.1)
        raise AssertionError(f"{text!r} {'stays' if gone else 'does not appear'}; the screen says:\n{self.screen()}")

    def programs(self) -> list[int]:
        """Return the process ids of what the shell runs."""
        shell = self._tmux("list-panes", "-F", "#{pane_pid}").strip()
        found = subprocess.run(["ps", "-o", "pid=", "--ppid", shell], capture_output=True, text=True, check=False)
        return [int(word) for word in found.stdout.split()]

    def answers(self) -> list[tuple[int, str]]:
        """Return what the store holds, read by a connection of one's own."""
        with closing(sqlite3.connect(self.data / "centwise.sqlite3")) as store:
            assert store.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            return store.execute("SELECT n, answer FROM trials ORDER BY n").fetchall()

    def open_blocks(self) -> int:
        """Return how many blocks have not ended."""
        with closing(sqlite3.connect(self.data / "centwise.sqlite3")) as store:
            return int(store.execute("SELECT count(*) FROM blocks WHERE ended_at IS NULL").fetchone()[0])

    def close(self) -> None:
        subprocess.run([*self._server, "kill-server"], capture_output=True, timeout=20, check=False)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    terminal = Terminal(tmp_path, 80, 24)
    try:
        yield terminal
    finally:
        terminal.close()


def program(tmp_path: Path, *words: str) -> list[str]:
    script = tmp_path / "noisy.py"
    script.write_text(NOISY)
    return [sys.executable, str(script), "drill", "--player", "silent:hurry", *words]


def to_the_first_pair(terminal: Terminal) -> None:
    terminal.wait_for("Type your name")
    terminal.type("Ada")
    terminal.press("Enter")
    terminal.wait_for("a comfortable level")
    terminal.press("Enter")
    terminal.wait_for("Ada, your next block")
    terminal.press("Enter")
    terminal.wait_for("Listen: harmonic, then fretted")


def restored(terminal: Terminal) -> str:
    """Return the shell's screen once the program has left it as it was."""
    shown = terminal.wait_for(AFTER)
    assert BEFORE in shown
    assert "pair 1 of" not in shown
    assert "Quit" not in shown
    terminal.type("echo still here")
    terminal.press("Enter")
    terminal.wait_for("\nstill here")
    return shown


def told(sentence: str, shown: str) -> bool:
    """Return whether a sentence stands on the screen, wherever the terminal broke its line."""
    return "".join(sentence.split()) in "".join(shown.split())


def test_from_the_first_start_to_the_result(terminal: Terminal, tmp_path: Path) -> None:
    terminal.run(*program(tmp_path))
    to_the_first_pair(terminal)
    terminal.press("s")
    heard = terminal.wait_for("Bridge: ")
    assert "♯ Sharp by " in heard or "♭ Flat by " in heard
    assert terminal.answers() == [(1, "sharp")]
    log = terminal.data / "centwise.log"
    until_s = time.monotonic() + PATIENCE_S
    while "a library cries out" not in log.read_text() and time.monotonic() < until_s:
        time.sleep(0.1)
    assert "a library cries out" in log.read_text()
    assert "cries out" not in terminal.screen()
    terminal.press("q")
    shown = terminal.wait_for("Next: ")
    assert "Too few pairs for a number" in shown
    terminal.press("q")
    shown = restored(terminal)
    assert f"{AFTER} 0" in shown
    assert "cries out" not in shown


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_signal_in_a_trial_keeps_the_answers_and_gives_the_terminal_back(
    terminal: Terminal, tmp_path: Path, name: str
) -> None:
    number = getattr(signal, name)
    terminal.run(*program(tmp_path))
    to_the_first_pair(terminal)
    terminal.press("f")
    terminal.wait_for("Bridge: ")
    terminal.press("Enter")
    terminal.wait_for("pair 2 of")
    (process,) = terminal.programs()
    os.kill(process, number)
    shown = restored(terminal)
    assert f"{AFTER} {128 + number}" in shown
    assert "Traceback" not in shown
    assert terminal.answers() == [(1, "flat")]
    assert terminal.open_blocks() == 1
    assert told("with 1 answer of the block kept: type centwise drill --resume to go on.", shown)


def two_pairs_in(terminal: Terminal, tmp_path: Path) -> None:
    terminal.run(*program(tmp_path))
    to_the_first_pair(terminal)
    terminal.press("f")
    terminal.wait_for("Bridge: ")
    terminal.press("Enter")
    terminal.wait_for("pair 2 of")


@pytest.mark.parametrize("by", ["key", "signal"])
def test_ctrl_c_in_a_block_is_one_sentence_and_keeps_the_answers(terminal: Terminal, tmp_path: Path, by: str) -> None:
    two_pairs_in(terminal, tmp_path)
    if by == "key":
        terminal.press("C-c")
    else:
        (process,) = terminal.programs()
        os.kill(process, signal.SIGINT)
    shown = restored(terminal)
    assert f"{AFTER} 130" in shown
    said = "centwise: stopped by ctrl+c with 1 answer of the block kept: type centwise drill for the next block."
    assert told(said, shown)
    assert "Traceback" not in shown
    assert terminal.answers() == [(1, "flat")]
    assert terminal.open_blocks() == 0


def test_ctrl_c_where_there_is_no_device(terminal: Terminal, tmp_path: Path) -> None:
    (tmp_path / "alsa.conf").write_text("")
    deaf = {
        "ALSA_CONFIG_PATH": str(tmp_path / "alsa.conf"),
        "PULSE_SERVER": f"unix:{tmp_path}/nobody",
        "XDG_RUNTIME_DIR": str(tmp_path),
        "JACK_NO_START_SERVER": "1",
    }
    surroundings = [f"{name}={value}" for name, value in deaf.items()]
    terminal.run("env", *surroundings, sys.executable, "-m", "centwise", "drill", "--listener", "Ada")
    terminal.wait_for("a comfortable level")
    terminal.press("Enter")
    terminal.wait_for("Ada, your next block")
    terminal.press("Enter")
    terminal.wait_for("One thing first")
    terminal.press("C-c")
    shown = restored(terminal)
    assert f"{AFTER} 130" in shown
    assert told("centwise: stopped by ctrl+c, and everything answered so far is kept", shown)


def test_ctrl_c_at_once(terminal: Terminal, tmp_path: Path) -> None:
    terminal.run(*program(tmp_path))
    terminal.wait_for("Type your name")
    terminal.press("C-c")
    assert f"{AFTER} 130" in restored(terminal)


def test_a_block_killed_outright_is_offered_and_gone_on_with(terminal: Terminal, tmp_path: Path) -> None:
    two_pairs_in(terminal, tmp_path)
    (process,) = terminal.programs()
    os.kill(process, signal.SIGKILL)
    terminal.wait_for(AFTER)
    # A program killed outright cannot give the terminal back: this is another one.
    terminal.renew()
    terminal.wait_for(AFTER, gone=True)
    assert terminal.answers() == [(1, "flat")]
    terminal.run(*program(tmp_path, "--listener", "Ada"))
    shown = terminal.wait_for("Ada, your next block")
    assert "g go on" in shown
    terminal.press("g")
    terminal.wait_for("pair 2 of")
    terminal.wait_for("Listen: harmonic, then fretted")
    terminal.press("s")
    # What is told of it may be gone again before one looks.
    for _ in range(200):
        if len(terminal.answers()) == 2:
            break
        time.sleep(0.1)
    assert terminal.answers() == [(1, "flat"), (2, "sharp")]
    terminal.press("q")
    terminal.wait_for("Next: ")
    terminal.press("q")
    assert f"{AFTER} 0" in restored(terminal)
    assert terminal.open_blocks() == 0


def test_ctrl_q_in_a_block_ends_it_with_its_result(terminal: Terminal, tmp_path: Path) -> None:
    two_pairs_in(terminal, tmp_path)
    terminal.press("C-q")
    assert f"{AFTER} 0" in restored(terminal)
    assert terminal.answers() == [(1, "flat")]
    assert terminal.open_blocks() == 0


def test_a_click_answers(terminal: Terminal, tmp_path: Path) -> None:
    terminal.run(*program(tmp_path, "--listener", "Bo"))
    terminal.wait_for("a comfortable level")
    terminal.press("Enter")
    terminal.wait_for("Bo, your next block")
    terminal.press("Enter")
    shown = terminal.wait_for("Listen: harmonic, then fretted")
    (row,) = [number for number, line in enumerate(shown.split("\n"), 1) if "u  = unison" in line]
    column = shown.split("\n")[row - 1].index("unison") + 1
    for kind in ("M", "m"):  # press and release of the left button, as a terminal reports them (xterm's SGR mode)
        terminal.type(f"\x1b[<0;{column};{row}{kind}")
    terminal.wait_for("Bridge: ")
    assert terminal.answers() == [(1, "unison")]
    terminal.press("C-q")
    assert f"{AFTER} 0" in restored(terminal)


def test_a_terminal_made_too_small_in_a_trial_and_large_again(terminal: Terminal, tmp_path: Path) -> None:
    two_pairs_in(terminal, tmp_path)
    terminal.resize(40, 12)
    terminal.wait_for("60 columns")
    terminal.resize(120, 40)
    shown = terminal.wait_for("Listen: harmonic, then fretted")
    assert "pair 2 of" in shown
    assert terminal.answers() == [(1, "flat")]
    terminal.press("u")
    terminal.wait_for("The next pair follows")
    assert terminal.answers() == [(1, "flat"), (2, "unison")]
    terminal.press("C-q")
    assert f"{AFTER} 0" in restored(terminal)


def test_a_terminal_closed_in_a_trial_keeps_the_answers_and_leaves_the_block_open(
    terminal: Terminal, tmp_path: Path
) -> None:
    two_pairs_in(terminal, tmp_path)
    (process,) = terminal.programs()
    # The window goes, shell and all: the program is told by SIGHUP and has no terminal to speak to any more.
    terminal.renew()
    until_s = time.monotonic() + PATIENCE_S
    while running(process):
        assert time.monotonic() < until_s
        time.sleep(0.1)
    assert terminal.answers() == [(1, "flat")]
    assert terminal.open_blocks() == 1
    assert not [name for name in os.listdir(terminal.data) if name.endswith("-wal")]  # noqa: PTH208  names alone
    terminal.run(*program(tmp_path, "--listener", "Ada", "--resume"))
    assert "pair 2 of" in terminal.wait_for("Listen: harmonic, then fretted")
    terminal.press("C-q")
    assert f"{AFTER} 0" in restored(terminal)


def running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(process)], capture_output=True, text=True, check=False)
    return bool(state.stdout.strip()) and not state.stdout.startswith("Z")


@pytest.mark.audio_stack
def test_a_device_that_goes_in_a_tone_and_comes_back_gives_the_same_pair_again(
    terminal: Terminal, tmp_path: Path, pulse_server: PulseServer
) -> None:
    # The server of the sound is killed while a pair sounds, in the app itself; then it is there again.
    surroundings = [f"{name}={value}" for name, value in pulse_server.environ.items() if name != "HOME"]
    centwise = [sys.executable, "-m", "centwise", "drill", "--listener", "Ada"]
    with pulse_server.recording() as recording:
        terminal.run("env", *surroundings, *centwise)
        terminal.wait_for("a comfortable level")
        terminal.press("Enter")
        terminal.wait_for("Ada, your next block")
        to_a_sounding_pair(terminal, "Enter", recording)
        pulse_server.kill()
    shown = terminal.wait_for("One thing first")
    assert told("The sound device", shown)
    assert told("Nothing is lost: every answer so far is kept.", shown)
    terminal.press("r")
    terminal.wait_for("o sound device")
    pulse_server.start()
    with pulse_server.recording() as recording:
        shown = to_a_sounding_pair(terminal, "r", recording)
    assert "pair 1 of" in shown
    terminal.press("C-q")
    assert f"{AFTER} 0" in restored(terminal)
    assert terminal.answers() == []


@pytest.mark.parametrize(
    ("environ", "allowed"),
    [
        # The plain colours of ECMA-48 and their bright ones, and no others.
        (("TERM=xterm-16color", "COLORTERM="), r"(0|1|2|3|4|7|39|49|3[0-7]|4[0-7]|9[0-7]|10[0-7])"),
        # no-color.org: greys at most.
        (
            ("TERM=xterm-256color", "COLORTERM=truecolor", "NO_COLOR=1"),
            r"(0|1|2|3|4|7|39|49|[34]8;2;(?P<grey>\d+);(?P=grey);(?P=grey))",
        ),
    ],
    ids=["16 colours", "no colours"],
)
def test_few_colours_lose_no_word(tmp_path: Path, environ: tuple[str, ...], allowed: str) -> None:
    terminal = Terminal(tmp_path, 60, 20)
    try:
        terminal.run("env", *environ, *program(tmp_path, "--trials", "8"))
        to_the_first_pair(terminal)
        terminal.press("f")
        terminal.wait_for("Bridge: ")
        shown = terminal.coloured()
        sequences = re.findall(r"\x1b\[([0-9;]*)m", shown)
        assert len(sequences) > 20
        assert [one for one in sequences if not re.fullmatch(rf"({allowed};?)*", one)] == []
        words = re.sub(r"\x1b\[[0-9;]*m|\x0e|\x0f", "", shown)
        for word in ("♭ flat", "= unison", "♯ sharp", "a again", "End block", "cents"):
            assert word in words
        terminal.press("q")
        terminal.wait_for("Next: ")
        terminal.press("q")
        restored(terminal)
    finally:
        terminal.close()


def to_a_sounding_pair(terminal: Terminal, key: str, recording: Recording) -> str:
    """Press a key until a pair sounds: on a machine at full load a server may not take sound at once."""
    for _ in range(3):
        terminal.press(key)
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            shown = terminal.screen()
            if "Flat, unison or sharp?" in " ".join(shown.split()) and recording.samples().any():
                return shown
            if "takes no sound" in shown:
                break
            time.sleep(0.1)
        key = "r"
    raise AssertionError(f"no pair sounds; the screen says:\n{terminal.screen()}")
