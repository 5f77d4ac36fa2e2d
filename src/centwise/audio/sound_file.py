"""Sound files, written and read through libsndfile: WAV and FLAC of 24 bits, OGG Vorbis. soundfile is loaded on use.

A file is written beside its place and moved into it when complete, so no half file is ever found there.
Imports numpy, soundfile, model and below.
"""

from __future__ import annotations

import io
import os
import stat
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, BinaryIO

import numpy as np

from centwise.audio.level import gain_from_db
from centwise.audio.ogg import with_serial
from centwise.audio.samples import check_samples, whole_numbers
from centwise.errors import InputError, UsageError, reason_of
from centwise.systems import check_file_name, unwritten, written_whole

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from centwise.model import Samples

SUFFIXES = (".wav", ".flac", ".ogg")
BITS = 24
BLOCK_FRAMES = 1 << 18
MOST_CHUNKS = 1000
"""Chunks of a WAV file looked through for its sound; real files have a dozen at most."""

VORBIS_TRIES = 12
"""Encodings tried to keep an OGG file below the peak of its samples."""

VORBIS_STEP_DB = 0.15
"""Each try is softer by the overshoot and by this many times its number: Vorbis sets its levels in steps, so the
overshoot alone comes back unchanged (measured)."""


def write_sound(path: Path, samples: Samples, rate_hz: int) -> None:
    """Write a sound: no sample read back exceeds the peak of what was given; the same sound makes the same bytes.

    WAV and FLAC hold every sample to 24 bits. OGG Vorbis is lossy and overshoots: where its decoded peak would exceed
    the peak of the samples, the whole sound is encoded anew a little softer (0.64 dB at most for our tones, measured).
    Being lossy it also moves the measured pitch difference of a pair, by up to 0.013 cents at 22.05 to 48 kHz and
    0.08 cents at 192 kHz (measured): use WAV or FLAC for measuring.

    Args:
        path: ends in .wav, .flac or .ogg, upper or lower case; an existing file is replaced.
        samples: float32, shape (frames,), mono, within -1..1.
        rate_hz: 22050 to 192000.

    Raises:
        UsageError: another suffix.
        InputError: the samples or the rate are out of range, the format does not take the rate, or the file cannot be
            written; then nothing is left behind and an earlier file is as it was.
    """
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError(f"{path.name!r} does not say a known sound format", "end its name in .wav, .flac or .ogg")
    check_samples(samples, rate_hz)
    content = _vorbis(path, samples, rate_hz) if suffix == ".ogg" else _whole(samples, rate_hz, suffix[1:].upper())
    _put(path, content)


def write_new_sound(path: Path, samples: Samples, rate_hz: int) -> bytes:
    """Write a sound as `write_sound` does, WAV or FLAC, but never over another file; on disk when this returns.

    Returns:
        The bytes of the file.

    Raises:
        UsageError: another suffix.
        InputError: as `write_sound`; or there is a file of that name.
    """
    suffix = path.suffix.lower()
    if suffix not in {".wav", ".flac"}:
        raise UsageError(f"{path.name!r} is not kept without a loss", "end its name in .wav or .flac")
    check_samples(samples, rate_hz)
    content = _whole(samples, rate_hz, suffix[1:].upper())
    check_file_name(path)
    try:
        path.open("xb").close()
    except FileExistsError as error:
        raise InputError(f"{path} is there already", "name another folder: takes are never overwritten") from error
    except OSError as error:
        raise unwritten(path, error) from error
    try:
        _put(path, content, durably=True)
    except BaseException:
        with suppress(OSError):
            path.unlink()
        raise
    return content


@dataclass(frozen=True, slots=True)
class SoundReader:
    """A sound file open for reading.

    Attributes:
        rate_hz: frames per second.
        channels: one or more.
        frames: what its header says; the blocks hold what there is.
        blocks: float32, shape (frames,) for one channel or (frames, channels), at most `BLOCK_FRAMES` long, read as
            they are asked for.
    """

    rate_hz: int
    channels: int
    frames: int
    blocks: Iterator[Samples]


