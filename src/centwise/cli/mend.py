"""`centwise check --mend`: a damaged store brought over, and what it keeps beside the answers worked out anew.

Imports bootstrap and below.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from centwise.cli.diagnostics import ExitCode
from centwise.cli.output import emit, say
from centwise.cli.waiting import waiting
from centwise.units import counted

if TYPE_CHECKING:
    from pathlib import Path

    from centwise.settings.load import Settings
    from centwise.store.salvage import Salvaged

EVERY = 100
"""So many results are worked out between two words on how far it is, a second or two."""


def run_mend(settings: Settings, *, as_json: bool) -> int:
    """Mend the store of these settings and tell what was done."""
    from centwise.bootstrap import open_store  # noqa: PLC0415  start-up path
    from centwise.mending import mend  # noqa: PLC0415  loads numpy
    from centwise.store.sqlite import FILE_NAME  # noqa: PLC0415

    shows = not as_json and sys.stderr is not None and sys.stderr.isatty()

    def progress(done: int, every: int) -> None:
        if shows and (done % EVERY == 0 or done == every):
            sys.stderr.write(f"\r{done:,} of {every:,} results" + ("\n" if done == every else ""))
            sys.stderr.flush()

    with waiting("the store is being looked through"):
        salvaged = _salvaged(settings.data_dir / FILE_NAME)
    if salvaged is not None and not as_json:
        say(f"{salvaged.sentence[:1].upper()}{salvaged.sentence[1:]}")
    store = open_store(settings)
    try:
        mended = mend(store, progress)
    finally:
        store.close()
    if as_json:
        emit(
            {
                "summaries": mended.summaries,
                "results": mended.results,
                "left": mended.left,
                "copy": None if mended.copy is None else str(mended.copy),
                "set_aside": None if salvaged is None else str(salvaged.aside),
                "brought_over": None if salvaged is None else dict(salvaged.rows),
            }
        )
    elif mended.copy is None and salvaged is None:
        say("There is nothing to mend: every summary and every result is as the answers say.")
    elif mended.copy is not None:
        blocks, results = counted(mended.summaries, "block"), counted(mended.results, "result")
        say(f"Worked out anew: the summaries of {blocks} and {results}.")
        if mended.left:
            say(f"Left as it was, because the answers give none: {counted(mended.left, 'result')}.")
        say(f"The store as it was is in {mended.copy}: delete it at will.")
    return ExitCode.DONE


def _salvaged(path: Path) -> Salvaged | None:
    """Bring a damaged store over into a new one; None where it is sound, or not there."""
    from centwise.store.looking import look_at_store  # noqa: PLC0415  start-up path
    from centwise.store.opening import DamagedStoreError  # noqa: PLC0415
    from centwise.store.salvage import salvage  # noqa: PLC0415

    try:
        look_at_store(path)
    except DamagedStoreError:
        return salvage(path)
    return None
