"""The microphone's thread: listens until a session is wished for, carries it out, and posts what happens. No widgets.

Every note is on disk before anything is posted about it. Imports Textual's messages, takes and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.message import Message

from centwise.errors import CentwiseError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from centwise.ports import Recorder, Services
    from centwise.strings.instrument import Instrument
    from centwise.takes.folder import FileKind, TakeFolder
    from centwise.takes.session import Happening

READ_S = 0.05


@dataclass(frozen=True, slots=True)
class Wish:
    """A session that is to begin."""

    instrument: Instrument
    string: int
    takes: int


class Microphone:
    """Holds the microphone from `hold` to `stop`.

    Args:
        services: open the recorder and know the time.
        data_dir: the folder in which each session gets its own.
        kind: of sound file.
        post: takes the messages, from the microphone's thread.
    """

    class Opened(Message):
        """The microphone listens."""

        def __init__(self, device: str) -> None:
            super().__init__()
            self.device = device

    class Happened(Message):
        """Something happened in the session."""

        def __init__(self, happening: Happening) -> None:
            super().__init__()
            self.happening = happening

    class Ended(Message):
        """A session is over, with so many whole takes in a folder, or with an error."""

        def __init__(self, path: Path | None, pairs: int, error: CentwiseError | None) -> None:
            super().__init__()
            self.path = path
            self.pairs = pairs
            self.error = error

    def __init__(self, services: Services, data_dir: Path, kind: FileKind, post: Callable[[Message], object]) -> None:
        self._services = services
        self._data_dir = data_dir
        self._kind = kind
        self._post = post
        self._recorder: Recorder | None = None
        self._wish: Wish | None = None
        self._stopped = False

    def begin(self, wish: Wish) -> None:
        """Have a session begin."""
        self._wish = wish

    def stop(self) -> None:
        """Let the microphone go at the next moment."""
        self._stopped = True

    def level_dbfs(self) -> float | None:
        """Return the level now; None while nothing listens."""
        recorder = self._recorder
        return None if recorder is None else recorder.level_dbfs()

    def hold(self) -> None:
        """Listen until told to stop, or until the device fails; for a thread of its own."""
        from centwise.takes.session import RecordingSession  # noqa: PLC0415  loads numpy

        folder: TakeFolder | None = None
        recorder: Recorder | None = None
        try:
            recorder = self._services.open_recorder()
            self._recorder = recorder
            self._post(self.Opened(recorder.device))
            while not self._stopped:
                wish, self._wish = self._wish, None
                if wish is None:
                    recorder.read(READ_S)
                    continue
                folder = self._new_folder(recorder, wish)
                session = RecordingSession(recorder, self._services.clock, folder, wish.instrument, wish.takes)
                for happening in session.happenings():
                    if self._stopped:
                        return
                    self._post(self.Happened(happening))
                self._post(self.Ended(folder.path, session.pairs(), None))
                folder = None
        except CentwiseError as error:
            self._post(self.Ended(None if folder is None else folder.path, 0, error))
        finally:
            self._recorder = None
            if recorder is not None:
                recorder.close()

    def _new_folder(self, recorder: Recorder, wish: Wish) -> TakeFolder:
        from centwise.takes.folder import TakeFolder, TakeSet, default_folder  # noqa: PLC0415  start-up path

        now = self._services.clock.now()
        return TakeFolder.create(
            default_folder(self._data_dir, now, wish.string),
            TakeSet(
                instrument=wish.instrument.name,
                string=wish.string,
                scale_mm=wish.instrument.scale_mm,
                device=recorder.device,
                rate_hz=recorder.rate_hz,
                device_rate_hz=recorder.device_rate_hz,
                started_at=now,
            ),
            self._kind,
        )
