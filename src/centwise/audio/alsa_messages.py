"""Catch what ALSA's library would print: where there is no card it writes dozens of lines to descriptor 2.

Only for the moment a device is opened; elsewhere, and where libasound is not installed, nothing happens. Imports
nothing of centwise.
"""

from __future__ import annotations

import ctypes
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

LIBRARY = "libasound.so.2"
"""The name miniaudio and simpleaudio load it by too, so that it is the same copy."""


@contextmanager
def alsa_messages() -> Iterator[list[str]]:
    """Collect ALSA's messages while a device is opened instead of printing them.

    Yields:
        The messages so far, without their arguments filled in (the handler is a C function of variable arguments).
    """
    messages: list[str] = []
    library = _library()
    if library is None:
        yield messages
        return

    def keep(_file: bytes, _line: int, function: bytes, _error: int, form: bytes) -> None:
        messages.append(f"{(function or b'').decode(errors='replace')}: {(form or b'').decode(errors='replace')}")

    handler = ctypes.CFUNCTYPE(None, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_char_p)(
        keep
    )
    library.snd_lib_error_set_handler(handler)
    try:
        yield messages
    finally:
        # None is the library's own handler again. `handler` lives until here, as the library still points at it.
        library.snd_lib_error_set_handler(None)


def _library() -> Any:  # noqa: ANN401  ctypes has no type for a library's functions
    if not sys.platform.startswith("linux"):
        return None
    try:
        library = ctypes.CDLL(LIBRARY)
        library.snd_lib_error_set_handler.argtypes = [ctypes.c_void_p]
    except (OSError, AttributeError):
        return None
    return library
