"""A folder of takes: one sound file a pluck, and a manifest that says what each is. Nothing in it is ever overwritten.

The manifest is JSON, described in docs/measuring.md. It is written anew beside its place and moved into it after every
change; what it says is never trusted when it is read. Imports numpy, audio and below.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from centwise import __version__
from centwise.audio.sound_file import write_new_sound
from centwise.errors import InputError, UsageError, reason_of
from centwise.model import TONES, Tone
from centwise.systems import put_in_place

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.model import Samples
    from centwise.pitch.quality import NoteQuality

MANIFEST = "takes.json"
FOLDERS = "takes"
FORMAT = "centwise takes"
FORMAT_VERSION = 1
MOST_BYTES = 1 << 20
MOST_NOTES = 1000
FileKind = Literal["wav", "flac"]
UNJUDGED, GOOD, CUT_OFF = "unjudged", "good", "cut-off"
_FILE_NAME = re.compile(r"[0-9A-Za-z][0-9A-Za-z._-]{0,99}")
_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class KeptNote:
    """One pluck in the folder.

    Attributes:
        file: its name there, without a folder.
        take: which pair it belongs to, from 1.
        tone: harmonic or fretted.
        recorded_at: when, UTC.
        frames: its length.
        sha256: of the file's bytes, in hexadecimal.
        quality: good, a flaw's word (`pitch.records.Flaw`), `cut-off` when the microphone went away, or `unjudged`.
        why: a sentence about a flaw.
        peak_dbfs: its largest sample, None for silence.
    """

    file: str
    take: int
    tone: Tone
    recorded_at: datetime
    frames: int
    sha256: str
    quality: str = UNJUDGED
    why: str = ""
    peak_dbfs: float | None = None


@dataclass(frozen=True, slots=True)
class TakeSet:
    """What a folder holds.

    Attributes:
        instrument: its name.
        string: number of the string.
        scale_mm: scale length.
        device: what the system called the microphone: free text.
        rate_hz: frames per second.
        device_rate_hz: the microphone's own rate where it is known.
        started_at: when the first note was asked for, UTC.
        notes: in the order in which they were recorded.
    """

    instrument: str
    string: int
    scale_mm: float
    device: str
    rate_hz: int
    device_rate_hz: int | None
    started_at: datetime
    notes: tuple[KeptNote, ...] = ()

    def pairs(self) -> tuple[tuple[KeptNote, KeptNote], ...]:
        """Return the good notes two by two: the last good harmonic and fretted note of each take that has both."""
        good = {(note.take, note.tone): note for note in self.notes if note.quality == GOOD}
        takes = sorted({note.take for note in self.notes})
        return tuple(
            (good[take, "harmonic"], good[take, "fretted"])
            for take in takes
            if (take, "harmonic") in good and (take, "fretted") in good
        )


class TakeFolder:
    """A folder that is being recorded into; made by `create`."""

    def __init__(self, path: Path, takes: TakeSet, kind: FileKind) -> None:
        self.path = path
        self.takes = takes
        self._kind = kind

    @classmethod
    def create(cls, path: Path, takes: TakeSet, kind: FileKind = "wav") -> TakeFolder:
        """Make the folder, or take an empty one, and put a manifest without notes into it.

        Raises:
            UsageError: there is something in it already.
            InputError: it cannot be made or written to.
        """
        check_free(path)
        folder = cls(path, takes, kind)
        try:
            path.mkdir(parents=True, exist_ok=True)
            # Whoever makes this file owns the folder: two recordings at once cannot both.
            (path / MANIFEST).open("xb").close()
        except FileExistsError as error:
            raise _taken(path) from error
        except OSError as error:
            raise InputError(
                f"the folder {path} cannot be made or written to ({reason_of(error)})", "name another one"
            ) from error
        folder._write()
        return folder

    def add(self, samples: Samples, take: int, tone: Tone, at: datetime) -> KeptNote:
        """Put a note on disk and into the manifest, not judged yet.

        Args:
            samples: float32, shape (frames,); what a microphone gave beyond full scale is cut off at it.
            take: which pair.
            tone: which of the two.
            at: when it was recorded.

        Raises:
            InputError: it cannot be written, with nothing half written left behind.
        """
        safe = np.clip(np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0), -1.0, 1.0).astype(np.float32)
        if not len(safe):
            safe = np.zeros(1, np.float32)
        number = len(self.takes.notes) + 1
        name = f"{number:02d}-take-{take}-{tone}.{self._kind}"
        content = write_new_sound(self.path / name, safe, self.takes.rate_hz)
        note = KeptNote(name, take, tone, at, len(safe), hashlib.sha256(content).hexdigest())
        self.takes = replace(self.takes, notes=(*self.takes.notes, note))
        self._write()
        return note

    def judge(self, note: KeptNote, quality: NoteQuality) -> KeptNote:
        """Keep what was found about a note."""
        peak = round(quality.peak_dbfs, 2) if math.isfinite(quality.peak_dbfs) else None
        return self._change(note, replace(note, quality=quality.flaw or GOOD, why=quality.why, peak_dbfs=peak))

    def cut_off(self, note: KeptNote) -> KeptNote:
        """Keep that a note's end is missing."""
        return self._change(note, replace(note, quality=CUT_OFF, why="the microphone went away"))

    def _change(self, note: KeptNote, changed: KeptNote) -> KeptNote:
        notes = tuple(changed if kept.file == note.file else kept for kept in self.takes.notes)
        self.takes = replace(self.takes, notes=notes)
        self._write()
        return changed

    def _write(self) -> None:
        path = self.path / MANIFEST
        try:
            with put_in_place(path) as part, part.open("w", encoding="utf-8") as file:
                json.dump(_record(self.takes), file, indent=1, allow_nan=False)
                file.write("\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise InputError(
                f"{path} cannot be written ({reason_of(error)})", "make room or name another folder"
            ) from error


