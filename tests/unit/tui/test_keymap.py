"""Keys of one's own: taken, refused with their names, and put into texts."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.keys import _character_to_key

from centwise.errors import InputError
from centwise.tui import acts
from centwise.tui.key_names import SIGN_KEYS, key_name
from centwise.tui.keymap import keymap_of

FILE = Path("settings.toml")


def keys_of(place: str, name: str, **tables: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    here = keymap_of(tables, FILE).acts(acts.PLACES[place])
    return next(act.keys for act in here if act.name == name)


def test_what_is_given_takes_the_place_of_the_standard_keys_at_that_place_alone() -> None:
    tables = {"drill": {"flat": ("j",), "again": ("x", " ", "+")}}
    assert keys_of("drill", "flat", **tables) == ("j",)
    assert keys_of("drill", "again", **tables) == ("x", "space", "plus")
    assert keys_of("drill", "sharp", **tables) == ("s", "right")
    assert keys_of("bench", "fret", **tables) == ("f", "enter")


def test_two_acts_can_change_keys() -> None:
    tables = {"drill": {"flat": ("s",), "sharp": ("f",)}}
    assert keys_of("drill", "flat", **tables) == ("s",)
    assert keys_of("drill", "sharp", **tables) == ("f",)


def test_esc_stays_with_its_act() -> None:
    assert keys_of("drill", "end-block", drill={"end-block": ("x",)}) == ("x", "escape")
    with pytest.raises(InputError, match=r"leaves the key esc at drill to both word and end-block: give one of them"):
        keymap_of({"drill": {"word": ("esc",)}}, FILE)


@pytest.mark.parametrize(
    ("tables", "message"),
    [
        ({"dril": {"flat": ("j",)}}, r"gives keys to an unknown place 'dril': use one of everywhere, listeners, "),
        ({"drill": {"fla": ("j",)}}, r"gives a key to an unknown act 'fla' at drill: use flat, unison, sharp, "),
        ({"drill": {"flat": ("ctrl+k",)}}, r"names an unknown key 'ctrl\+k': give a letter, a digit, a sign"),
        ({"drill": {"flat": ("tab",)}}, r"names an unknown key 'tab'"),
        ({"drill": {"flat": ("ä",)}}, r"names an unknown key 'ä'"),
        ({"drill": {"flat": ("s",)}}, r"leaves the key s at drill to both flat and sharp: give one of them another"),
        ({"drill": {"flat": ("?",)}}, r"leaves the key \? at drill to both flat and help"),
        ({"everywhere": {"help": ("f5",)}}, r"leaves the key F5 at edit to both save and help"),
        ({"everywhere": {"help": ("f2",)}}, r"leaves the key F2 at everywhere to both help and light-dark"),
        ({"everywhere": {"help": ("x",)}}, r"gives help no key that works where letters are typed: add a function key"),
        ({"listeners": {"class": ("c",)}}, r"gives c to class at listeners, where letters are typed into a line"),
        (
            {"listeners": {"edit": ("left",)}},
            r"gives ← to edit at listeners, where the line that is typed into needs",
        ),
        ({"record": {"string-3": ("j",)}}, r"gives a key to string-3 at record, which takes numbers: leave it out"),
        ({"block": {"string": ("j",)}}, r"gives a key to string at block, which takes numbers: leave it out"),
        ({"block": {"fewer": ("3",)}}, r"leaves the key 3 at block to both string and fewer"),
    ],
)
def test_what_cannot_be_is_named(tables: dict[str, dict[str, tuple[str, ...]]], message: str) -> None:
    with pytest.raises(InputError, match=rf"^the settings file settings\.toml .*{message}|^{message}") as caught:
        keymap_of(tables, FILE)
    assert caught.value.exit_code == 3


def test_every_act_of_every_place_has_a_name_of_its_own_and_can_be_given_a_key() -> None:
    for place, table in acts.PLACES.items():
        names = [act.name for act in table]
        assert len(set(names)) == len(names), place
        for act in table:
            assert act.name
            if act.fixed:
                continue
            keys = ("f11",)
            assert keys_of(place, act.name, **{place: {act.name: keys}})[0] == "f11"


def test_in_a_block_trouble_has_the_keys_of_trouble() -> None:
    keymap = keymap_of({"trouble": {"try-again": ("x",)}}, FILE)
    assert keymap.acts(acts.TROUBLE_IN_A_BLOCK)[0].keys == ("x",)


@given(
    st.dictionaries(
        st.sampled_from([*acts.PLACES, "elsewhere"]),
        st.dictionaries(
            st.sampled_from(sorted({act.name for table in acts.PLACES.values() for act in table})),
            st.lists(st.one_of(st.characters(), st.sampled_from(["space", "F3", "esc", "up"])), min_size=1, max_size=3),
            max_size=3,
        ),
        max_size=3,
    )
)
def test_any_tables_are_taken_without_a_clash_or_refused_in_a_sentence(tables: dict[str, dict[str, list[str]]]) -> None:
    try:
        keymap = keymap_of({p: {a: tuple(k) for a, k in t.items()} for p, t in tables.items()}, FILE)
    except InputError:
        return
    for table in acts.PLACES.values():
        keys = [key for act in keymap.acts(table) for key in act.keys]
        assert len(set(keys)) == len(keys)


def test_signs_are_called_as_textual_calls_them() -> None:
    assert {sign: _character_to_key(sign) for sign in SIGN_KEYS.values()} == {s: k for k, s in SIGN_KEYS.items()}


def test_texts_name_the_keys_there_are_now() -> None:
    keymap = keymap_of({"drill": {"again": ("x",), "next": ("space",)}, "everywhere": {"help": ("f9",)}}, FILE)
    assert keymap.told("‹Next›: go on; ‹again›: hear it. ‹help›.", acts.DRILL) == "Space: go on; x: hear it. F9."
    standard = keymap_of({}, FILE)
    assert standard.told("«next» next, ‹next›", acts.DRILL) == "⏎ next, enter"
    # What only looks like one is left as it is.
    assert standard.told("‹nothing› «» ‹ä›", acts.DRILL) == "‹nothing› «» ‹ä›"
    assert key_name("pageup") == "page up"
