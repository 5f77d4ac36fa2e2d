"""What is shown where a code page lacks a sign."""

from __future__ import annotations

import io
import subprocess
import sys

import pytest

from centwise.charting import BAND, GOOD, MARKS, TREND
from centwise.cli.letters import STAND_INS, register
from centwise.trend import TREND_SIGNS


@pytest.mark.parametrize("page", ["ascii", "cp1252", "cp437", "cp850", "mac_roman", "iso8859-15"])
def test_the_signs_of_results_have_stand_ins_on_every_code_page(page: str) -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding=page, errors=register(), newline="\n")
    signs = "".join((*MARKS.values(), BAND, TREND, GOOD, *TREND_SIGNS.values(), "±", "♭", "♯", "…"))
    out.write(signs)
    out.flush()
    assert "?" not in out.buffer.getvalue().decode(page)
    assert STAND_INS["↑"] != STAND_INS["↓"]
    assert STAND_INS["♭"] != STAND_INS["♯"]


def test_letters_it_does_not_know_become_question_marks() -> None:
    assert "Zoë 聴く ± 1".encode("cp437", register()).decode("cp437") == "Zoë ?? ± 1"
    assert "±1".encode("ascii", register()) == b"+/-1"
    with pytest.raises(UnicodeDecodeError):
        b"\xff".decode("ascii", register())


def test_the_program_writes_so() -> None:
    code = (
        "from centwise.cli.diagnostics import mend_streams; from centwise.cli.output import say\n"
        "mend_streams(); say('flat ♭ ± 1 …')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, env=ascii_only(), check=True)
    assert done.stdout.rstrip() == b"flat b +/- 1 ..."


def ascii_only() -> dict[str, str]:
    import os

    return os.environ | {"PYTHONIOENCODING": "ascii"}
