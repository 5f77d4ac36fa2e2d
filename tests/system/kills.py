"""Kill the running drill at every stage of a trial and look at what the store holds; prints what it found.

python tests/system/kills.py --kills 200

Every fifth kill strikes the terminal app, in a terminal of its own; the others strike `drill --events`. All are in one
store, so each run opens what the one before left. A kill depends on the seed and its number, but for the moment itself:
that is as random as the machine.
"""

from __future__ import annotations

import argparse
import json
import os
import select
import signal
import sqlite3
import struct
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

WORDS = ("flat", "unison", "sharp")
ACTS = ("again", "harmonic")
STAGES = ("before the sound", "in the sound", "answered", "told", "between the pairs", "last answer")
DELAYS_S = {
    "before the sound": 0.3,
    "in the sound": 1.0,
    # About as long as the program works on an answer: kept, told, and the next pair begun.
    "answered": 0.06,
    "told": 0.0,
    "between the pairs": 0.06,
    "last answer": 0.08,
}
"""How long after its event a kill strikes at the latest; anything from nothing to that is drawn."""

APP_ASKS, APP_TELLS, APP_BEGINS = b"Listen: ", b"Enter: ", b"your next block"
APP_KEYS = {"flat": b"f", "unison": b"u", "sharp": b"s"}
PATIENCE_S = 60.0


@dataclass(frozen=True)
class Killed:
    """What one kill left behind.

    Attributes:
        stage: where it was aimed.
        front: `events` or `app`.
        told: answers whose feedback had been read when the program died, in their order.
        stored: answers the store holds, number and word, in their order.
        sound: whether SQLite finds nothing wrong with the file.
        wanted: how many pairs the block has.
        result_told: whether its result had been read.
        ended: whether the store holds its result.
        goes_on_at: number of the pair that is asked when the block is taken up again; 0 where only its result was
            missing and came, -1 where the block cannot be taken up, None where there is nothing to go on with.
    """

    stage: str
    front: str
    told: tuple[str, ...]
    stored: tuple[tuple[int, str], ...]
    sound: bool
    wanted: int
    result_told: bool
    ended: bool
    goes_on_at: int | None

    @property
    def went_on(self) -> bool:
        """Whether the block goes on where it was."""
        if self.ended or not self.stored:
            return self.goes_on_at is None
        return self.goes_on_at == (0 if len(self.stored) == self.wanted else len(self.stored) + 1)

    @property
    def kept(self) -> bool:
        """Whether every answer told is there, in its place, and at most one more, and the block goes on after them."""
        return (
            self.sound
            and tuple(word for _, word in self.stored[: len(self.told)]) == self.told
            and len(self.stored) <= len(self.told) + 1
            and [n for n, _ in self.stored] == list(range(1, len(self.stored) + 1))
            and (self.ended or not self.result_told)
            and (len(self.stored) == self.wanted or not self.ended)
            and self.went_on
        )


class Strike:
    """A kill that is armed once and strikes after its delay."""

    def __init__(self, process: subprocess.Popen[Any], delay_s: float) -> None:
        self._process = process
        self._delay_s = delay_s
        self._timer: threading.Timer | None = None

    @property
    def armed(self) -> bool:
        """Whether it is on its way."""
        return self._timer is not None

    def arm(self) -> None:
        """Let it strike."""
        if self._timer is None:
            self._timer = threading.Timer(self._delay_s, self._process.send_signal, [signal.SIGKILL])
            self._timer.start()

    def over(self) -> None:
        """Wait for the end; it must be the strike's doing."""
        self._process.wait()
        if self._timer is not None:
            self._timer.cancel()


