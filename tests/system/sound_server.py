"""A private PulseAudio server with a null sink, and what its monitor hears: what really reached the server."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import threading
import time
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

RATE_HZ = 48_000
SINK = "probe"
CHUNK_FRAMES = 240
START_LIMIT_S = 10.0


class Recording:
    """The monitor's first channel, float32, with the moment each part of it arrived."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self._process = process
        self._parts: list[NDArray[np.float32]] = []
        self._arrivals: list[tuple[int, float]] = []
        self._frames = 0
        self.heard = threading.Event()
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        pipe = self._process.stdout
        assert pipe is not None
        while chunk := pipe.read(CHUNK_FRAMES * 8):
            part = np.frombuffer(chunk[: len(chunk) // 8 * 8], np.float32).reshape(-1, 2)[:, 0]
            self._frames += len(part)
            self._arrivals.append((self._frames, time.monotonic()))
            self._parts.append(part)
            self.heard.set()

    def samples(self) -> NDArray[np.float32]:
        """Everything so far, shape (frames,)."""
        return np.concatenate(self._parts) if self._parts else np.zeros(0, np.float32)

    def arrival_s(self, frame: int) -> float:
        """When the part that holds a frame came in, by time.monotonic: never before it was played."""
        return next(at for frames, at in self._arrivals if frames > frame)

    def end(self) -> None:
        self._process.terminate()
        self._process.wait(5)
        self._thread.join(5)
        if self._process.stdout is not None:
            self._process.stdout.close()


class PulseServer:
    """The server; `environ` leads a client to it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.socket = folder / "socket"
        self.environ = {
            "PULSE_SERVER": f"unix:{self.socket}",
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "XDG_CONFIG_HOME": str(folder),
        }
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it and wait until it answers."""
        self.socket.unlink(missing_ok=True)
        self._process = subprocess.Popen(
            [
                "pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no", "--use-pid-file=no",
                "-L", f"module-native-protocol-unix socket={self.socket} auth-anonymous=1",
                "-L", f"module-null-sink sink_name={SINK} rate={RATE_HZ} format=float32le norewinds=1",
            ],
            env={**os.environ, **self.environ},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        until_s = time.monotonic() + START_LIMIT_S
        while time.monotonic() < until_s:
            if self.socket.exists() and SINK in self._ask("list", "short", "sinks"):
                return
            time.sleep(0.05)
        raise RuntimeError("the PulseAudio server does not answer")

    def _ask(self, *words: str) -> str:
        return subprocess.run(
            ["pactl", *words],
            env={**os.environ, **self.environ},
            capture_output=True,
            text=True,
            timeout=START_LIMIT_S,
            check=False,
        ).stdout

    def kill(self) -> None:
        """End it as a crash would."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait(5)
        self.socket.unlink(missing_ok=True)

    @contextmanager
    def recording(self) -> Iterator[Recording]:
        """Record the monitor; ready when entered."""
        process = subprocess.Popen(
            [
                "parec", "--device", f"{SINK}.monitor", "--format=float32le", "--channels=2",
                f"--rate={RATE_HZ}", "--latency-msec=5", "--raw",
            ],
            env={**os.environ, **self.environ},
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        recording = Recording(process)
        try:
            if not recording.heard.wait(START_LIMIT_S):
                raise RuntimeError("the PulseAudio monitor gives nothing")
            yield recording
        finally:
            recording.end()


@contextmanager
def running_server() -> Iterator[PulseServer]:
    """A server in a short-named folder: a socket's path must stay below about 100 characters."""
    folder = Path(tempfile.mkdtemp(prefix="pulse-"))
    server = PulseServer(folder)
    try:
        server.start()
        yield server
    finally:
        server.kill()
        with suppress(OSError):
            shutil.rmtree(folder)


def missing_programs() -> list[str]:
    """What `running_server` needs and the machine has not."""
    return [program for program in ("pulseaudio", "pactl", "parec") if shutil.which(program) is None]
