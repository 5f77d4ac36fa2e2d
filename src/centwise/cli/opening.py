"""Opens the terminal app for the commands that have one. Loads Textual, and only when it is called.

Imports tui and below.
"""

from __future__ import annotations

import gc
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from centwise.bench_planning import BenchRequest
    from centwise.lessons.lesson import Lesson
    from centwise.planning import BlockRequest
    from centwise.ports import Services
    from centwise.settings.load import Settings
    from centwise.takes.session import RecordingRequest


def open_app(
    services: Services,
    settings: Settings,
    request: BlockRequest,
    *,
    listener_name: str | None,
    instrument_asked: bool,
    lesson: Lesson | None = None,
    recording: RecordingRequest | None = None,
    resume: bool = False,
    bench: BenchRequest | None = None,
) -> int:
    """Run the app until it is left, and return the exit code.

    Raises:
        StoppedError: ctrl+c or a signal ended it.
        CentwiseError: the app could not begin, or the result of the block that was left could not be kept.
    """
    # Start-up makes tens of thousands of objects that all stay: looking through them again and again for something to
    # throw away is a tenth of the time to the first frame. The app lets collecting go on once that stands.
    gc.disable()
    try:
        from centwise.audio.open import open_player  # noqa: PLC0415  start-up path
        from centwise.tui.app import run_app  # noqa: PLC0415

        return run_app(
            services,
            settings,
            request,
            listener_name=listener_name,
            instrument_asked=instrument_asked,
            lesson=lesson,
            recording=recording,
            resume=resume,
            bench=bench,
            silent_player=lambda: open_player("silent", services.clock),
        )
    finally:
        gc.enable()