def kill_once(folder: Path, seed: int, stage: str, front: str = "events") -> Killed:
    """Answer pairs until the program is killed with SIGKILL, a random moment after an event of the stage.

    Args:
        folder: its data and sound files go there; killed again there, the same store is used.
        seed: of the answers, and of how long after the event it strikes.
        stage: one of STAGES.
        front: `events` or `app`.
    """
    rng = np.random.default_rng(seed)
    before = int(rng.integers(0, 6))
    wanted = max(before, 1) if stage == "last answer" else 30
    delay_s = float(rng.uniform(0.0, DELAYS_S[stage]))
    environment = os.environ | {"CENTWISE_DATA": str(folder / "data"), "HOME": str(folder), "TERM": "xterm-256color"}
    command = [sys.executable, "-m", "centwise", "drill", "--listener", "Mara", "--trials", str(wanted)]
    command += ["--warm-up", "0"]
    last = _last_block(folder / "data")
    drive = _events if front == "events" else _app
    told, result_told = drive(command, environment, rng, stage, before, wanted, delay_s)
    block, stored, ended, sound = _stored(folder / "data", after=last)
    goes_on_at = _taken_up(environment, block) if stored and not ended else None
    return Killed(stage, front, tuple(told), stored, sound, wanted, result_told, ended, goes_on_at)


