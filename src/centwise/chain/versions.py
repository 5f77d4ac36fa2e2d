"""What the chain is made of: versions of the program, of Python, of the libraries and of the system.

Imports soundfile and nothing of centwise.
"""

from __future__ import annotations

import importlib.metadata
import platform
import sqlite3

from centwise import __version__

LIBRARIES = ("numpy", "soundfile", "miniaudio", "simpleaudio")


def versions() -> dict[str, str]:
    """Return names and versions, in the order in which they are shown; what is not installed is left out."""
    found = {"centwise": __version__, "Python": platform.python_version()}
    for library in LIBRARIES:
        try:
            found[library] = importlib.metadata.version(library)
        except importlib.metadata.PackageNotFoundError:
            continue
        if library == "soundfile":
            found["libsndfile"] = _libsndfile()
    found["SQLite"] = sqlite3.sqlite_version
    found["system"] = " ".join(f"{platform.system()} {platform.release()} {platform.machine()}".split())
    return found


def _libsndfile() -> str:
    try:
        import soundfile  # noqa: PLC0415  loaded when it is asked for

        return str(soundfile.__libsndfile_version__)
    except (ImportError, OSError, AttributeError):
        return "does not load"
