"""A device of ALSA's `file` plugin over `null`: what a player gives to ALSA lands in a file, as fast as it comes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

STOCK = Path("/usr/share/alsa/alsa.conf")

CONFIGURATION = """
<{stock}>
pcm.!default {{ type file slave.pcm "null" file "{file}" format "raw" }}
"""

PLAY_FILE = """
import sys, time
from centwise.audio.open import open_player
from centwise.audio.sound_file import read_sound
from centwise.bootstrap import SystemClock
from centwise.model import Sound

choice, path = sys.argv[1:]
samples, rate_hz = read_sound(__import__("pathlib").Path(path))
player = open_player(choice, SystemClock())
playback = player.play(Sound(samples, rate_hz, "sound"))
assert playback.wait(60.0)
player.close()
print(player.name)
"""


def alsa_plugin_missing() -> str | None:
    """Why there can be no such device here, or None."""
    if not sys.platform.startswith("linux"):
        return "ALSA is Linux's"
    if not STOCK.exists():
        return "not installed: ALSA's configuration (libasound2-data)"
    return None


def play_into_file(folder: Path, choice: str, sound_file: Path) -> tuple[Path, str]:
    """Play a sound file in a process whose only device is the file; return the raw file and what the process said."""
    raw = folder / f"{choice}.raw"
    configuration = folder / f"{choice}.conf"
    configuration.write_text(CONFIGURATION.format(stock=STOCK, file=raw))
    done = subprocess.run(
        [sys.executable, "-c", PLAY_FILE, choice, str(sound_file)],
        env={
            **os.environ,
            "ALSA_CONFIG_PATH": str(configuration),
            "HOME": str(folder),
            "PULSE_SERVER": f"unix:{folder}/nobody",
        },
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return raw, done.stdout.strip() + done.stderr