@contextmanager
def open_sound(path: Path) -> Iterator[SoundReader]:
    """Open a sound file and read it block by block: nothing is allocated by what its header says.

    Raises:
        InputError: it is missing, a folder, a pipe or a device, unreadable, no sound file, or cut short.
    """
    import soundfile  # noqa: PLC0415  loaded when a file is read

    try:
        # Before it is opened: opening a pipe waits for somebody to write to it.
        if not stat.S_ISREG(path.stat().st_mode):
            what = "a folder" if path.is_dir() else "a pipe or a device, not a file"
            raise InputError(f"{path} is {what}", "give a WAV, FLAC or OGG file")
        # Nothing in it, as the kernel says of its own files, some of which fail as they are read.
        if path.stat().st_size == 0:
            raise InputError(f"{path} is not a sound file that can be read", "give a WAV, FLAC or OGG file")
        with path.open("rb") as file:
            _check_promise(file, path)
            with soundfile.SoundFile(file) as sound:
                yield SoundReader(int(sound.samplerate), int(sound.channels), int(sound.frames), _blocks(sound))
    except OSError as error:
        raise InputError(f"{path} cannot be read ({reason_of(error)})", "check its name and permissions") from error
    except ValueError as error:  # a name with a null character
        raise InputError(f"{str(path)!r} cannot be a file's name", "check it") from error
    except soundfile.LibsndfileError as error:
        raise InputError(f"{path} is not a sound file that can be read", "give a WAV, FLAC or OGG file") from error


def read_sound(path: Path) -> tuple[Samples, int]:
    """Read a sound file of one channel or several.

    Returns:
        float32 samples, shape (frames,) for one channel or (frames, channels), and the rate in Hz.

    Raises:
        InputError: as `open_sound`.
    """
    with open_sound(path) as sound:
        blocks = list(sound.blocks)
        shape = (0,) if sound.channels == 1 else (0, sound.channels)
        return np.concatenate(blocks) if blocks else np.zeros(shape, dtype=np.float32), sound.rate_hz


def _blocks(sound: Any) -> Iterator[Samples]:  # noqa: ANN401  soundfile has no types
    while True:
        block: Samples = sound.read(BLOCK_FRAMES, dtype="float32")
        if len(block) == 0:
            return
        yield block


def _check_promise(file: BinaryIO, path: Path) -> None:
    """Refuse a WAV file whose header promises more sound than there is, and leave the file at its start."""
    held = file.seek(0, os.SEEK_END)
    file.seek(0)
    if file.read(4) == b"RIFF" and file.seek(8) and file.read(4) == b"WAVE":
        for _ in range(MOST_CHUNKS):
            head = file.read(8)
            if len(head) < 8:
                break
            promised = int.from_bytes(head[4:], "little")
            there = held - file.tell()
            if head[:4] == b"data":
                if promised > there + 1:
                    raise InputError(
                        f"{path} is cut short: its header promises {promised} bytes of sound and it holds {there}",
                        "record or export it again",
                    )
                break
            file.seek(promised + promised % 2, os.SEEK_CUR)
    file.seek(0)


def _whole(samples: Samples, rate_hz: int, kind: str) -> bytes:
    import soundfile  # noqa: PLC0415  loaded when a file is written

    # libsndfile takes the upper 24 of 32 bits as they are, while its own scaling of floats could round above the peak.
    numbers = whole_numbers(samples, BITS) << (32 - BITS)
    buffer = io.BytesIO()
    soundfile.write(buffer, numbers, rate_hz, format=kind, subtype="PCM_24")
    return buffer.getvalue()


def _vorbis(path: Path, samples: Samples, rate_hz: int) -> bytes:
    import soundfile  # noqa: PLC0415  loaded when a file is written

    peak = float(np.max(np.abs(samples)))
    gain = 1.0
    for tries in range(1, VORBIS_TRIES + 1):
        buffer = io.BytesIO()
        try:
            soundfile.write(buffer, samples * np.float32(gain), rate_hz, format="OGG", subtype="VORBIS")
        except soundfile.LibsndfileError as error:
            raise InputError(
                f"{path} cannot be written: OGG Vorbis does not take {rate_hz} Hz", "use .wav or .flac for this rate"
            ) from error
        content = buffer.getvalue()
        decoded, _ = soundfile.read(io.BytesIO(content), dtype="float32")
        decoded_peak = float(np.max(np.abs(decoded), initial=0.0))
        if decoded_peak <= peak:
            return with_serial(content)
        gain *= peak / decoded_peak * gain_from_db(-VORBIS_STEP_DB * tries)
    raise InputError(f"{path} cannot be kept below its peak as OGG Vorbis", "use .wav or .flac, which lose nothing")


def _put(path: Path, content: bytes, *, durably: bool = False) -> None:
    with written_whole(path) as part, part.open("wb") as file:
        file.write(content)
        if durably:
            file.flush()
            os.fsync(file.fileno())
