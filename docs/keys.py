"""Writes docs/keys.md from the table that the app's footer, help pages and keys are made of.

    python docs/keys.py

A test in `tests/app/test_doc_pictures.py` fails once the page is behind the app.
"""

from __future__ import annotations

import sys
from pathlib import Path

from centwise.tui import acts

PAGE = Path(__file__).with_name("keys.md")

TITLES = {
    "everywhere": "Everywhere",
    "listeners": "Who listens",
    "level": "The listening level",
    "block": "The next block",
    "drill": "Judging pairs",
    "result": "The result",
    "lessons": "Lessons",
    "progress": "One listener's progress",
    "class": "The class",
    "edit": "Changing a listener",
    "merge": "Merging two listeners",
    "question": "A question before something goes",
    "instruments": "Instruments",
    "own": "Your own instrument",
    "record": "Recording",
    "meter": "What the meter reads",
    "bench-choice": "Before the bench",
    "bench": "At the bench",
    "trouble": "When something did not work",
}
"""The places in the order in which one comes to them."""
IN_A_BLOCK = "When something did not work in a block"

HEAD = """# Keys

Every key of the app, place by place. `?` or F1 shows the same where you are, and the lowest line of the screen names
the most useful ones. Only keys that every keyboard has are used; buttons can be clicked too,
and on the help page a click on a line does what it says. ctrl+c leaves the app from
anywhere, and nothing that was answered is lost. Every key but the strings' numbers can be another one:
[settings.md](settings.md#keys-of-your-own) says how. Under each title stands what the place is called there; an act is
called by the middle column, in small letters with hyphens.
"""

LINES = """
## In plain lines

`centwise drill --plain` takes words and enter in place of keys: `flat`, `unison`, `sharp` (or `f`, `u`, `s`, or the
signs `♭`, `=`, `♯`) to answer; `again`, `harmonic`, `fretted` (or `a`, `h`, `t`) to hear it once more; `help` tells the
others; `quit` (or `q`) ends the block. The app's word line (`w`) takes the same words. The bench has words of its own:
`centwise bench --plain`, then `help`.
"""


def page() -> str:
    """Return the page."""
    tables = [(TITLES[place], acts.PLACES[place]) for place in sorted(acts.PLACES, key=[*TITLES].index)]
    parts = [HEAD]
    for title, table in (*tables, (IN_A_BLOCK, acts.TROUBLE_IN_A_BLOCK)):
        rows = "\n".join(f"| {act.keys_text} | {act.label} | {act.help} |" for act in table)
        place = f"`[keys.{acts.place_name(table)}]`"
        parts.append(f"\n## {title}\n\n{place}\n\n| key | | what it does |\n|---|---|---|\n{rows}\n")
    return "".join((*parts, LINES))


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    sys.stdout.write(f"{PAGE}\n")
