"""From a line of the data format to its record: every value is held to its kind and range, by hand and so quickly.

What is wrong is a ValueError that says which key, what it holds and what was expected; `lines` adds file and line.
"""

from __future__ import annotations

import json
import math
import re
from datetime import datetime
from typing import TYPE_CHECKING, Any, NoReturn

from centwise.draws import MAX_SEED
from centwise.exchange.records import FORMAT, FORMAT_VERSION, RESULT_KEYS, BlockRecord, End, Header, ListenerRecord
from centwise.model import JUDGEMENTS, ORDERS, RULES, TONES, VOICES, BlockPlan, BlockResult, Condition, Listener, Trial
from centwise.strings.geometry import MAX_SCALE_MM, MIN_SCALE_MM

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.exchange.records import Record

MOST_PAIRS = 10_000
LONGEST_NAME, LONGEST_NOTE, LONGEST_TEXT = 200, 2_000, 4_096
WIDEST_CENTS = 1_200.0
WIDEST_RESULT = 1e6
SCALE_MM = (MIN_SCALE_MM, MAX_SCALE_MM)

HEADER_KEYS = frozenset({"record", "format", "version", "written_by", "names"})
LISTENER_KEYS = frozenset({"record", "id", "name", "scale_mm", "instrument", "note", "edition", "merged_ids"})
BLOCK_KEYS = frozenset(
    {
        "record",
        "id",
        "listener_id",
        "instrument",
        "string",
        "muted",
        "likeness",
        "order",
        "voice",
        "rule",
        "trials",
        "assess",
        "seed",
        "scale_mm",
        "player",
        "started_at",
        "warm_up",
        "until_octaves",
        "prior_threshold_cents",
        "prior_sd_octaves",
        "take_sha256",
        "take_error_cents",
        "given_cents",
        "string_length_mm",
        "octave_hz",
        "ended_at",
        "method",
        "result",
        "answers",
    }
)
ANSWER_KEYS = frozenset({"n", "offset_cents", "first", "answer", "answered_at", "replays", "scored"})
END_KEYS = frozenset({"record", "listeners", "blocks", "trials"})

_ID = re.compile(r"[A-Za-z0-9-]{1,64}")
_INSTRUMENT = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}\+00:00")


class NewerError(ValueError):
    """The file is of a version this program does not know."""


def record_of(line: str) -> Record:
    """Read one line.

    Raises:
        NewerError: it is the header of a newer version.
        ValueError: it is no record; the message says what was expected.
    """
    try:
        data = json.loads(line, parse_constant=_no_constant)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    except json.JSONDecodeError as error:
        raise ValueError(f"it is not JSON ({error.msg} at column {error.colno})") from None
    kind = data.get("record") if isinstance(data, dict) else None
    reader = _READERS.get(kind) if isinstance(kind, str) else None
    if reader is None:
        raise ValueError(f'it is no record (expected an object whose "record" is one of {", ".join(_READERS)})')
    return reader(data)


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number of JSON")


def _header(data: dict[str, Any]) -> Header:
    if data.get("format") != FORMAT:
        _wrong(data, "format", repr(FORMAT))
    version = _whole(data, "version", 1, 10**9) if "version" in data else _wrong(data, "version", "a version")
    if version > FORMAT_VERSION:
        raise NewerError(f"it is of data format {version}, and this centwise knows {FORMAT_VERSION}")
    _check_keys(data, HEADER_KEYS)
    return Header(version, _text(data, "written_by", LONGEST_TEXT), _yes_or_no(data, "names"))


def _listener(data: dict[str, Any]) -> ListenerRecord:
    _check_keys(data, LISTENER_KEYS)
    merged = data["merged_ids"]
    if not isinstance(merged, list) or not all(isinstance(one, str) and _ID.fullmatch(one) for one in merged):
        _wrong(data, "merged_ids", "a list of ids")
    if len(set(merged)) != len(merged) or data["id"] in merged:
        _wrong(data, "merged_ids", "other ids, each once")
    name = _text(data, "name", LONGEST_NAME)
    if not name.strip():
        _wrong(data, "name", "a name of at least one letter")
    listener = Listener(
        id=_matching(data, "id", _ID, "an id of letters, digits and -"),
        name=name,
        scale_mm=_number(data, "scale_mm", *SCALE_MM),
        instrument=_instrument(data),
        note=_text(data, "note", LONGEST_NOTE),
    )
    return ListenerRecord(listener, _whole(data, "edition", 1, 10**9), tuple(merged))


