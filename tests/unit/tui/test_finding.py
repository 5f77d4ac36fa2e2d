"""Finding by typing: accents and case aside, words in any order, the nearest first."""

from __future__ import annotations

import pytest

from centwise.model import Listener
from centwise.tui.finding import bare, found

NAMES = ("Annabel", "Béla", "Joanna", "Anna Meier", "Meier Ann", "anna", "Straße", "Ωmega")


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        ("", list(NAMES)),
        ("  ", list(NAMES)),
        ("bela", ["Béla"]),
        ("BÉLA", ["Béla"]),
        ("anna", ["anna", "Annabel", "Anna Meier", "Joanna"]),
        ("mei ann", ["Meier Ann", "Anna Meier"]),
        ("strasse", ["Straße"]),
        ("ωm", ["Ωmega"]),
        ("[", []),
        ("x" * 10_000, []),
    ],
)
def test_what_is_typed_finds_names(typed: str, names: list[str]) -> None:
    assert [one.name for one in found([Listener(name, name) for name in NAMES], typed)] == names


def test_letters_without_accents() -> None:
    assert bare("Ångström É") == "angstrom e"