def check_free(path: Path) -> None:
    """Refuse a folder that holds something, before a microphone is opened for it.

    Raises:
        UsageError: it does, or it is no folder.
        InputError: it cannot be looked into.
    """
    try:
        if path.exists() and not path.is_dir():
            raise UsageError(f"{path} is a file, not a folder", "name a new folder for the takes")
        if path.is_dir() and any(path.iterdir()):
            raise _taken(path)
    except (OSError, ValueError) as error:
        reason = reason_of(error) if isinstance(error, OSError) else str(error)
        raise InputError(f"the folder {path} cannot be looked into ({reason})", "name another one") from error


def default_folder(data_dir: Path, at: datetime, string: int) -> Path:
    """Return a folder for takes beside the answers, named by the instant (UTC) and the string."""
    return data_dir / FOLDERS / f"{at.astimezone(UTC):%Y-%m-%d-%H%M%S}-string-{string}"


def is_take_folder(path: Path) -> bool:
    """Return whether a path is a folder with a manifest in it."""
    try:
        return (path / MANIFEST).is_file()
    except (OSError, ValueError):
        return False


def read_takes(path: Path) -> TakeSet:
    """Read the manifest of a folder.

    Raises:
        InputError: there is none, or it says what cannot be.
    """
    file = path / MANIFEST
    try:
        with file.open("rb") as opened:
            content = opened.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(
            f"{path} is a folder without readable takes ({reason_of(error)})",
            "give a sound file, or a folder made by centwise record",
        ) from error
    if len(content) > MOST_BYTES:
        raise InputError(f"{file} is larger than a manifest of takes can be", "give a folder made by centwise record")
    try:
        return _takes_of(json.loads(content))
    except (ValueError, KeyError, TypeError, RecursionError, OverflowError) as error:
        reason = str(error).splitlines()[0][:100] if str(error) else "no such value"
        raise InputError(
            f"{file} is no manifest of takes that can be read ({reason})", "give a folder made by centwise record"
        ) from error


def checked_file(path: Path, note: KeptNote) -> Path:
    """Return a note's file once its bytes are those that were recorded.

    Raises:
        InputError: it is missing, or has been changed.
    """
    file = path / note.file
    try:
        there = file.is_file()
    except OSError as error:
        raise _unreadable(file, error) from error
    if not there:
        raise InputError(f"{file} is missing", "put it back, or record again")
    if file_sha256(file) != note.sha256:
        raise InputError(
            f"{file} is not what was recorded: its SHA-256 differs from the manifest's",
            "put the recorded file back, or measure it by itself",
        )
    return file


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, in hexadecimal.

    Raises:
        InputError: it cannot be read.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise _unreadable(path, error) from error


