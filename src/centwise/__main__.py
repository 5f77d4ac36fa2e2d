"""The way in. `--version` is answered before anything else is loaded."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
    if sys.argv[1:] in (["--version"], ["-V"]):
        from centwise import __version__  # noqa: PLC0415  start-up path

        sys.stdout.write(f"centwise {__version__}\n")
        return
    from centwise.cli.main import run  # noqa: PLC0415  start-up path

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
