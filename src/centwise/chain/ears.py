"""A quiet test tone to the left, to the right and to both, and where somebody heard it.

It asks whether the sound reaches either ear through this chain. It is no hearing test: the levels at the ear are not
known, and a worry about hearing belongs to an audiologist. Imports numpy, pitch and below.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, Protocol

import numpy as np

from centwise.chain.line import CheckLine, by_error, not_checked
from centwise.draws import Draws, Purpose
from centwise.errors import DeviceError
from centwise.model import Sound
from centwise.pitch.loop import ramped

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.ports import Playback

Side = Literal["left", "right", "both"]
SIDES: tuple[Side, ...] = ("left", "right", "both")
GAINS: dict[Side, tuple[float, float]] = {"left": (1.0, 0.0), "right": (0.0, 1.0), "both": (1.0, 1.0)}

PEAK_DBFS = -12.0
"""Peak of the tone as it is made; what the player does to it only makes it softer."""
START_DB, STEP_DB, LOUDEST_DB = -30.0, 3.0, 0.0
"""The first tone peaks at -42 dBFS; each `nothing` makes it 3 dB louder, up to its own peak and no further."""
TONE_S, RAMP_S = 1.0, 0.1
PARTIALS = ((500.0, 1.0), (1000.0, 0.5), (1500.0, 0.25))
"""Hertz and share: one pure tone is hard to place, and little speakers sound no bass (judgement)."""
TITLE = "Left, right and both"
ELSEWHERE = (
    "check plug, balance and volume, and turn the headphones round to see whether it stays with the ear; if it does, "
    "that belongs to an audiologist"
)
ASK_FOR_IT = "ask for it with --ears, at a terminal"


class SidedPlayer(Protocol):
    """A player whose two sides can be sounded apart."""

    rate_hz: int
    level_db: float
    sides: tuple[float, float]

    def play(self, sound: Sound) -> Playback:
        """Start a sound; see ports.Player."""

    def close(self) -> None:
        """Let the device go; may be called twice."""


def ear_tone(rate_hz: int) -> Sound:
    """Return the tone: it rises and falls within a tenth of a second each, and begins and ends with nothing."""
    times_s = np.arange(round(TONE_S * rate_hz)) / rate_hz
    tone = sum(share * np.sin(2.0 * np.pi * hz * times_s) for hz, share in PARTIALS)
    shaped = ramped(times_s, RAMP_S) * tone
    return Sound((10.0 ** (PEAK_DBFS / 20.0) * shaped / np.max(np.abs(shaped))).astype(np.float32), rate_hz, "ear-tone")


def check_ears(
    open_player: Callable[[], SidedPlayer], ask: Callable[[int], str | None], say: Callable[[str], None], seed: int
) -> CheckLine:
    """Sound the tone on each side in a drawn order and hold the answers against it.

    Args:
        open_player: opens a player of two sides.
        ask: is given the tone's number, from 1, and returns one word: left, right, both, nothing, again or quit; None
            where no answer comes any more.
        say: tells the person something.
        seed: the order is drawn from it.
    """
    order = [SIDES[place] for place in Draws(seed).stream(Purpose.ORDER, 0).permutation(len(SIDES))]
    try:
        player = open_player()
    except DeviceError as error:
        return not_checked("ears", TITLE, error.what, error.to_do)
    heard: dict[Side, str] = {}
    try:
        tone = ear_tone(player.rate_hz)
        loudest_db = START_DB
        for number, side in enumerate(order, start=1):
            answer = _heard(player, tone, side, number, ask, say)
            if answer is None:
                return not_checked("ears", TITLE, f"no answer came to tone {number} of {len(order)}", ASK_FOR_IT)
            heard[side] = answer
            loudest_db = max(loudest_db, player.level_db)
        return _line(heard, loudest_db)
    except DeviceError as error:
        return by_error("ears", TITLE, "failed", error)
    finally:
        player.close()


def _heard(
    player: SidedPlayer,
    tone: Sound,
    side: Side,
    number: int,
    ask: Callable[[int], str | None],
    say: Callable[[str], None],
) -> str | None:
    """Sound one side, softly at first, until it is heard or loud enough that it should have been."""
    # Every side begins softly: what one ear did not hear may be loud to the other.
    player.level_db = START_DB
    while True:
        player.sides = GAINS[side]
        player.play(tone).wait()
        answer = ask(number)
        if answer in {None, "quit"}:
            return None
        if answer == "again":
            continue
        if answer != "nothing":
            return answer
        if player.level_db >= LOUDEST_DB:
            return answer
        player.level_db = min(player.level_db + STEP_DB, LOUDEST_DB)
        say("The same again, a little louder.")


def _line(heard: dict[Side, str], level_db: float) -> CheckLine:
    figures = {"heard": dict(heard), "loudest_dbfs": round(PEAK_DBFS + level_db, 1)}
    wrong = [side for side in SIDES if heard[side] != side]
    if not wrong:
        return CheckLine(
            "ears", TITLE, "passed", "each was heard where it sounded; this is no hearing test", figures=figures
        )
    finding, to_do = _trouble(heard, wrong)
    return CheckLine("ears", TITLE, "failed", finding, to_do, figures)


def _trouble(heard: dict[Side, str], wrong: list[Side]) -> tuple[str, str]:
    if heard["left"] == "right" and heard["right"] == "left":
        return "left and right have changed places", "turn the headphones round, or swap the plugs of the speakers"
    if heard["left"] == heard["right"] == "both":
        return (
            "left and right both came from both sides: this output is mono",
            "nothing need be done for the drill, which gives both ears the same tone",
        )
    silent = [side for side in ("left", "right") if heard[side] == "nothing"]
    said = ", ".join(f"{side} sounded and {heard[side]} was heard" for side in wrong if heard[side] != "nothing")
    if silent:
        nothing = f"nothing was heard on the {' or the '.join(silent)}"
        # One silent side by itself explains that both sounded like the other.
        other = [side for side in wrong if side not in silent and not (side == "both" and heard[side] in SIDES)]
        told = any(heard[side] != "nothing" for side in other)
        return f"{nothing}; {said}" if told else nothing, ELSEWHERE
    return said, "check plug and balance in the system's sound settings, then try again"