def _unreadable(path: Path, error: OSError) -> InputError:
    return InputError(f"{path} cannot be read ({reason_of(error)})", "check its permissions")


def _record(takes: TakeSet) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "made_by": f"centwise {__version__}",
        "instrument": takes.instrument,
        "string": takes.string,
        "scale_mm": takes.scale_mm,
        "device": takes.device,
        "rate_hz": takes.rate_hz,
        "device_rate_hz": takes.device_rate_hz,
        "started_at": _instant_text(takes.started_at),
        "notes": [
            {
                "file": note.file,
                "take": note.take,
                "tone": note.tone,
                "recorded_at": _instant_text(note.recorded_at),
                "frames": note.frames,
                "sha256": note.sha256,
                "quality": note.quality,
                "why": note.why,
                "peak_dbfs": note.peak_dbfs,
            }
            for note in takes.notes
        ],
    }


def _takes_of(said: Any) -> TakeSet:  # noqa: ANN401  JSON holds anything
    if not isinstance(said, dict) or said["format"] != FORMAT:
        raise ValueError("it is of another kind")
    if said["version"] != FORMAT_VERSION:
        raise ValueError(f"version {said['version']!r}, this program reads {FORMAT_VERSION}")
    notes = said["notes"]
    if not isinstance(notes, list) or len(notes) > MOST_NOTES:
        raise ValueError(f"more than {MOST_NOTES} notes")
    device_rate = said["device_rate_hz"]
    return TakeSet(
        instrument=_text(said["instrument"]),
        string=_whole(said["string"], 1, 100),
        scale_mm=_number(said["scale_mm"], 1.0, 1e5),
        device=_text(said["device"]),
        rate_hz=_whole(said["rate_hz"], 1, 10**6),
        device_rate_hz=None if device_rate is None else _whole(device_rate, 1, 10**6),
        started_at=_instant(said["started_at"]),
        notes=tuple(_note_of(note) for note in notes),
    )


def _note_of(said: Any) -> KeptNote:  # noqa: ANN401  JSON holds anything
    # A name with a folder in it would read what is no take.
    if not _FILE_NAME.fullmatch(_text(said["file"])):
        raise ValueError(f"{said['file']!r} is no file of a take")
    if said["tone"] not in TONES:
        raise ValueError(f"{said['tone']!r} is no tone")
    if not _SHA256.fullmatch(_text(said["sha256"])):
        raise ValueError("a SHA-256 is missing")
    peak = said["peak_dbfs"]
    return KeptNote(
        file=said["file"],
        take=_whole(said["take"], 1, MOST_NOTES),
        tone=said["tone"],
        recorded_at=_instant(said["recorded_at"]),
        frames=_whole(said["frames"], 0, 2**40),
        sha256=said["sha256"],
        quality=_text(said["quality"]),
        why=_text(said["why"]),
        peak_dbfs=None if peak is None else _number(peak, -1e3, 1e3),
    )


def _text(value: Any) -> str:  # noqa: ANN401  JSON holds anything
    if not isinstance(value, str) or len(value) > 1000:
        raise ValueError(f"{str(value)[:40]!r} is no text")
    return value


def _whole(value: Any, low: int, high: int) -> int:  # noqa: ANN401  JSON holds anything
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise ValueError(f"{str(value)[:40]} is no whole number from {low} to {high}")
    return value


def _number(value: Any, low: float, high: float) -> float:  # noqa: ANN401  JSON holds anything
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise ValueError(f"{str(value)[:40]} is no number from {low:g} to {high:g}")
    return float(value)


def _instant(value: Any) -> datetime:  # noqa: ANN401  JSON holds anything
    instant = datetime.fromisoformat(_text(value))
    if instant.tzinfo is None:
        raise ValueError(f"{value!r} says no zone")
    return instant.astimezone(UTC)


def _instant_text(instant: datetime) -> str:
    return instant.astimezone(UTC).isoformat(timespec="seconds")


def _taken(path: Path) -> UsageError:
    return UsageError(f"the folder {path} holds something already", "name a new one: takes are never overwritten")
