"""The data format: what is written is read again, and the reader, the JSON Schema and the page about it agree."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from data_records import bench_records, block_records, listener_records
from hypothesis import given
from hypothesis import strategies as st

from centwise.errors import InputError
from centwise.exchange.lines import Reading, lines_of
from centwise.exchange.nameless import without_names
from centwise.exchange.reading import NewerError, record_of
from centwise.exchange.records import BlockRecord, End, Header, ListenerRecord, plain
from centwise.model import (
    BenchAct,
    BenchJudgement,
    BenchPlan,
    BenchResult,
    BenchShare,
    BlockPlan,
    BlockResult,
    Condition,
    Listener,
    OrderPoint,
    Trial,
)
from fakes import START, block_plan

DOCS = Path(__file__).parents[3] / "docs"
SCHEMA = json.loads((DOCS / "data-format.schema.json").read_text(encoding="utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

ADA = ListenerRecord(Listener("ada", "Ada"), 1)
BLOCK = BlockRecord(block_plan(listener_id="ada"), (), BlockResult(0, 0, *[None] * 11), START, 1)

ANY_RECORD = st.one_of(
    listener_records(),
    block_records(),
    bench_records(),
    st.just(Header(1, "0.1.0", names=True)),
    st.just(End(1, 2, 3, 4)),
)
KINDS = (
    *("header", "listener", "block", "result", "answer", "rehearsal", "act", "reckoning"),
    *("judgement", "point", "share", "end"),
)

ODD = [None, True, -1, 0, 1, 3, 1.5, 1e9, "", "x", "flat", "both", [], [1.0], {}, "2026-01-02T03:04:05.000006+00:00"]
"""Values of every kind, to put where they do or do not belong."""


def test_the_schema_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@given(
    st.one_of(
        listener_records(),
        block_records(),
        bench_records(),
        st.just(Header(1, "0.1.0", names=True)),
        st.just(End(1, 2, 3, 4)),
    )
)
def test_what_is_written_is_read_again_and_is_of_the_schema(record: Any) -> None:
    line = json.dumps(plain(record), allow_nan=False)
    assert record_of(line) == record
    VALIDATOR.validate(json.loads(line))


@given(
    st.one_of(
        listener_records(),
        block_records(),
        bench_records(),
        st.just(Header(1, "0.1.0", names=True)),
        st.just(End(1, 2, 3, 4)),
    ),
    st.data(),
)
def test_reader_and_schema_refuse_the_same(record: Any, data: st.DataObject) -> None:
    changed = json.loads(json.dumps(plain(record)))
    table = data.draw(st.sampled_from(tables_of(changed)))
    key = data.draw(st.sampled_from([*table, "tempo"]))
    if data.draw(st.booleans()):
        table.pop(key, None)
    else:
        table[key] = deepcopy(data.draw(st.sampled_from(ODD)))
    try:
        read = record_of(json.dumps(changed)) is not None
    except NewerError:
        read = False
    except ValueError as error:
        read = False
        # These two hold several values against each other, which the schema leaves to the page.
        if re.search(r"together, or null|low below high|from 0 to \d+\)$|rising numbers|each once", str(error)):
            return
    assert read == VALIDATOR.is_valid(changed)


def tables_of(value: Any) -> list[dict[str, Any]]:
    """Return the record and every object in it."""
    if isinstance(value, list):
        return [table for one in value for table in tables_of(one)]
    if not isinstance(value, dict):
        return []
    return [value, *(table for one in value.values() for table in tables_of(one))]


def test_the_page_names_every_key_and_no_other() -> None:
    page = (DOCS / "data-format.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (`[^|]*) \|(.*: `.*)?", page, flags=re.MULTILINE)
    # The first column, and parts that are told in the second, as in `acts`.
    named = set(re.findall(r"`(\w+)`", " ".join(first for first, _rest in rows)))
    named |= set(re.findall(r"`(\w+)`", " ".join(rest for _first, rest in rows)))
    keys = {
        key
        for kind in (
            "header",
            "listener",
            "block",
            "result",
            "answer",
            "rehearsal",
            "act",
            "reckoning",
            "judgement",
            "point",
            "share",
            "end",
        )
        for key in properties(kind)
    }
    assert named == keys


def test_the_format_holds_all_there_is_of_the_records() -> None:
    # Whatever a record gains must be passed on, or be lost with the next import.
    for kind, record, elsewhere in (
        ("listener", Listener, set()),
        ("block", BlockPlan, {"condition"}),
        ("block", Condition, set()),
        ("result", BlockResult, set()),
        ("answer", Trial, set()),
        ("rehearsal", BenchPlan, set()),
        ("act", BenchAct, set()),
        ("reckoning", BenchResult, set()),
        ("judgement", BenchJudgement, set()),
        ("point", OrderPoint, set()),
        ("share", BenchShare, set()),
    ):
        assert {field.name for field in fields(record)} - elsewhere <= properties(kind), record


def properties(kind: str) -> set[str]:
    return set(SCHEMA["$defs"][kind]["properties"])


def lines(*records: ListenerRecord | BlockRecord) -> list[bytes]:
    return [line.encode() for line in lines_of(records, written_by="0.1.0", names=True)]


def read(*content: bytes) -> list[ListenerRecord | BlockRecord]:
    return list(Reading(content, "ada.jsonl").records())


def test_a_file_is_header_listeners_with_their_blocks_and_the_end() -> None:
    written = lines(ADA, BLOCK)
    assert [json.loads(line)["record"] for line in written] == ["header", "listener", "block", "end"]
    assert all(line.endswith(b"\n") and line.isascii() for line in written)
    assert read(*written) == [ADA, BLOCK]
    # A byte order mark, Windows's line ends and a last line without one are some editors' doing.
    assert read(b"\xef\xbb\xbf" + written[0], *written[1:-1], written[-1].rstrip(b"\n")) == [ADA, BLOCK]
    assert read(*(line.replace(b"\n", b"\r\n") for line in written)) == [ADA, BLOCK]


WRITTEN = lines(ADA, BLOCK)
HEADER, LISTENER, BLOCK_LINE, END = WRITTEN


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ([], r"^ada\.jsonl is empty: nothing was imported; copy or export it again\.$"),
        ([HEADER, LISTENER], r"^ada\.jsonl ends after line 2 without an end record: nothing was imported"),
        ([HEADER, LISTENER, BLOCK_LINE[:50]], r"^line 3 of ada\.jsonl cannot be imported: it is not JSON \("),
        ([HEADER, LISTENER, END], r"^line 3 .*the numbers in the end record are not those of the file"),
        ([LISTENER, END], r"^line 1 .*the header must be the first line"),
        ([HEADER, HEADER], r"^line 2 .*the header must be the first line and nowhere else"),
        ([*WRITTEN, b"\n"], r"^line 5 .*it is not JSON"),
        ([*WRITTEN, HEADER], r"^line 5 .*something comes after the end record"),
        ([HEADER, BLOCK_LINE], r"^line 2 .*its listener 'ada' has no record before it"),
        ([HEADER, LISTENER, LISTENER], r"^line 3 .*the listener 'ada' comes twice"),
        ([HEADER, LISTENER, BLOCK_LINE, BLOCK_LINE], r"^line 4 .*the block 'block-1' comes twice"),
        ([HEADER.replace(b'"version":1', b'"version":2')], r"^line 1 .*format 2, and this centwise knows 1: .*update"),
        ([HEADER.replace(b'"version":1', b'"version":2,"new":3')], r"^line 1 .*data format 2"),
        ([HEADER.replace(b"centwise-data", b"x")], r"^line 1 .*'format' is 'x' \(expected 'centwise-data'\)"),
        ([b'{"record":"song"}'], r"^line 1 .*it is no record \(expected an object whose \"record\" is one of header,"),
        ([b"[1, 2]"], r"^line 1 .*it is no record"),
        ([b"PK\x03\x04\xff"], r"^line 1 .*it is not UTF-8 text"),
        ([HEADER, b"[" * 100_000], r"^line 2 .*nested too deeply|^line 2 .*it is not JSON"),
        ([HEADER, b" " * 4_000_001], r"^line 2 .*it is longer than 4 MB"),
        ([HEADER, LISTENER.replace(b"666.75", b"NaN")], r"^line 2 .*NaN is no number of JSON"),
        ([HEADER, LISTENER.replace(b"666.75", b"1e999")], r"^line 2 .*'scale_mm' is inf \(expected a number"),
        ([HEADER, LISTENER.replace(b"666.75", b"9" * 5000)], r"^line 2 .*"),
        ([HEADER, LISTENER.replace(b'"Ada"', b'"' + b"x" * 10_000 + b'"')], r"'name' is 'x+\.\.\. \(expected text"),
        ([HEADER, LISTENER.replace(b'"note"', b'"remark"')], r"^line 2 .*the key 'note' is missing"),
        ([HEADER, LISTENER.replace(b'"note"', b'"\\u001b[2J":1,"note"')], r"^line 2 .*'\\x1b\[2J' is no key"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_line(content: list[bytes], words: str) -> None:
    with pytest.raises(InputError, match=words):
        read(*content)


@given(st.binary(max_size=60), st.integers(0, 3))
def test_any_bytes_are_read_or_refused_in_a_sentence(junk: bytes, place: int) -> None:
    content = [*WRITTEN]
    content[place] = junk
    try:
        read(*content)
    except InputError as error:
        assert str(error).isascii()  # noqa: PT017  whichever refusal it is
    else:
        pytest.fail("junk was taken for a record")


def test_values_that_belong_together() -> None:
    table = plain(BLOCK)
    for change, words in (
        ({"ended_at": None}, "ended_at, method and result together"),
        ({"result": {**table["result"], "correct": 1}}, "'correct' is 1"),
        ({"result": {**table["result"], "low_cents": 3.0}}, "threshold_cents, low_cents and high_cents together"),
        (
            {"result": {**table["result"], "threshold_cents": 3.0, "low_cents": 4.0, "high_cents": 2.0}},
            "low below high",
        ),
        ({"answers": [answer(2), answer(2)]}, "answer 2 comes after answer 2"),
        ({"result": {**table["result"], "doubt": []}}, r"'doubt' is \[\] \(expected swapped or one answer, or null"),
        ({"given_cents": [10**400]}, "'given_cents' holds 10+"),
        ({"player": "\ud800"}, r"'player' is '\\ud800'"),
    ):
        with pytest.raises(ValueError, match=words):
            record_of(json.dumps(table | change))
    with pytest.raises(ValueError, match="other ids, each once"):
        record_of(json.dumps(plain(replace(ADA, merged_ids=("ada",)))))


def answer(n: int) -> dict[str, Any]:
    at = "2026-01-02T03:04:05.000006+00:00"
    heard = {"offset_cents": 4, "first": "harmonic", "answer": "flat", "replays": 0, "scored": True}
    return {"n": n, "answered_at": at, **heard}


@given(listener_records(), st.data())
def test_without_names_nothing_leads_back_to_a_person(listener: ListenerRecord, data: st.DataObject) -> None:
    listener = replace(listener, listener=replace(listener.listener, name="Ada Lovelace", note="Ada's"))
    block = data.draw(block_records(listener.listener.id))
    bench = data.draw(bench_records(listener.listener.id))
    shared = list(without_names([listener, block, bench]))
    text = "".join(lines_of(shared, written_by="0.1.0", names=False))
    for trace in ("Ada", "/home", listener.listener.id, block.plan.id, bench.plan.id):
        assert trace not in text
    assert shared[1].plan.listener_id == shared[0].listener.id  # type: ignore[union-attr]
    assert shared == list(without_names([listener, block, bench]))
    assert read(*(line.encode() for line in text.splitlines(keepends=True))) == shared
    own = replace(listener, listener=replace(listener.listener, instrument="adas-own-banjo"))
    plan = replace(block.plan, condition=replace(block.plan.condition, instrument="adas-own-banjo"))
    mine = list(
        without_names(
            [own, replace(block, plan=plan), replace(bench, plan=replace(bench.plan, instrument="adas-own-banjo"))]
        )
    )
    text = "".join(lines_of(mine, written_by="0.1.0", names=False))
    assert "adas-own" not in text
    assert len(set(re.findall(r'"instrument":"(own-[0-9a-f]{8})"', text))) == 1
    assert read(*(line.encode() for line in text.splitlines(keepends=True))) == mine
    # What was heard and answered is all there.
    assert shared[1].trials == block.trials  # type: ignore[union-attr]
    assert shared[1].result == block.result  # type: ignore[union-attr]
