"""Anybody's text as it is shown: nothing steers, and every script keeps what it needs."""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from centwise.harmless import JOINERS, harmless


@given(st.text())
def test_nothing_that_is_left_steers_and_nothing_else_is_lost(text: str) -> None:
    shown = harmless(text, instead="")
    assert [
        ch for ch in shown if unicodedata.category(ch) in {"Cc", "Cf", "Cs", "Zl", "Zp"} and ch not in JOINERS
    ] == []
    assert shown == "".join(ch for ch in text if ch in shown)
    assert len(harmless(text)) == len(text)


def test_scripts_keep_their_joiners() -> None:
    # Persian needs the non-joiner within a name (Unicode 15, chapter 9.2), emoji of several people the joiner.
    for name in ("علی\u200cرضا", "👩\u200d👩\u200d👧"):
        assert harmless(name) == name


def test_controls_and_directions_are_replaced() -> None:
    assert harmless("a\x1b[2J\u202eb\u200f\u2066\n\x9b") == "a\ufffd[2J\ufffdb\ufffd\ufffd\ufffd\ufffd"
