"""Columns of a terminal: as wide as asked whatever the script, and harmless."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from centwise.cli.columns import fitted, table, width_of


@given(st.text(), st.integers(2, 40))
def test_a_cell_is_as_wide_as_asked(text: str, width: int) -> None:
    assert width_of(fitted(text, width)) == width
    assert width_of(fitted(text, width, right=True)) == width
    assert not {"\n", "\x1b", "\u202e"} & set(fitted(text, width))


def test_widths_of_scripts() -> None:
    # UAX #11: ideographs and full-width forms take two columns, combining marks none.
    assert [width_of(text) for text in ("abc", "李小龙", "e\u0301", "Ａ")] == [3, 6, 1, 2]
    assert fitted("李小龙", 4) == "李… "
    assert fitted("abcdef", 4) == "abc…"


def test_columns_stand_under_their_heads() -> None:
    assert table(("Name", "N"), [("李", "1"), ("a", "100")], right=(1,)) == ["Name    N", "李      1", "a     100"]
