"""Kill the running drill at random moments and look at what the store holds; prints what it found.

python tests/system/kills.py --kills 200
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

WORDS = ("flat", "unison", "sharp", "again", "harmonic")
LONGEST_DELAY_S = 0.06
"""About as long as the program works on an answer: kept, told, and the next pair written."""


@dataclass(frozen=True)
class Killed:
    """What one kill left behind.

    Attributes:
        told: answers whose feedback had been read when the program died, number and word.
        stored: answers the store holds, number and word, in their order.
        sound: whether SQLite finds nothing wrong with the file.
        stage: the last event that was read.
        goes_on_at: number of the pair that is asked when the block is taken up again.
    """

    told: tuple[tuple[int, str], ...]
    stored: tuple[tuple[int, str], ...]
    sound: bool
    stage: str
    goes_on_at: int

    @property
    def kept(self) -> bool:
        """Whether every answer told is there, in its place, and at most one more, and the block goes on after them."""
        return (
            self.sound
            and self.stored[: len(self.told)] == self.told
            and len(self.stored) <= len(self.told) + 1
            and [n for n, _ in self.stored] == list(range(1, len(self.stored) + 1))
            and self.goes_on_at == len(self.stored) + 1
        )


def kill_once(folder: Path, seed: int, *arguments: str) -> Killed:
    """Answer pairs until the program is killed with SIGKILL, a random moment after a random event.

    Args:
        folder: its data and sound files go there; killed again there, the same store is used.
        seed: of the moment and of the answers.
        arguments: further options of `drill`.
    """
    rng = np.random.default_rng(seed)
    actions, delay_s = int(rng.integers(1, 14)), float(rng.uniform(0.0, LONGEST_DELAY_S))
    environment = os.environ | {"CENTWISE_DATA": str(folder / "data"), "HOME": str(folder)}
    command = [sys.executable, "-m", "centwise", "drill", "--events", "--player", f"file:{folder / 'wav'}"]
    with subprocess.Popen(
        [*command, "--listener", "Mara", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        encoding="utf-8",
        env=environment,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        told, stage, block, timer = [], "start", "", None
        for line in process.stdout:
            event: dict[str, Any] = json.loads(line)
            stage = event["event"]
            if stage == "block":
                block = event["block"]
            if stage == "answer":
                told.append((event["n"], event["answer"]))
            if stage in {"pair", "tone"} and not event.get("replay_of"):
                word = str(rng.choice(WORDS))
                if actions <= 0 and timer is None:
                    timer = threading.Timer(delay_s, process.send_signal, [signal.SIGKILL])
                    timer.start()
                actions -= 1
                # Past the buffer: what cannot be written any more must not be tried again on closing.
                with suppress(BrokenPipeError):
                    os.write(process.stdin.fileno(), f"{word}\n".encode())
        process.wait()
        if timer is not None:
            timer.cancel()
    assert process.returncode == -signal.SIGKILL, f"it ended by itself with {process.returncode} after {stage}"
    found = _stored(folder / "data", block)
    return Killed(tuple(told), *found, stage, _taken_up(folder, environment))


def _taken_up(folder: Path, environment: dict[str, str]) -> int:
    """Take the block up again, and return the number of the pair it asks; it is ended, so that the next begins anew."""
    command = [sys.executable, "-m", "centwise", "drill", "--events", "--resume", "--listener", "Mara"]
    done = subprocess.run(
        [*command, "--player", f"file:{folder / 'wav'}"],
        input="quit\n",
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    pairs = [event for event in map(json.loads, done.stdout.splitlines()) if event["event"] == "pair"]
    return int(pairs[0]["n"]) if done.returncode == 0 and pairs else 0


def _stored(data: Path, block: str) -> tuple[tuple[tuple[int, str], ...], bool]:
    """Return a block's answers and whether the file is sound, by SQLite itself and no code of ours."""
    with sqlite3.connect(data / "centwise.sqlite3") as connection:
        sound = connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        rows = connection.execute(
            "SELECT trials.n, trials.answer FROM trials JOIN blocks ON blocks.number = trials.block_number"
            " WHERE blocks.id = ? ORDER BY trials.n",
            (block,),
        ).fetchall()
    connection.close()
    return tuple((int(n), str(answer)) for n, answer in rows), sound


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        found = [kill_once(Path(name), options.seed + number) for number in range(options.kills)]
    told = sum(len(each.told) for each in found)
    one_more = sum(len(each.stored) > len(each.told) for each in found)
    lost = sum(not each.kept for each in found)
    print(f"{len(found)} kills of one store, {told} answers told before them: {lost} kills lost something.")
    went_on = sum(each.goes_on_at == len(each.stored) + 1 for each in found)
    print(f"{went_on} of the blocks went on with the pair after their last answer.")
    print(f"In {one_more} an answer was on disk whose feedback had not been read yet.")
    stages = {stage: sum(each.stage == stage for each in found) for stage in sorted({each.stage for each in found})}
    print("Last event read: " + ", ".join(f"{stage} {count}" for stage, count in stages.items()))
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
