"""A headless Chromium driven over its own DevTools protocol: what a page logs, asks for, measures and prints."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from websockets.sync.client import connect

if TYPE_CHECKING:
    from collections.abc import Iterator

    from websockets.sync.client import ClientConnection

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
AXE_VARIABLE = "CENTWISE_AXE"
PATIENCE_S = 300.0


def chromium() -> str | None:
    """Return the browser's program, or None."""
    return next((found for name in PROGRAMS if (found := shutil.which(name))), None)


def axe_script() -> Path | None:
    """Return axe-core's script: where CENTWISE_AXE says, or what npm installed here; None without."""
    named = os.environ.get(AXE_VARIABLE)
    places = [Path(named)] if named else [Path("node_modules/axe-core/axe.min.js")]
    return next((place for place in places if place.is_file()), None)


class Browser:
    """One tab. `events` holds what it was told of the page since `open`."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket = socket
        self._number = 0
        self.events: list[dict[str, Any]] = []
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        self._number += 1
        self._socket.send(json.dumps({"id": self._number, "method": method, "params": params}))
        while True:
            message = json.loads(self._socket.recv(timeout=PATIENCE_S))
            if message.get("id") == self._number:
                assert "error" not in message, message
                return dict(message["result"])
            self.events.append(message)

    def open(self, path: Path, *, width: int, height: int = 900, dark: bool = False) -> None:
        """Open a page of the disk and wait until it has loaded."""
        self.events.clear()
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", features=[scheme])
        self.call("Page.navigate", url=path.absolute().as_uri())
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            self.events.append(json.loads(self._socket.recv(timeout=PATIENCE_S)))

    def evaluate(self, expression: str) -> Any:
        """Return what an expression, or the promise it gives, comes to."""
        found = self.call("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in found, found["exceptionDetails"]
        return found["result"].get("value")

    def pdf(self, *, width_in: float, height_in: float) -> bytes:
        """Print the page onto paper of that size."""
        printed = self.call("Page.printToPDF", paperWidth=width_in, paperHeight=height_in, preferCSSPageSize=False)
        return base64.b64decode(printed["data"])

    def screenshot(self) -> bytes:
        """Return the whole page as PNG."""
        return base64.b64decode(self.call("Page.captureScreenshot", captureBeyondViewport=True)["data"])

    @property
    def logged(self) -> list[str]:
        """What the page wrote to the console or threw."""
        told = {"Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded"}
        return [json.dumps(event["params"]) for event in self.events if event["method"] in told]

    @property
    def requests(self) -> list[str]:
        """What the page asked for, besides itself."""
        asked = [
            event["params"]["request"]["url"]
            for event in self.events
            if event["method"] == "Network.requestWillBeSent" and event["params"].get("type") != "Document"
        ]
        return [url for url in asked if not url.startswith("data:")]


@contextmanager
def running_browser(folder: Path) -> Iterator[Browser]:
    """Run a browser with a folder of its own, and end it."""
    program = chromium()
    assert program is not None
    process = subprocess.Popen(
        [
            program,
            "--headless=new",
            "--no-sandbox",  # the tests may run as root in a container
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run",
            "--remote-debugging-port=0",
            f"--user-data-dir={folder}",
            "about:blank",
        ],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with connect(_address(folder), max_size=None, compression=None) as socket:
            yield Browser(socket)
    finally:
        process.terminate()
        process.wait(timeout=PATIENCE_S)


def _address(folder: Path) -> str:
    from urllib.request import urlopen

    file = folder / "DevToolsActivePort"
    until = time.monotonic() + PATIENCE_S
    while not file.exists() or len(file.read_text().splitlines()) < 2:
        assert time.monotonic() < until, "the browser did not come up"
        time.sleep(0.05)
    port = file.read_text().splitlines()[0]
    with urlopen(f"http://127.0.0.1:{port}/json/list", timeout=PATIENCE_S) as answer:
        pages = [page for page in json.loads(answer.read()) if page["type"] == "page"]
    return str(pages[0]["webSocketDebuggerUrl"])
