"""Values of the data format held to kind and range; each refusal is a ValueError that says what was expected.

Imports strings and below.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any, NoReturn

from centwise.strings.geometry import MAX_SCALE_MM, MIN_SCALE_MM

MOST_PAIRS = 10_000
LONGEST_TEXT = 4_096
WIDEST_CENTS = 1_200.0
WIDEST_RESULT = 1e6
SCALE_MM = (MIN_SCALE_MM, MAX_SCALE_MM)

ID = re.compile(r"[A-Za-z0-9-]{1,64}")
_INSTRUMENT = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
SHA256 = re.compile(r"[0-9a-f]{64}")
_INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}\+00:00")


def check_keys(data: dict[str, Any], keys: frozenset[str]) -> None:
    """Refuse an object that lacks one of these keys or has another."""
    if missing := sorted(keys - data.keys()):
        raise ValueError(f"the key {missing[0]!r} is missing")
    if unknown := sorted(data.keys() - keys):
        raise ValueError(f"{shown(unknown[0])} is no key of such a record")


def wrong(data: dict[str, Any], key: str, wanted: str) -> NoReturn:
    """Refuse a value, saying what it is and what was expected."""
    raise ValueError(f"{key!r} is {shown(data.get(key))} (expected {wanted})")


def shown(value: object) -> str:
    """Return a value fit to stand in a sentence: ASCII, and not endless."""
    text = ascii(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def whole(data: dict[str, Any], key: str, least: int, most: int) -> int:
    """Return a whole number within a range, both ends included; 3.0 is one, as JSON Schema has it."""
    value = data[key]
    if type(value) is float and value.is_integer():
        value = int(value)
    if type(value) is not int or not least <= value <= most:
        wrong(data, key, f"a whole number from {least} to {most}")
    return value


def number(data: dict[str, Any], key: str, least: float, most: float) -> float:
    """Return a number within a range, both ends included."""
    value = data[key]
    if type(value) not in {int, float} or not least <= value <= most:
        wrong(data, key, f"a number from {least:g} to {most:g}")
    return float(value)


def maybe(data: dict[str, Any], key: str, least: float, most: float) -> float | None:
    """Return a number within a range, or None for null."""
    return None if data[key] is None else number(data, key, least, most)


def cents(key: str, value: Any) -> float:  # noqa: ANN401  JSON holds anything
    """Return an offset in cents; the key is for the refusal."""
    if type(value) not in {int, float} or not -WIDEST_CENTS <= value <= WIDEST_CENTS:
        raise ValueError(f"{key!r} holds {shown(value)} (expected cents from {-WIDEST_CENTS:g} to {WIDEST_CENTS:g})")
    return float(value)


def text(data: dict[str, Any], key: str, longest: int) -> str:
    """Return a text no longer than that, of whole characters: JSON can hold halves, which nothing else takes."""
    value = data[key]
    if not isinstance(value, str) or len(value) > longest or not _whole(value):
        wrong(data, key, f"text of at most {longest} characters")
    return value


def _whole(value: str) -> bool:
    return value.isascii() or not any("\ud800" <= letter <= "\udfff" for letter in value)


def matching(data: dict[str, Any], key: str, pattern: re.Pattern[str], wanted: str) -> str:
    """Return a text that matches a pattern as a whole."""
    value = data[key]
    if not isinstance(value, str) or pattern.fullmatch(value) is None:
        wrong(data, key, wanted)
    return value


def instrument(data: dict[str, Any]) -> str:
    """Return an instrument's name."""
    return matching(data, "instrument", _INSTRUMENT, "an instrument's name")


def yes_or_no(data: dict[str, Any], key: str) -> bool:
    """Return true or false."""
    value = data[key]
    if type(value) is not bool:
        wrong(data, key, "true or false")
    return value


def one_of(data: dict[str, Any], key: str, known: tuple[Any, ...]) -> Any:  # noqa: ANN401  one of `known`
    """Return one of the words known."""
    value = data[key]
    if value not in known:
        wrong(data, key, f"one of {', '.join(known)}")
    return value


def instant(data: dict[str, Any], key: str) -> datetime:
    """Return an instant of the one spelling there is."""
    value = data[key]
    try:
        if isinstance(value, str) and _INSTANT.fullmatch(value):
            return datetime.fromisoformat(value)
    except ValueError:
        pass
    wrong(data, key, "an instant such as 2026-03-01T18:04:05.000000+00:00")