def _block(data: dict[str, Any]) -> BlockRecord:
    _check_keys(data, BLOCK_KEYS)
    ended_at = None if data["ended_at"] is None else _instant(data, "ended_at")
    method = None if data["method"] is None else _whole(data, "method", 1, 10**6)
    result = None if data["result"] is None else _result(data["result"])
    if not (ended_at is None) == (method is None) == (result is None):
        _wrong(data, "result", "ended_at, method and result together, or null for all three")
    given = data["given_cents"]
    if not isinstance(given, list) or len(given) > MOST_PAIRS:
        _wrong(data, "given_cents", "a list of cents")
    plan = BlockPlan(
        id=_matching(data, "id", _ID, "an id of letters, digits and -"),
        listener_id=_matching(data, "listener_id", _ID, "an id of letters, digits and -"),
        condition=Condition(
            instrument=_instrument(data),
            string=_whole(data, "string", 1, 99),
            muted=_yes_or_no(data, "muted"),
            likeness=_number(data, "likeness", 0.0, 1.0),
            order=_one_of(data, "order", ORDERS),
            voice=_one_of(data, "voice", VOICES),
        ),
        rule=_one_of(data, "rule", RULES),
        trials=_whole(data, "trials", 1, MOST_PAIRS),
        assess=_yes_or_no(data, "assess"),
        seed=_whole(data, "seed", 0, MAX_SEED),
        scale_mm=_number(data, "scale_mm", *SCALE_MM),
        player=_text(data, "player", LONGEST_TEXT),
        started_at=_instant(data, "started_at"),
        warm_up=_whole(data, "warm_up", 0, MOST_PAIRS),
        until_octaves=_maybe(data, "until_octaves", 1e-6, 1e6),
        prior_threshold_cents=_maybe(data, "prior_threshold_cents", 1e-6, 1e6),
        prior_sd_octaves=_maybe(data, "prior_sd_octaves", 1e-6, 1e6),
        take_sha256=None if data["take_sha256"] is None else _matching(data, "take_sha256", _SHA256, "64 hex digits"),
        take_error_cents=_maybe(data, "take_error_cents", 0.0, WIDEST_CENTS),
        given_cents=tuple(_cents("given_cents", cents) for cents in given),
        string_length_mm=_maybe(data, "string_length_mm", 1.0, SCALE_MM[1]),
        octave_hz=_maybe(data, "octave_hz", 1.0, 20_000.0),
    )
    return BlockRecord(plan, _answers(data), result, ended_at, method)


def _answers(data: dict[str, Any]) -> tuple[Trial, ...]:
    answers = data["answers"]
    if not isinstance(answers, list) or len(answers) > MOST_PAIRS:
        _wrong(data, "answers", f"a list of at most {MOST_PAIRS} answers")
    trials = []
    last = 0
    for answer in answers:
        trial = _answer(answer)
        if trial.n <= last:
            raise ValueError(f"answer {trial.n} comes after answer {last} (expected rising numbers)")
        last = trial.n
        trials.append(trial)
    return tuple(trials)


def _answer(data: Any) -> Trial:  # noqa: ANN401  JSON holds anything
    if type(data) is not dict:
        raise ValueError(f"an answer is {_shown(data)} (expected an object)")
    if data.keys() != ANSWER_KEYS:
        _check_keys(data, ANSWER_KEYS)
    return Trial(
        n=_whole(data, "n", 1, MOST_PAIRS),
        offset_cents=_cents("offset_cents", data["offset_cents"]),
        first=_one_of(data, "first", TONES),
        answer=_one_of(data, "answer", JUDGEMENTS),
        answered_at=_instant(data, "answered_at"),
        replays=_whole(data, "replays", 0, 10**6),
        scored=_yes_or_no(data, "scored"),
    )


