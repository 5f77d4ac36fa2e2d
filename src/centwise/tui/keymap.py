"""The keys of the app as somebody has set them, checked against the acts there are. Line words are no keys and stay.

Each table `[keys.place]` of the settings file gives acts of that place other keys: `flat = "j"`,
`again = ["x", "space"]`. An act is called by its label in small letters with hyphens. What is given takes the place of
the standard keys, but for esc, which stays with its act everywhere: no place may be without a way out.
Imports errors, acts and key names, and no widgets.
"""

from __future__ import annotations

import re
import string
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from centwise.errors import InputError
from centwise.tui.acts import EVERYWHERE, PLACES, Act, place_name
from centwise.tui.key_names import SIGN_KEYS, key_name

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from textual.binding import BindingsMap

TYPED_PLACES = ("listeners", "edit", "merge")
"""Where the cursor stands in a line from the beginning, so that letters are typed and do nothing else."""
LINE_KEYS = ("enter", "left", "right", "home", "end", "delete")
"""What such a line itself has keys for; it is asked first."""
WAY_OUT = "escape"
_NAMED = (
    *("up", "down", "left", "right", "enter", "home", "end", "pageup", "pagedown", "insert", "delete"),
    *(f"f{number}" for number in range(1, 13)),
)
_SIGNS = {"space": " "} | SIGN_KEYS
_NAMES = {sign: name for name, sign in _SIGNS.items()}
_MARK = re.compile(r"([‹«])([A-Za-z-]+)[›»]")


@dataclass(frozen=True, slots=True)
class Keymap:
    """Which keys differ from the standard ones.

    Attributes:
        changed: the keys by place and the act's id, as Textual calls them; empty for the standard keys.
    """

    changed: Mapping[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)

    def acts(self, standard: tuple[Act, ...]) -> tuple[Act, ...]:
        """Return the acts of a place with the keys they have now."""
        place = place_name(standard)
        return tuple(replace(act, keys=self.changed.get((place, act.id), act.keys)) for act in standard)

    def rebind(self, standard: tuple[Act, ...], bound: BindingsMap) -> bool:
        """Bind the acts of a place that have other keys anew; return whether there were any."""
        now = [act for table in (standard, EVERYWHERE) for act in self.acts(table)]
        before = {act.id: act for table in (standard, EVERYWHERE) for act in table}
        moved = [act for act in now if act.keys != before[act.id].keys]
        gone = {act.id for act in moved}
        for key, held in list(bound.key_to_bindings.items()):
            kept = [binding for binding in held if binding.action not in gone]
            if kept:
                bound.key_to_bindings[key] = kept
            else:
                del bound.key_to_bindings[key]
        for act in moved:
            for binding in act.bindings():
                for key in binding.key.split(","):
                    # First, before what a page has on that key beside its acts.
                    bound.key_to_bindings.setdefault(key, []).insert(0, binding.with_key(key))
        return bool(moved)

    def told(self, text: str, standard: tuple[Act, ...]) -> str:
        """Put keys into a text: `‹again›` is the first key of the act Again as it is spoken, `«next»` as on a button.

        A capital letter in it begins a sentence: `‹Next›: go on.` gives `Enter: go on.`
        """
        if "‹" not in text and "«" not in text:
            return text
        names = {act.name: act.keys[0] for table in (EVERYWHERE, standard) for act in self.acts(table)}

        def key(match: re.Match[str]) -> str:
            how, name = match.groups()
            if name.lower() not in names:
                return match.group()
            shown = key_name(names[name.lower()], short=how == "«")
            return shown[:1].upper() + shown[1:] if name[0].isupper() else shown

        return _MARK.sub(key, text)


def keymap_of(keys: Mapping[str, Mapping[str, tuple[str, ...]]], config_file: Path | None) -> Keymap:
    """Return the keymap of the tables of a settings file.

    Args:
        keys: keys by place and act, as they are written.
        config_file: named in what is wrong.

    Raises:
        InputError: no such place, act or key, or two acts of one place on one key.
    """
    if not keys:  # as it nearly always is: start-up then looks at no place but the first
        return Keymap()
    changed: dict[tuple[str, str], tuple[str, ...]] = {}
    said = f"the settings file {config_file}"
    for place, table in keys.items():
        if place not in PLACES:
            raise InputError(f"{said} gives keys to an unknown place {place!r}", f"use one of {', '.join(PLACES)}")
        acts = {act.name: act for act in PLACES[place]}
        for name, wanted in table.items():
            act = acts.get(name)
            if act is None:
                raise InputError(f"{said} gives a key to an unknown act {name!r} at {place}", f"use {', '.join(acts)}")
            if act.fixed:
                raise InputError(f"{said} gives a key to {name} at {place}, which takes numbers", "leave it out")
            changed[place, act.id] = _keys_of(said, place, act, wanted)
    keymap = Keymap(changed)
    for place, acts_there in PLACES.items():
        _check_place(said, place, keymap.acts(acts_there), keymap.acts(EVERYWHERE))
    return keymap


def _keys_of(said: str, place: str, act: Act, wanted: tuple[str, ...]) -> tuple[str, ...]:
    found = [_textual_key(said, key) for key in wanted]
    if WAY_OUT in act.keys:
        found.append(WAY_OUT)
    own = tuple(dict.fromkeys(found))
    letters = [key for key in own if _types(key)]
    in_lines = [key for key in own if key in LINE_KEYS and key not in act.keys]
    if place in TYPED_PLACES and (letters or in_lines):
        raise InputError(
            f"{said} gives {key_name([*letters, *in_lines][0])} to {act.name} at {place}, where "
            f"{'letters are typed into a line' if letters else 'the line that is typed into needs it'}",
            "give it a function key, ↑ or ↓",
        )
    if place == "everywhere" and len(letters) == len(own):
        raise InputError(
            f"{said} gives {act.name} no key that works where letters are typed", "add a function key, such as f1"
        )
    return own


def _textual_key(said: str, key: str) -> str:
    if len(key) == 1:
        if key in string.ascii_letters + string.digits:
            # Textual tells a large letter by the letter itself.
            return key
        if key in _NAMES:
            return _NAMES[key]
    name = {"esc": WAY_OUT, "page up": "pageup", "page down": "pagedown"}.get(key.lower(), key.lower())
    if name in _NAMED or name in _SIGNS or name == WAY_OUT:
        return name
    raise InputError(
        f"{said} names an unknown key {key[:40]!r}",
        'give a letter, a digit, a sign such as "+", or ' + ", ".join(_NAMED),
    )


def _types(key: str) -> bool:
    return len(key) == 1 or key in _SIGNS


def _check_place(said: str, place: str, acts: tuple[Act, ...], everywhere: tuple[Act, ...]) -> None:
    taken: dict[str, Act] = {}
    for act in (*acts, *(() if place == "everywhere" else everywhere)):
        for key in act.keys:
            if key in taken:
                raise InputError(
                    f"{said} leaves the key {key_name(key)} at {place} to both {taken[key].name} and {act.name}",
                    "give one of them another key",
                )
            taken[key] = act
