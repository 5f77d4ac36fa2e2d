"""Takes read back for measuring: a sound file, two of them, or a folder with its manifest. Imports audio and below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from centwise.audio.sound_file import open_sound
from centwise.errors import InputError
from centwise.pitch.intake import Intake, Recording
from centwise.takes.folder import checked_file

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.takes.folder import TakeSet


def recording_of(path: Path) -> Recording:
    """Read a sound file for measuring; the recording's name is the path.

    Raises:
        InputError: it cannot be read, or cannot hold a take.
    """
    with open_sound(path) as sound:
        intake = Intake(sound.rate_hz, sound.channels, str(path), sound.frames)
        for block in sound.blocks:
            intake.add(block)
    return intake.finish()


def recorded_pairs(path: Path, takes: TakeSet) -> tuple[tuple[Recording, Recording], ...]:
    """Read the good notes of a folder, harmonic and fretted note of each whole take.

    Raises:
        InputError: no take is whole, a file is missing or not what was recorded, or cannot be read.
    """
    pairs = takes.pairs()
    if not pairs:
        raise InputError(
            f"{path} holds no take with a good harmonic and a good fretted note", "record into a new folder"
        )
    found = []
    for pair in pairs:
        harmonic, fretted = (recording_of(checked_file(path, note)) for note in pair)
        found.append((harmonic, fretted))
    return tuple(found)