def _result(data: Any) -> BlockResult:  # noqa: ANN401  JSON holds anything
    if not isinstance(data, dict):
        raise ValueError(  # noqa: TRY004  the file's fault, not the program's
            f"'result' is {_shown(data)} (expected an object or null)"
        )
    _check_keys(data, frozenset(RESULT_KEYS))
    values: dict[str, Any] = {
        key: _maybe(data, key, -WIDEST_RESULT, WIDEST_RESULT)
        for key in RESULT_KEYS
        if key not in {"trials", "correct", "travel_sixty_fourths"}
    }
    sixty_fourths = data["travel_sixty_fourths"]
    values["travel_sixty_fourths"] = (
        None if sixty_fourths is None else _whole(data, "travel_sixty_fourths", -(10**6), 10**6)
    )
    threshold, low, high = (values[key] for key in ("threshold_cents", "low_cents", "high_cents"))
    if not (threshold is None) == (low is None) == (high is None):
        _wrong(data, "threshold_cents", "threshold_cents, low_cents and high_cents together, or null for all three")
    if threshold is not None and not (threshold > 0.0 and 0.0 < low < high):
        _wrong(data, "threshold_cents", "threshold, low and high above 0, low below high")
    trials = _whole(data, "trials", 0, MOST_PAIRS)
    return BlockResult(trials=trials, correct=_whole(data, "correct", 0, trials), **values)


def _end(data: dict[str, Any]) -> End:
    _check_keys(data, END_KEYS)
    return End(*(_whole(data, key, 0, 10**12) for key in ("listeners", "blocks", "trials")))


_READERS: dict[str, Callable[[dict[str, Any]], Record]] = {
    "header": _header,
    "listener": _listener,
    "block": _block,
    "end": _end,
}


def _check_keys(data: dict[str, Any], keys: frozenset[str]) -> None:
    if missing := sorted(keys - data.keys()):
        raise ValueError(f"the key {missing[0]!r} is missing")
    if unknown := sorted(data.keys() - keys):
        raise ValueError(f"{_shown(unknown[0])} is no key of such a record")


def _wrong(data: dict[str, Any], key: str, wanted: str) -> NoReturn:
    raise ValueError(f"{key!r} is {_shown(data.get(key))} (expected {wanted})")


def _shown(value: object) -> str:
    text = ascii(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _whole(data: dict[str, Any], key: str, least: int, most: int) -> int:
    value = data[key]
    if type(value) is not int or not least <= value <= most:
        _wrong(data, key, f"a whole number from {least} to {most}")
    return value


def _number(data: dict[str, Any], key: str, least: float, most: float) -> float:
    value = data[key]
    if type(value) not in {int, float} or not least <= value <= most:
        _wrong(data, key, f"a number from {least:g} to {most:g}")
    return float(value)


def _maybe(data: dict[str, Any], key: str, least: float, most: float) -> float | None:
    return None if data[key] is None else _number(data, key, least, most)


def _cents(key: str, value: Any) -> float:  # noqa: ANN401  JSON holds anything
    if type(value) not in {int, float} or not math.fabs(value) <= WIDEST_CENTS:
        raise ValueError(f"{key!r} holds {_shown(value)} (expected cents from {-WIDEST_CENTS:g} to {WIDEST_CENTS:g})")
    return float(value)


def _text(data: dict[str, Any], key: str, longest: int) -> str:
    value = data[key]
    if not isinstance(value, str) or len(value) > longest:
        _wrong(data, key, f"text of at most {longest} characters")
    return value


def _matching(data: dict[str, Any], key: str, pattern: re.Pattern[str], wanted: str) -> str:
    value = data[key]
    if not isinstance(value, str) or pattern.fullmatch(value) is None:
        _wrong(data, key, wanted)
    return value


def _instrument(data: dict[str, Any]) -> str:
    return _matching(data, "instrument", _INSTRUMENT, "an instrument's name")


def _yes_or_no(data: dict[str, Any], key: str) -> bool:
    value = data[key]
    if type(value) is not bool:
        _wrong(data, key, "true or false")
    return value


def _one_of(data: dict[str, Any], key: str, known: tuple[Any, ...]) -> Any:  # noqa: ANN401  one of `known`
    value = data[key]
    if value not in known:
        _wrong(data, key, f"one of {', '.join(known)}")
    return value


def _instant(data: dict[str, Any], key: str) -> datetime:
    value = data[key]
    try:
        if isinstance(value, str) and _INSTANT.fullmatch(value):
            return datetime.fromisoformat(value)
    except ValueError:
        pass
    _wrong(data, key, "an instant such as 2026-03-01T18:04:05.000000+00:00")
