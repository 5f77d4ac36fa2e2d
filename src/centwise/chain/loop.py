"""The loop: a test sound and a pair, played and recorded again through a cable, or a speaker and a microphone.

What it can tell of a clock is how the player's stands beside the recorder's: one card that does both by one clock shows
nothing, however wrong that clock is. Nor does it matter to the drill: an error of the clock moves both tones of a pair
alike. What matters is that a pair arrives with the cents that were asked, so one is sent along and measured.
Imports numpy, pitch and below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from centwise.chain.line import CheckLine, by_error, not_checked
from centwise.draws import Draws, Purpose
from centwise.errors import CentwiseError, DeviceError, InputError
from centwise.model import SURE_ERRORS, Condition, PairSpec, Sound, uses_device
from centwise.pitch.intake import taken_in
from centwise.pitch.loop import loop_sound, read_loop
from centwise.pitch.measure import measure_take
from centwise.tones.pair import render_pair
from centwise.units import ratio_from_cents

if TYPE_CHECKING:
    from collections.abc import Callable

    from centwise.model import Samples
    from centwise.pitch.loop import LoopReading, LoopSound
    from centwise.ports import Clock, Player, Recorder
    from centwise.strings.instrument import Instrument

TITLE = "Loop"
CLOCK_TITLE, LEVEL_TITLE, PAIR_TITLE = "Loop, clock", "Loop, level and delay", "Loop, a pair"
QUIET_S = 1.0
LATE_S = 1.0
"""Recorded so long after the sound should be over: what comes later than a second is not heard (judgement)."""
READ_S = 0.05
CENTS = 5.0
NEAR_HZ = 600.0
"""The pair that is sent is of the string whose octave lies nearest: little speakers sound it well (judgement)."""
MOST_CLOCK_CENTS = 1.0
"""Crystals stay within 100 ppm of each other, 0.17 cents (common practice, no source); six times as much is no crystal
but a wrong rate (judgement)."""
MOST_WANDER_CENTS = 0.1
MOST_SLIP_FRAMES = 3.0
LEAST_OVER_NOISE_DB = 20.0
MOST_PAIR_CENTS = 0.1
"""A twentieth of what counts as set (judgement)."""
ASK_FOR_IT = "ask for it with --loop, once output and input are joined by a cable or a microphone stands by the speaker"
HARMLESS = "it is common to both notes of a pair, and so harmless to the drill"


@dataclass(frozen=True, slots=True)
class LoopTake:
    """What was recorded while the sound was played.

    Attributes:
        heard: float32, shape (frames,).
        quiet_frames: recorded before the sound was handed to the player.
        handed_s: when it was handed over, counted from the recording's first frame.
        microphone: what the system calls it.
    """

    heard: Samples
    quiet_frames: int
    handed_s: float
    microphone: str


def check_loop(
    open_player: Callable[[], Player],
    open_recorder: Callable[[], Recorder],
    clock: Clock,
    instrument: Instrument,
    seed: int,
    say: Callable[[str], None],
) -> tuple[CheckLine, ...]:
    """Play the test sound and a pair, record them, and say what became of them.

    Args:
        open_player: opens the player that is meant, at the level that is meant.
        open_recorder: opens the microphone.
        clock: for the delay.
        instrument: whose pair is sent.
        seed: the pair is drawn from it.
        say: tells whoever is there what is about to sound, and may wait for them.
    """
    try:
        player = open_player()
    except DeviceError as error:
        return (not_checked("loop", TITLE, error.what, error.to_do),)
    try:
        if not uses_device(player.name):
            return (not_checked("loop", TITLE, f"the player {player.name} sounds nothing", "choose another player"),)
        number = _string(instrument)
        spec = PairSpec(1, Condition(instrument.name, number), CENTS, "harmonic")
        rng = Draws(seed).stream(Purpose.TONES, 0, player.rate_hz)
        pair = render_pair(spec, instrument, rate_hz=player.rate_hz, rng=rng)
        test = loop_sound(player.rate_hz, pair.sound.samples)
        sound = Sound(test.samples, test.rate_hz, "loop")
        try:
            recorder = open_recorder()
        except DeviceError as error:
            return (not_checked("loop", TITLE, error.what, error.to_do),)
        try:
            if recorder.rate_hz != player.rate_hz:
                why = f"the recorder gives {recorder.rate_hz} Hz and the player takes {player.rate_hz} Hz"
                return (not_checked("loop", TITLE, why, "choose another player"),)
            say(f"Take headphones off your ears: soft tones sound for {math.ceil(sound.duration_s)} seconds.")
            take = play_and_record(player, recorder, sound, clock)
        finally:
            recorder.close()
        level_db = player.level_db
    except CentwiseError as error:
        return (by_error("loop", TITLE, "failed", error),)
    finally:
        player.close()
    return judge(take, test, level_db, instrument)


def play_and_record(player: Player, recorder: Recorder, sound: Sound, clock: Clock) -> LoopTake:
    """Record some quiet, then the sound, then what comes late.

    Raises:
        DeviceError: one of the two went away.
    """
    parts: list[Samples] = []
    frames = 0
    # A block is handed over when its last frame has come: the earliest of them tells when the first frame was.
    zero_s = math.inf

    def listen(until_s: float) -> None:
        nonlocal frames, zero_s
        while clock.monotonic_s() < until_s:
            part = recorder.read(READ_S)
            if len(part):
                parts.append(part)
                frames += len(part)
                zero_s = min(zero_s, clock.monotonic_s() - frames / recorder.rate_hz)

    recorder.read(0.0)
    listen(clock.monotonic_s() + QUIET_S)
    quiet_frames = frames
    handed_s = clock.monotonic_s()
    playback = player.play(sound)
    listen(handed_s + sound.duration_s + LATE_S)
    playback.wait(LATE_S)
    heard = np.concatenate(parts) if parts else np.zeros(0, np.float32)
    return LoopTake(heard, quiet_frames, handed_s - zero_s if frames else 0.0, recorder.device)


def judge(take: LoopTake, sound: LoopSound, level_db: float, instrument: Instrument) -> tuple[CheckLine, ...]:
    """Return what a recording of the loop says.

    Args:
        take: the recording.
        sound: what was sent, a pair along with it.
        level_db: at which level it was played.
        instrument: whose pair it is.
    """
    try:
        reading = read_loop(take.heard, sound, take.quiet_frames)
    except InputError as error:
        return (by_error("loop", TITLE, "failed", error),)
    stretch = ratio_from_cents(-reading.clock_cents)
    begin, end = (
        max(0, round(reading.first_frame + frame * stretch)) for frame in (sound.along_frame, sound.last_frame)
    )
    return (
        _clock_line(reading, sound.rate_hz),
        _level_line(reading, take, sound.rate_hz, level_db),
        _pair_line(take.heard[begin:end], reading, sound.rate_hz, instrument),
    )


def _string(instrument: Instrument) -> int:
    return min(instrument.strings, key=lambda spec: abs(math.log(spec.octave_hz / NEAR_HZ))).number


def _has_gaps(reading: LoopReading) -> bool:
    return abs(reading.slip_frames) > MOST_SLIP_FRAMES + SURE_ERRORS * reading.slip_error_frames


def _clock_line(reading: LoopReading, rate_hz: int) -> CheckLine:
    slipped = _has_gaps(reading)
    far = abs(reading.clock_cents) - SURE_ERRORS * reading.clock_error_cents > MOST_CLOCK_CENTS
    amount = (
        f"the output runs {_beside(reading)} the input: "
        f"{_amount(reading.clock_cents, SURE_ERRORS * reading.clock_error_cents, 4)} cents, "
        f"{_amount(reading.clock_ppm, SURE_ERRORS * reading.clock_error_ppm, 2)} ppm, 90 % sure"
    )
    wanders = reading.wander_cents > MOST_WANDER_CENTS
    to_do = ""
    if slipped:
        verb = "put in" if reading.slip_frames > 0 else "lost"
        finding = (
            f"{abs(reading.slip_frames):.0f} frames ({1000.0 * abs(reading.slip_frames) / rate_hz:.1f} ms) were {verb} "
            "on the way, so the sound has gaps"
        )
        to_do = "close other programs and try again; if it stays, use another device"
    elif wanders:
        finding = (
            f"the pitch wanders by {reading.wander_cents:.2f} cents within four seconds, or frames were lost: that "
            "is not common to both notes of a pair"
        )
        to_do = "avoid wireless headphones and network sound, set output and input to one rate, and try again"
    elif far:
        finding = f"{amount}; {HARMLESS}, but no crystal is so far off: something takes one rate for another"
        to_do = "set output and input to one rate, such as 48000 Hz, in the system's sound settings"
    else:
        finding = f"{amount}; {HARMLESS}"
    return CheckLine(
        "loop",
        CLOCK_TITLE,
        "failed" if to_do else "passed",
        finding,
        to_do,
        {
            "clock_cents": round(reading.clock_cents, 8) + 0.0,
            "clock_std_error_cents": round(reading.clock_error_cents, 8),
            "clock_ppm": round(reading.clock_ppm, 5) + 0.0,
            "clock_std_error_ppm": round(reading.clock_error_ppm, 5),
            "wander_cents": round(reading.wander_cents, 6),
            "slip_frames": round(reading.slip_frames, 2),
        },
    )


def _level_line(reading: LoopReading, take: LoopTake, rate_hz: int, level_db: float) -> CheckLine:
    delay_ms = 1000.0 * (reading.first_frame / rate_hz - take.handed_s)
    over_db = reading.level_dbfs - reading.noise_dbfs
    # A sink that is no card may take sound ahead of its time; then there is no delay to be told.
    delay = f"{delay_ms:.0f} ms after" if delay_ms >= 1.0 else "without a delay that could be told once"
    noise = "digital silence" if math.isinf(reading.noise_dbfs) else f"{reading.noise_dbfs:.1f} dBFS"
    finding = (
        f"the tone comes back at {reading.level_dbfs:.1f} dBFS, noise at {noise}, {delay} it was "
        f"handed over, into {take.microphone}"
    )
    to_do = ""
    if reading.clipped:
        finding, to_do = f"{finding}: it is clipped", "turn the input down, or move the microphone away"
    elif over_db < LEAST_OVER_NOISE_DB:
        finding = f"{finding}: only {over_db:.0f} dB over the noise"
        to_do = "turn the output up a little, bring the microphone nearer, or wait for quiet"
    return CheckLine(
        "loop",
        LEVEL_TITLE,
        "failed" if to_do else "passed",
        finding,
        to_do,
        {
            "level_dbfs": round(reading.level_dbfs, 2),
            "noise_dbfs": None if math.isinf(reading.noise_dbfs) else round(reading.noise_dbfs, 2),
            "delay_ms": round(delay_ms, 1),
            "peak": round(reading.peak, 5),
            "played_at_db": round(level_db, 2),
            "microphone": take.microphone,
        },
    )


def _pair_line(heard: Samples, reading: LoopReading, rate_hz: int, instrument: Instrument) -> CheckLine:
    if _has_gaps(reading):
        return not_checked("loop", PAIR_TITLE, "the sound came back with gaps", "mend those first")
    try:
        recording = taken_in(heard, rate_hz, "the pair that came back")
        found = measure_take(recording, instrument, _string(instrument))
    except InputError as error:
        return not_checked("loop", PAIR_TITLE, error.what, error.to_do)
    off = found.cents - CENTS
    sure = SURE_ERRORS * found.std_error_cents
    holds = abs(off) <= MOST_PAIR_CENTS + sure
    finding = f"sent at {CENTS:+g} cents, it comes back at {_amount(found.cents, sure, 3)} cents"
    figures = {
        "string": found.string,
        "asked_cents": CENTS,
        "measured_cents": round(found.cents, 6),
        "std_error_cents": round(found.std_error_cents, 6),
    }
    if holds and sure > 1.0:
        return CheckLine("loop", PAIR_TITLE, "not checked", f"{finding}: too unsure to say", "make it louder", figures)
    return CheckLine(
        "loop",
        PAIR_TITLE,
        "passed" if holds else "failed",
        finding,
        ""
        if holds
        else "switch off what the system does to sound (enhancers, equalisers, noise removal), and try again",
        figures,
    )


def _beside(reading: LoopReading) -> str:
    """Say which is the faster, where that can be told."""
    if abs(reading.clock_cents) <= SURE_ERRORS * reading.clock_error_cents:
        return "alike with"
    return f"{'fast' if reading.clock_cents > 0 else 'slow'} beside"


def _amount(value: float, sure: float, most_places: int) -> str:
    """Write a figure and its 90 % error with as many places as the error bears, to a limit."""
    places = most_places if sure <= 0.0 else min(most_places, max(0, 1 - math.floor(math.log10(sure))))
    least = 0.1**places
    error = f"{sure:.{places}f}" if sure >= 0.5 * least else f"less than {least:.{places}f}"
    return f"{round(value, places) + 0.0:+.{places}f} ± {error}"
