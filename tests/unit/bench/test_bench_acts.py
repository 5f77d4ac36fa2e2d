"""The words of the bench: every act has its words and comes back from them; anything else is refused in a sentence."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from centwise.bench.acts import (
    Act,
    Chime,
    Fret,
    Look,
    Mark,
    Move,
    Mute,
    Open,
    Retune,
    Slide,
    StartOver,
    act_text,
    act_word,
    parse_act,
)
from centwise.errors import UsageError

AMOUNTS = st.sampled_from(
    [("1/64in", 0.396875), ("1/32 in", 0.79375), ("1/16in", 1.5875), ("1/8in", 3.175), ("2mm", 2)]
)
SIDES = st.sampled_from(["bass", "treble"])
ACTS: st.SearchStrategy[Act] = st.one_of(
    st.builds(Chime, st.integers(1, 99), st.none() | st.integers(1, 24)),
    st.builds(Fret, st.integers(1, 99), st.none() | st.integers(1, 24)),
    st.builds(Open, st.integers(1, 99)),
    st.builds(Mute, st.booleans()),
    st.builds(
        lambda side, way, amount: Move(side, way, amount[1], amount[0]),
        SIDES,
        st.sampled_from(["forward", "back"]),
        AMOUNTS,
    ),
    st.builds(lambda side, amount: Slide(side, amount[1], amount[0]), SIDES, AMOUNTS),
    st.sampled_from([Look(), Retune(), Mark(), StartOver()]),
)


@given(ACTS)
def test_every_act_comes_back_from_its_words(act: Act) -> None:
    assert parse_act(act_text(act)) == act
    assert act_text(act).startswith(act_word(act))


@pytest.mark.parametrize(
    ("words", "act"),
    [
        ("  CHIME 4 ", Chime(4)),
        ("chime 5 at 12", Chime(5, 12)),
        ("fret 1 7", Fret(1, 7)),
        ("Bass  Forward 1/16 in", Move("bass", "forward", 1.5875, "1/16 in")),
        ("treble back 0.5mm", Move("treble", "back", 0.5, "0.5mm")),
        ("slide bass 1mm", Slide("bass", 1.0, "1mm")),
        ("unmute", Mute(False)),
        ("start over", StartOver()),
    ],
)
def test_words_as_people_write_them(words: str, act: Act) -> None:
    assert parse_act(words) == act


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("chime", "names no string"),
        (f"bass forward 1.{'0' * 180}mm", "is no amount to move by"),
        ("chime four", "names no string and fret"),
        ("open 4 5", "names no string and fret"),
        ("fret -4", "names no string and fret"),
        ("chime 1234567", "names no string and fret"),
        ("bass", "which way"),
        ("bass sideways 1mm", "which way"),
        ("treble forward", "how far"),
        ("bass forward 0mm", "no amount to move by"),
        ("bass forward -1mm", "no amount to move by"),
        ("bass forward 1", "no amount to move by"),
        ("bass back 1/0in", "no amount to move by"),
        ("bass back nanmm", "no amount to move by"),
        ("slide up 1mm", "toward which side"),
        ("slide bass", "how far"),
        ("undo", "no word of the bench"),
        ("", "no word of the bench"),
        ("x" * 5000, "no word of the bench"),
    ],
)
def test_what_is_no_act_is_refused_in_a_sentence(words: str, said: str) -> None:
    with pytest.raises(UsageError, match=said) as refusal:
        parse_act(words)
    assert len(str(refusal.value)) < 400


@given(st.text(max_size=60))
def test_any_line_is_an_act_or_a_sentence(line: str) -> None:
    try:
        act = parse_act(line)
    except UsageError as error:
        assert str(error).endswith(".")  # noqa: PT017  either way is right
    else:
        assert parse_act(act_text(act)) == act
