"""The way in. `--version` is answered before anything else is loaded."""

from __future__ import annotations

import os
import sys

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
"""Our matrices are small: with a second BLAS thread a tone takes three times as long (measured)."""


def main() -> None:
    """Run the command line and leave with its exit code."""
    if sys.argv[1:] in (["--version"], ["-V"]) and _told_version():
        return
    for variable in ONE_THREAD:
        os.environ.setdefault(variable, "1")
    try:
        from centwise.cli.main import run  # noqa: PLC0415  start-up path
    except KeyboardInterrupt:
        sys.exit(130)
    sys.exit(run(sys.argv[1:]))


def _told_version() -> bool:
    from centwise import __version__  # noqa: PLC0415  start-up path

    try:
        # Past the buffer: what could not be written must not lie in it when the long way round says so.
        os.write(sys.stdout.fileno(), f"centwise {__version__}{os.linesep}".encode())
    except (OSError, AttributeError):
        return False  # no stdout, or one that takes nothing
    return True


if __name__ == "__main__":
    main()
