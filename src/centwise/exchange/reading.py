"""From a line of the data format to its record: every value is held to its kind and range, by hand and so quickly.

What is wrong is a ValueError that says which key, what it holds and what was expected; `lines` adds file and line.
Imports draws and below.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, NoReturn

from centwise.draws import MAX_SEED
from centwise.exchange import values
from centwise.exchange.bench_reading import bench_record
from centwise.exchange.records import FORMAT, FORMAT_VERSION, RESULT_KEYS, BlockRecord, End, Header, ListenerRecord
from centwise.model import (
    DOUBTS,
    JUDGEMENTS,
    MAX_NAME_LENGTH,
    MAX_NOTE_LENGTH,
    ORDERS,
    RULES,
    TONES,
    VOICES,
    BlockPlan,
    BlockResult,
    Condition,
    Listener,
    Trial,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.exchange.records import Record


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
END_KEYS = frozenset({"record", "listeners", "blocks", "trials", "rehearsals"})


class _ConstantError(ValueError):
    """A constant that JSON does not have, such as NaN."""


class NewerError(ValueError):
    """The file is of a version this program does not know."""


def record_of(line: str) -> Record:
    """Read one line.

    Raises:
        NewerError: it is the header of a newer version.
        ValueError: it is no record; the message says what was expected.
    """
    if not line.strip():
        raise ValueError("it is not JSON (the line is blank)")
    try:
        data = json.loads(line, parse_constant=_no_constant)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None
    except json.JSONDecodeError as error:
        raise ValueError(f"it is not JSON ({error.msg} at column {error.colno})") from None
    except _ConstantError:
        raise
    except ValueError:
        # Python reads whole numbers of a few thousand digits only.
        raise ValueError("it holds a whole number of thousands of digits") from None
    kind = data.get("record") if isinstance(data, dict) else None
    reader = _READERS.get(kind) if isinstance(kind, str) else None
    if reader is None:
        raise ValueError(f'it is no record (expected an object whose "record" is one of {", ".join(_READERS)})')
    return reader(data)


def _no_constant(name: str) -> NoReturn:
    raise _ConstantError(f"{name} is no number of JSON")


def _header(data: dict[str, Any]) -> Header:
    if data.get("format") != FORMAT:
        values.wrong(data, "format", repr(FORMAT))
    version = (
        values.whole(data, "version", 1, 10**9) if "version" in data else values.wrong(data, "version", "a version")
    )
    if version > FORMAT_VERSION:
        raise NewerError(f"it is of data format {version}, and this centwise knows {FORMAT_VERSION}")
    values.check_keys(data, HEADER_KEYS)
    return Header(version, values.text(data, "written_by", values.LONGEST_TEXT), values.yes_or_no(data, "names"))


def _listener(data: dict[str, Any]) -> ListenerRecord:
    values.check_keys(data, LISTENER_KEYS)
    merged = data["merged_ids"]
    if not isinstance(merged, list) or not all(isinstance(one, str) and values.ID.fullmatch(one) for one in merged):
        values.wrong(data, "merged_ids", "a list of ids")
    if len(set(merged)) != len(merged) or data["id"] in merged:
        values.wrong(data, "merged_ids", "other ids, each once")
    name = values.text(data, "name", MAX_NAME_LENGTH)
    if not name.strip():
        values.wrong(data, "name", "a name of at least one letter")
    listener = Listener(
        id=values.matching(data, "id", values.ID, "an id of letters, digits and -"),
        name=name,
        scale_mm=values.number(data, "scale_mm", *values.SCALE_MM),
        instrument=values.instrument(data),
        note=values.text(data, "note", MAX_NOTE_LENGTH),
    )
    return ListenerRecord(listener, values.whole(data, "edition", 1, 10**9), tuple(merged))


def _block(data: dict[str, Any]) -> BlockRecord:
    values.check_keys(data, BLOCK_KEYS)
    ended_at = None if data["ended_at"] is None else values.instant(data, "ended_at")
    method = None if data["method"] is None else values.whole(data, "method", 1, 10**6)
    result = None if data["result"] is None else _result(data["result"])
    if not (ended_at is None) == (method is None) == (result is None):
        values.wrong(data, "result", "ended_at, method and result together, or null for all three")
    given = data["given_cents"]
    if not isinstance(given, list) or len(given) > values.MOST_PAIRS:
        values.wrong(data, "given_cents", "a list of cents")
    plan = BlockPlan(
        id=values.matching(data, "id", values.ID, "an id of letters, digits and -"),
        listener_id=values.matching(data, "listener_id", values.ID, "an id of letters, digits and -"),
        condition=Condition(
            instrument=values.instrument(data),
            string=values.whole(data, "string", 1, 99),
            muted=values.yes_or_no(data, "muted"),
            likeness=values.number(data, "likeness", 0.0, 1.0),
            order=values.one_of(data, "order", ORDERS),
            voice=values.one_of(data, "voice", VOICES),
        ),
        rule=values.one_of(data, "rule", RULES),
        trials=values.whole(data, "trials", 1, values.MOST_PAIRS),
        assess=values.yes_or_no(data, "assess"),
        seed=values.whole(data, "seed", 0, MAX_SEED),
        scale_mm=values.number(data, "scale_mm", *values.SCALE_MM),
        player=values.text(data, "player", values.LONGEST_TEXT),
        started_at=values.instant(data, "started_at"),
        warm_up=values.whole(data, "warm_up", 0, values.MOST_PAIRS),
        until_octaves=values.maybe(data, "until_octaves", 1e-6, 1e6),
        prior_threshold_cents=values.maybe(data, "prior_threshold_cents", 1e-6, 1e6),
        prior_sd_octaves=values.maybe(data, "prior_sd_octaves", 1e-6, 1e6),
        take_sha256=None
        if data["take_sha256"] is None
        else values.matching(data, "take_sha256", values.SHA256, "64 hex digits"),
        take_error_cents=values.maybe(data, "take_error_cents", 0.0, values.WIDEST_CENTS),
        given_cents=tuple(values.cents("given_cents", cents) for cents in given),
        string_length_mm=values.maybe(data, "string_length_mm", 1.0, values.SCALE_MM[1]),
        octave_hz=values.maybe(data, "octave_hz", 1.0, 20_000.0),
    )
    return BlockRecord(plan, _answers(data), result, ended_at, method)


def _answers(data: dict[str, Any]) -> tuple[Trial, ...]:
    answers = data["answers"]
    if not isinstance(answers, list) or len(answers) > values.MOST_PAIRS:
        values.wrong(data, "answers", f"a list of at most {values.MOST_PAIRS} answers")
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
        raise ValueError(f"an answer is {values.shown(data)} (expected an object)")
    if data.keys() != ANSWER_KEYS:
        values.check_keys(data, ANSWER_KEYS)
    return Trial(
        n=values.whole(data, "n", 1, values.MOST_PAIRS),
        offset_cents=values.cents("offset_cents", data["offset_cents"]),
        first=values.one_of(data, "first", TONES),
        answer=values.one_of(data, "answer", JUDGEMENTS),
        answered_at=values.instant(data, "answered_at"),
        replays=values.whole(data, "replays", 0, 10**6),
        scored=values.yes_or_no(data, "scored"),
    )


def _result(data: Any) -> BlockResult:  # noqa: ANN401  JSON holds anything
    if not isinstance(data, dict):
        raise ValueError(  # noqa: TRY004  the file's fault, not the program's
            f"'result' is {values.shown(data)} (expected an object or null)"
        )
    values.check_keys(data, frozenset(RESULT_KEYS))
    found: dict[str, Any] = {
        key: values.maybe(data, key, -values.WIDEST_RESULT, values.WIDEST_RESULT)
        for key in RESULT_KEYS
        if key not in {"trials", "correct", "travel_sixty_fourths", "doubt"}
    }
    sixty_fourths = data["travel_sixty_fourths"]
    found["travel_sixty_fourths"] = (
        None if sixty_fourths is None else values.whole(data, "travel_sixty_fourths", -(10**6), 10**6)
    )
    if data["doubt"] not in (None, *DOUBTS):
        values.wrong(data, "doubt", f"{' or '.join(DOUBTS)}, or null")
    found["doubt"] = data["doubt"]
    threshold, low, high = (found[key] for key in ("threshold_cents", "low_cents", "high_cents"))
    if not (threshold is None) == (low is None) == (high is None):
        values.wrong(
            data, "threshold_cents", "threshold_cents, low_cents and high_cents together, or null for all three"
        )
    if threshold is not None and not (threshold > 0.0 and 0.0 < low < high):
        values.wrong(data, "threshold_cents", "threshold, low and high above 0, low below high")
    trials = values.whole(data, "trials", 0, values.MOST_PAIRS)
    return BlockResult(trials=trials, correct=values.whole(data, "correct", 0, trials), **found)


def _end(data: dict[str, Any]) -> End:
    values.check_keys(data, END_KEYS)
    return End(*(values.whole(data, key, 0, 10**12) for key in ("listeners", "blocks", "trials", "rehearsals")))


_READERS: dict[str, Callable[[dict[str, Any]], Record]] = {
    "header": _header,
    "listener": _listener,
    "block": _block,
    "rehearsal": bench_record,
    "end": _end,
}
