"""What the system says of a device of miniaudio's, and how it is let go; shared by player and recorder.

Imports miniaudio and nothing of centwise.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from threading import Thread
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

CLOSE_LIMIT_S = 0.5
"""How long closing is waited for; it takes 2 ms where the sound server answers (measured)."""


@dataclass(frozen=True, slots=True)
class DeviceDescription:
    """What the system says of its standard loudspeaker or microphone.

    Attributes:
        name: free text; empty where the system gives none.
        rate_hz: its own rate, None where the system does not say.
        channels: its own channels, None where the system does not say.
        backend: what it is reached through, such as PulseAudio.
    """

    name: str = ""
    rate_hz: int | None = None
    channels: int | None = None
    backend: str = ""


def described(device: Any, *, capture: bool) -> DeviceDescription:  # noqa: ANN401  untyped library
    """Ask the system what an opened device is; what it does not say stays open."""
    backend = str(getattr(device, "backend", ""))
    try:
        from _miniaudio import ffi, lib  # noqa: PLC0415  part of miniaudio

        kind = lib.ma_device_type_capture if capture else lib.ma_device_type_playback
        info = ffi.new("ma_device_info *")
        if lib.ma_context_get_device_info(device._context, kind, ffi.NULL, info) != 0:  # noqa: SLF001
            return DeviceDescription(backend=backend)
        name = ffi.string(info.name).decode("utf-8", errors="replace").strip()
        own = info.nativeDataFormats[0] if info.nativeDataFormatCount else None
    except (ImportError, AttributeError, TypeError):
        return DeviceDescription(backend=backend)
    if own is None:
        return DeviceDescription(name, backend=backend)
    return DeviceDescription(name, int(own.sampleRate) or None, int(own.channels) or None, backend)


def let_go(device: Any) -> None:  # noqa: ANN401  untyped library
    """Close a device and its context; not for the audio thread."""
    device.close()
    # miniaudio's Python layer never lets its context go: a sound server would keep one connection per opening.
    with suppress(ImportError, AttributeError, TypeError):
        import _miniaudio  # noqa: PLC0415  part of miniaudio

        _miniaudio.lib.ma_context_uninit(device._context)  # noqa: SLF001


def close_in_time(closing: Callable[[], object]) -> None:
    """Close, waiting a while: a sound server that hangs holds this up for half a minute, so it goes on in a thread."""
    thread = Thread(target=closing, name="miniaudio-close", daemon=True)
    try:
        thread.start()
    except RuntimeError:
        # No thread starts any more at the interpreter's exit.
        closing()
    else:
        thread.join(CLOSE_LIMIT_S)