def _events(
    command: list[str],
    environment: dict[str, str],
    rng: np.random.Generator,
    stage: str,
    before: int,
    wanted: int,
    delay_s: float,
) -> tuple[list[str], bool]:
    # The silent player takes as long as a pair does: it really sounds when it is killed.
    with subprocess.Popen(
        [*command, "--events", "--player", "silent"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
    ) as process:
        assert process.stdout is not None
        told: list[str] = []
        result_told = False
        strike = Strike(process, delay_s)
        answered = 0
        for line in process.stdout:
            event: dict[str, Any] = json.loads(line)
            kind = event["event"]
            result_told |= kind == "result"
            if kind == "answer":
                told.append(event["answer"])
                if len(told) > before and stage in {"told", "between the pairs"}:
                    strike.arm()
            elif kind == "block" and stage == "before the sound":
                strike.arm()
            elif kind in {"pair", "tone"} and not strike.armed:
                if answered == before and stage == "in the sound":
                    strike.arm()
                elif event.get("replay") is None and rng.random() < 0.2:
                    _write(process.stdin, f"{rng.choice(ACTS)}\n".encode())
                    continue
                word = str(rng.choice(WORDS))
                # Past the buffer: what cannot be written any more must not be tried again on closing.
                _write(process.stdin, f"{word}\n".encode())
                answered += 1
                if (stage == "answered" and answered > before) or (stage == "last answer" and answered == wanted):
                    strike.arm()
        strike.over()
    if stage != "last answer" or process.returncode != 0:
        assert process.returncode == -signal.SIGKILL, f"it ended by itself with {process.returncode}"
    return told, result_told


def _write(pipe: IO[bytes] | None, content: bytes) -> None:
    assert pipe is not None
    with suppress(BrokenPipeError):
        os.write(pipe.fileno(), content)


def _app(
    command: list[str],
    environment: dict[str, str],
    rng: np.random.Generator,
    stage: str,
    before: int,
    wanted: int,
    delay_s: float,
) -> tuple[list[str], bool]:
    import fcntl
    import pty
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    with subprocess.Popen(
        [*command, "--player", "silent:hurry"],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=environment,
        start_new_session=True,
    ) as process:
        os.close(theirs)
        shown = _Shown(ours)
        strike = Strike(process, delay_s)
        told: list[str] = []

        def press(key: bytes) -> None:
            with suppress(OSError):
                os.write(ours, key)

        try:
            shown.wait_for(APP_BEGINS)
            # The first start asks for a level before.
            press(b"\r")
            if stage == "before the sound":
                strike.arm()
            shown.wait_for(APP_ASKS)
            for number in range(1, wanted + 1):
                if number > before and stage == "in the sound":
                    strike.arm()
                word = str(rng.choice(WORDS))
                press(APP_KEYS[word])
                last = number == wanted if stage == "last answer" else number > before
                if last and stage in {"answered", "last answer"}:
                    strike.arm()
                shown.wait_for(APP_TELLS)
                told.append(word)
                if last and stage == "told":
                    strike.arm()
                press(b"\r")
                if last and stage == "between the pairs":
                    strike.arm()
                shown.wait_for(APP_ASKS)
        except EOFError:
            pass
        strike.over()
        os.close(ours)
    assert process.returncode == -signal.SIGKILL, f"it ended by itself with {process.returncode}"
    return told, False


class _Shown:
    """What a terminal is told to show, as it comes."""

    def __init__(self, terminal: int) -> None:
        self._terminal = terminal
        self._since = b""

    def wait_for(self, words: bytes) -> None:
        """Read until words come.

        Raises:
            EOFError: the program is gone.
        """
        until_s = time.monotonic() + PATIENCE_S
        while words not in self._since:
            if time.monotonic() > until_s:
                raise AssertionError(f"{words!r} never came: {self._since[-2000:]!r}")
            # The end of the program ends the terminal too: then it can be read at once.
            if not select.select([self._terminal], [], [], 1.0)[0]:
                continue
            try:
                chunk = os.read(self._terminal, 1 << 16)
            except OSError:
                chunk = b""
            if not chunk:
                raise EOFError
            self._since += chunk
        self._since = self._since.split(words, 1)[1]


def _taken_up(environment: dict[str, str], block: str) -> int:
    """Take the block up again, and return the number of the pair it asks; it is ended, so that the next begins anew."""
    command = [sys.executable, "-m", "centwise", "drill", "--events", "--resume", "--listener", "Mara"]
    done = subprocess.run(
        # Either was heard by nobody, so one may go on for the other.
        [*command, "--player", "silent"],
        input="quit\n",
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    events = [json.loads(line) for line in done.stdout.splitlines()]
    if done.returncode != 0 or not events or events[0].get("block") != block or events[-1]["event"] != "result":
        return -1
    pairs = [event for event in events if event["event"] == "pair"]
    return int(pairs[0]["n"]) if pairs else 0


def _last_block(data: Path) -> int:
    """Return the number of the block that was begun last, 0 before the first."""
    with closing(sqlite3.connect(data / "centwise.sqlite3")) as connection:
        return int(connection.execute("SELECT coalesce(max(number), 0) FROM blocks").fetchone()[0])


def _stored(data: Path, after: int) -> tuple[str, tuple[tuple[int, str], ...], bool, bool]:
    """Return the block begun since, its answers, whether it has ended, and whether the file is sound: by SQLite itself.

    Killed before it began a block, the program has begun none.
    """
    with closing(sqlite3.connect(data / "centwise.sqlite3")) as connection:
        sound = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        found = connection.execute(
            "SELECT id, number, ended_at IS NOT NULL FROM blocks WHERE number > ? ORDER BY number DESC LIMIT 1",
            (after,),
        ).fetchone()
        if found is None:
            return "", (), False, sound
        rows = connection.execute("SELECT n, answer FROM trials WHERE block_number = ? ORDER BY n", (found[1],))
        return str(found[0]), tuple((int(n), str(answer)) for n, answer in rows), bool(found[2]), sound


def kills(folder: Path, count: int, seed: int) -> Iterator[Killed]:
    """Kill so many times in one store, all stages by turns, every fifth time the app."""
    # Somebody has to be there: who is new is asked for a listening level in the app.
    environment = os.environ | {"CENTWISE_DATA": str(folder / "data"), "HOME": str(folder)}
    drill = [sys.executable, "-m", "centwise", "drill", "--plain", "--listener", "Mara", "--player", "silent:hurry"]
    subprocess.run(
        [*drill, "--trials", "1"], input="flat\n", env=environment, check=True, capture_output=True, text=True
    )
    for number in range(count):
        front = "app" if number % 5 == 4 and os.name == "posix" else "events"
        yield kill_once(folder, seed + number, STAGES[number % len(STAGES)], front)


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    started = time.perf_counter()
    with tempfile.TemporaryDirectory() as name:
        found = list(kills(Path(name), options.kills, options.seed))
    told = sum(len(each.told) for each in found)
    lost = [each for each in found if not each.kept]
    print(f"{len(found)} kills of one store, {told} answers told before them: {len(lost)} kills lost something.")
    for each in lost:
        print(f"  {each}")
    print(f"{sum(each.went_on for each in found)} of the blocks went on, or had ended, where they were.")
    one_more = sum(len(each.stored) > len(each.told) for each in found)
    print(f"In {one_more} an answer was on disk whose feedback had not been read yet.")
    for front in ("events", "app"):
        stages = {stage: sum((each.front, each.stage) == (front, stage) for each in found) for stage in STAGES}
        print(f"{front}: " + ", ".join(f"{stage} {count}" for stage, count in stages.items()))
    print(f"It took {time.perf_counter() - started:.0f} s.")
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
