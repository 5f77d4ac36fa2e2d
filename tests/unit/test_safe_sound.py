"""Nothing is ever sounded above the ceiling, and nothing begins or ends with a click: every source, every way out.

The ceiling, -6 dBFS, is the program's own (our judgement). The guard at the players' door is tested by itself, and each
source is tested without it, so that one holds where the other fails.
"""

from __future__ import annotations

import ast
import math
import time
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import centwise
from centwise.audio import simpleaudio_player
from centwise.audio.feed import FADE_S, Feed
from centwise.audio.file_player import FilePlayer
from centwise.audio.level import START_DB, gain_from_db
from centwise.audio.miniaudio_player import MiniaudioPlayer
from centwise.audio.miniaudio_stream import MiniaudioStream
from centwise.audio.samples import CEILING, levelled
from centwise.audio.silent_player import SilentPlayer
from centwise.audio.sound_file import read_sound, write_sound
from centwise.bench.acts import Chime, Fret, Open
from centwise.bench.sound import render_tone
from centwise.bench.words import BenchTone
from centwise.bootstrap import SystemClock
from centwise.chain.ears import GAINS, SIDES, ear_tone
from centwise.errors import InputError, UsageError
from centwise.listening import sound_level_tone
from centwise.model import CEILING_DBFS, TONES, Condition, PairSpec, Sound, Tone
from centwise.pitch.loop import loop_sound
from centwise.strings.library import BUILT_IN
from centwise.strings.names import BUILT_IN_NAMES as NAMES
from centwise.tones.pair import render_pair, tone_alone
from centwise.tones.recorded import RecordedNote, RecordedVoice
from centwise.tones.single import render_single
from fakes import ManualClock, RecordingPlayer

if TYPE_CHECKING:
    from numpy.typing import NDArray

RATE_HZ = 48_000
SOURCE = Path(centwise.__file__).parent
STEPPED = 0.06
"""What the first and the last 0.1 ms may reach of a sound's peak: a cut in the middle of a wave reaches all of it."""

instruments = st.sampled_from([BUILT_IN.named(name) for name in NAMES])
rates = st.one_of(st.sampled_from([22_050, 44_100, 48_000, 96_000, 192_000]), st.integers(22_050, 60_000))
seeds = st.integers(0, 2**32 - 1)
offsets = st.floats(-100.0, 100.0)
shares = st.floats(0.0, 1.0)
levels = st.floats(-60.0, 0.0)


def assert_safe(samples: NDArray[np.float32], rate_hz: int) -> None:
    """Hold a rendered sound to the ceiling and to soft ends; the ceiling is worked out anew here."""
    assert samples.dtype == np.float32
    assert np.isfinite(samples).all()
    peak = float(np.max(np.abs(samples)))
    assert 0.0 < peak <= 10.0 ** (-6.0 / 20.0) + 1e-7
    sounding = np.flatnonzero(samples)
    first, last = int(sounding[0]), int(sounding[-1])
    assert first > 0 or samples[0] == 0.0
    assert samples[-1] == 0.0
    edge = max(1, round(1e-4 * rate_hz))
    assert np.max(np.abs(samples[first : first + edge])) < STEPPED * peak
    assert np.max(np.abs(samples[last - edge : last + 1])) < STEPPED * peak


# -- sources -----------------------------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(st.data(), instruments, rates, offsets, shares, st.booleans(), seeds, st.sampled_from([2, 3, 4]))
def test_every_voice_of_every_string(
    data: st.DataObject,
    instrument: Any,
    rate_hz: int,
    offset_cents: float,
    likeness: float,
    muted: bool,
    seed: int,
    touched: int,
) -> None:
    string = data.draw(st.sampled_from(sorted(instrument.numbers)))
    kind: Any = data.draw(st.sampled_from(["harmonic", "fretted", "open"]))
    single = render_single(
        kind,
        instrument,
        string,
        offset_cents=offset_cents,
        rate_hz=rate_hz,
        rng=np.random.default_rng(seed),
        likeness=likeness,
        muted=muted,
        duration_s=0.6,
        touched=touched,
    )
    assert_safe(single.sound.samples, rate_hz)


@settings(max_examples=40, deadline=None)
@given(st.data(), instruments, rates, offsets, shares, st.booleans(), st.sampled_from(TONES), seeds)
def test_every_pair_and_each_of_its_tones_alone(
    data: st.DataObject,
    instrument: Any,
    rate_hz: int,
    offset_cents: float,
    likeness: float,
    muted: bool,
    first: Tone,
    seed: int,
) -> None:
    condition = Condition(
        instrument=instrument.name,
        string=data.draw(st.sampled_from(sorted(instrument.numbers))),
        likeness=likeness,
        muted=muted,
    )
    pair = render_pair(
        PairSpec(1, condition, offset_cents, first), instrument, rate_hz=rate_hz, rng=np.random.default_rng(seed)
    )
    assert_safe(pair.sound.samples, rate_hz)
    for tone in TONES:
        assert_safe(tone_alone(pair, tone).samples, rate_hz)


@settings(max_examples=40, deadline=None)
@given(st.data(), instruments, st.sampled_from([22_050, 48_000]), st.floats(-80.0, 80.0), st.booleans(), seeds)
def test_every_sound_of_the_bench(
    data: st.DataObject, instrument: Any, rate_hz: int, cents: float, muted: bool, seed: int
) -> None:
    string = data.draw(st.sampled_from(sorted(instrument.numbers)))
    spec = instrument.string(string)
    fret = data.draw(st.integers(spec.start_fret + 1, instrument.neck.frets))
    act: Any = data.draw(st.sampled_from([Chime(string), Fret(string, fret), Open(string)]))
    tone = BenchTone(
        n=1,
        act=act,
        fret=None if isinstance(act, Open) else fret,
        mode=data.draw(st.sampled_from([2, 3, 4, 5])) if isinstance(act, Chime) else 0,
        cents=cents if isinstance(act, Fret) else 0.0,
        tuning_cents={number: data.draw(st.floats(-30.0, 30.0)) for number in instrument.numbers},
        muted=muted,
    )
    single = render_tone(tone, instrument, seed=seed, rate_hz=rate_hz, bench_id="b")
    assert_safe(single.sound.samples, rate_hz)


@st.composite
def recorded_notes(draw: st.DrawFn, cents: float) -> RecordedNote:
    """A note as a microphone may give it: clipped, nearly silent, noisy, beating, dying away or swelling."""
    rate_hz = draw(st.sampled_from([16_000, 44_100]))
    rng = np.random.default_rng(draw(seeds))
    times_s = np.arange(round(1.4 * rate_hz)) / rate_hz
    frequency_hz = 587.33 * 2.0 ** (cents / 1200.0)
    tone = np.exp(draw(st.floats(-6.0, 1.5)) * times_s) * sum(
        rng.uniform(-1.0, 1.0) * np.sin(2.0 * np.pi * m * frequency_hz * times_s + rng.uniform(0.0, 6.0))
        for m in range(1, 6)
    )
    tone *= 1.0 + draw(st.sampled_from([0.0, 0.9])) * np.sin(2.0 * np.pi * draw(st.floats(1.0, 40.0)) * times_s)
    whole = np.concatenate([np.zeros(round(0.15 * rate_hz)), draw(st.sampled_from([0.001, 0.2, 5.0])) * tone])
    whole += draw(st.sampled_from([1e-6, 1e-3, 0.1])) * rng.standard_normal(whole.size)
    return RecordedNote(np.clip(whole, -1.0, 1.0).astype(np.float32), rate_hz, 0.15, cents, frequency_hz)


@settings(max_examples=25, deadline=None)
@given(st.data(), st.sampled_from([22_050, 48_000]), offsets, seeds, st.sampled_from(["recorded", "shifted"]))
def test_every_pair_made_of_recorded_notes(
    data: st.DataObject, rate_hz: int, offset_cents: float, seed: int, kind: Any
) -> None:
    notes = [data.draw(recorded_notes(cents)) for cents in (0.0, 9.0)]
    voice = RecordedVoice([(notes[0], notes[1])], rate_hz)
    spec = PairSpec(1, Condition(voice=kind), offset_cents, "harmonic")
    pair = voice.render_pairs([spec], np.random.default_rng(seed))[0]
    assert_safe(pair.sound.samples, rate_hz)


@settings(max_examples=20, deadline=None)
@given(rates)
def test_the_tones_of_the_check(rate_hz: int) -> None:
    assert_safe(ear_tone(rate_hz).samples, rate_hz)
    pair = render_pair(
        PairSpec(1, Condition(), 3.0, "harmonic"),
        BUILT_IN.named("five-string"),
        rate_hz=rate_hz,
        rng=np.random.default_rng(1),
    )
    assert_safe(loop_sound(rate_hz, pair.sound.samples).samples, rate_hz)


@pytest.mark.parametrize("name", NAMES)
def test_the_quiet_tone_to_set_the_level_by(name: str) -> None:
    for string in BUILT_IN.named(name).numbers:
        player = RecordingPlayer()
        sound_level_tone(player, BUILT_IN.named(name), string)
        assert_safe(player.sounds[0].samples, player.rate_hz)


@settings(max_examples=15, deadline=None)
@given(st.data(), st.sampled_from([".wav", ".flac", ".ogg"]), st.sampled_from([22_050, 44_100, 48_000]), seeds)
def test_a_rendered_file_of_unmuted_strings(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject, suffix: str, rate_hz: int, seed: int
) -> None:
    instrument = data.draw(instruments)
    condition = Condition(instrument=instrument.name, string=instrument.bass_string, muted=False)
    pair = render_pair(
        PairSpec(1, condition, data.draw(offsets), "fretted"),
        instrument,
        rate_hz=rate_hz,
        rng=np.random.default_rng(seed),
    )
    path = tmp_path_factory.getbasetemp() / f"safe{suffix}"
    write_sound(path, pair.sound.samples, rate_hz)
    assert np.max(np.abs(read_sound(path)[0])) <= CEILING


def test_what_plays_is_what_is_tested_here() -> None:
    # A new place that plays something has to be entered here, and its sound tested above. There is no metronome, no
    # click and no other sound: a count-in is told in words.
    callers = {
        str(path.relative_to(SOURCE).with_suffix(""))
        for path in SOURCE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in {"play", "_play"}
    }
    assert callers == {"playing", "conductor", "rehearsal", "listening", "chain/device", "chain/ears", "chain/loop"}


def test_only_the_players_speak_to_a_device() -> None:
    doors = {
        str(path.relative_to(SOURCE))
        for path in SOURCE.rglob("*.py")
        if any(
            word in path.read_text(encoding="utf-8") for word in ("PlaybackDevice(", "PlaybackDevice.", "play_buffer")
        )
    }
    assert doors == {"audio/miniaudio_stream.py", "audio/simpleaudio_player.py"}
    # And each player takes its samples from the guard.
    for name in ("file", "miniaudio", "silent", "simpleaudio"):
        assert "levelled(sound, self.level_db" in (SOURCE / "audio" / f"{name}_player.py").read_text(encoding="utf-8")


# -- the guard, and each player ----------------------------------------------------------------------------------------


any_samples = st.lists(st.floats(-2.0, 2.0, width=32), min_size=1, max_size=200)


@settings(max_examples=200, deadline=None)
@given(any_samples, levels)
def test_the_guard_lets_nothing_through_above_the_ceiling(values: list[float], level_db: float) -> None:
    sound = Sound(np.asarray(values, np.float32), RATE_HZ, "any")
    peak = float(np.max(np.abs(sound.samples)))
    if peak > CEILING:
        with pytest.raises(InputError, match=r"above the -6 dBFS that are safe|keep every sample finite"):
            levelled(sound, level_db)
    else:
        out = levelled(sound, level_db)
        assert np.max(np.abs(out)) <= peak
        assert np.max(np.abs(out)) == pytest.approx(peak * 10.0 ** (level_db / 20.0), rel=1e-5, abs=1e-30)
    assert pytest.approx(10.0 ** (CEILING_DBFS / 20.0), abs=1e-7) == CEILING


@settings(max_examples=30, deadline=None)
@given(any_samples, levels)
def test_what_the_file_player_writes(
    tmp_path_factory: pytest.TempPathFactory, values: list[float], level_db: float
) -> None:
    player = FilePlayer(tmp_path_factory.getbasetemp() / "safe", level_db=level_db)
    try:
        path = player.play(Sound(np.asarray(values, np.float32), RATE_HZ, "any")).path
    except InputError:
        return
    assert path is not None
    assert np.max(np.abs(read_sound(path)[0])) <= CEILING


@pytest.mark.parametrize("level_db", [0.1, 6.0, math.inf, math.nan])
def test_no_level_is_above_what_was_rendered(tmp_path: Path, level_db: float) -> None:
    quiet = Sound(np.full(10, 0.1, np.float32), RATE_HZ, "quiet")
    for player in (FilePlayer(tmp_path), SilentPlayer(ManualClock())):
        player.level_db = level_db
        with pytest.raises(UsageError, match="above 0 dB"):
            player.play(quiet)


def stream_without_a_device(channels: int) -> MiniaudioStream:
    """The miniaudio stream's own code up to the bytes that the device is handed."""
    stream = MiniaudioStream.__new__(MiniaudioStream)
    stream.feed = Feed(RATE_HZ, 1920)
    stream.calls, stream.last_call_s, stream.longest_gap_s, stream.errors = 0, 0.0, 0.0, []
    stream.sides = (1.0, 1.0)
    stream._channels = channels
    stream._clock = ManualClock()
    stream._warm = SimpleNamespace(is_set=lambda: False, set=lambda: None)
    return stream


@settings(max_examples=60, deadline=None)
@given(
    channels=st.sampled_from([1, 2]),
    gains=st.sampled_from([GAINS[side] for side in SIDES]),
    acts=st.lists(st.tuples(st.sampled_from(["start", "stop", "block"]), st.integers(1, 1500), levels), max_size=25),
)
def test_what_miniaudio_is_handed(
    channels: int, gains: tuple[float, float], acts: list[tuple[str, int, float]]
) -> None:
    stream = stream_without_a_device(channels)
    stream.sides = gains
    feeding = stream._feeding()
    next(feeding)
    noise = np.random.default_rng(1)
    for kind, number, level_db in acts:
        if kind == "start":
            loud = (CEILING * noise.choice([-1.0, 1.0], number)).astype(np.float32)
            stream.feed.start(levelled(Sound(loud, RATE_HZ, "loud"), level_db))
        elif kind == "stop":
            stream.feed.stop()
        else:
            handed = np.frombuffer(feeding.send(number), np.float32)
            assert handed.shape == (number * channels,)
            assert np.max(np.abs(handed)) <= CEILING
    assert stream.errors == []


def test_miniaudio_refuses_gains_that_make_a_side_louder() -> None:
    player = MiniaudioPlayer(SystemClock(), backend="NULL", channels=2)
    try:
        player.sides = (1.0, 1.5)
        with pytest.raises(UsageError, match="not within 0 to 1"):
            player.play(Sound(np.zeros(10, np.float32), RATE_HZ, "quiet"))
    finally:
        player.close()


@settings(max_examples=30, deadline=None)
@given(st.lists(st.floats(-0.5, 0.5, width=32), min_size=1, max_size=400), levels)
def test_what_simpleaudio_is_handed(values: list[float], level_db: float) -> None:
    handed: list[NDArray[np.int16]] = []
    player = simpleaudio_player.SimpleaudioPlayer.__new__(simpleaudio_player.SimpleaudioPlayer)
    player._library = SimpleNamespace(
        play_buffer=lambda numbers, *_: handed.append(numbers.copy()) or SimpleNamespace(is_playing=lambda: False)
    )
    player._clock, player._playback, player._in_real_time = ManualClock(), None, False
    player._lock = __import__("threading").RLock()
    player.level_db = level_db
    player.play(Sound(np.asarray(values, np.float32), RATE_HZ, "any"))
    ceiling = np.max(np.abs(np.asarray(values, np.float32))) * np.float32(gain_from_db(level_db))
    assert np.max(np.abs(handed[0] / 2.0**15)) <= ceiling <= CEILING


# -- stops -------------------------------------------------------------------------------------------------------------


OWN_FRAMES = 400
STEP = CEILING * (math.pi / 2.0 / (FADE_S * RATE_HZ) + 1.0 / OWN_FRAMES) * 1.05
"""The largest step of a cosine squared over a fade is (pi / 2) / its length; the sound's own rise may come with it."""


def long_tone(frames: int) -> NDArray[np.float32]:
    """The worst there is: a constant at the ceiling, which shows every step, with a rise and a fall of its own."""
    rise = np.minimum(1.0, np.arange(frames) / OWN_FRAMES)
    return (CEILING * rise * rise[::-1]).astype(np.float32)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(1, 700), min_size=1, max_size=6), st.integers(1, 6000), st.booleans())
def test_a_stop_in_the_middle_is_a_ramp_wherever_it_comes(blocks: list[int], frames: int, another: bool) -> None:
    feed = Feed(RATE_HZ, 1920)
    feed.start(long_tone(frames))
    out = [feed.block(count) for count in blocks]
    if another:
        feed.start(long_tone(frames))
    else:
        feed.stop()
    out.extend(feed.block(500) for _ in range(16))
    heard = np.concatenate(out)
    assert np.max(np.abs(np.diff(heard))) <= STEP
    assert heard[-1] == 0.0


@settings(max_examples=40, deadline=None)
@given(st.floats(0.0, 0.9), st.integers(400, 40_000))
def test_a_stop_of_simpleaudio_is_a_ramp(passed_s: float, frames: int) -> None:
    clock = ManualClock()
    numbers = np.rint(long_tone(frames) * 2**15).astype(np.int16)
    playing = SimpleNamespace(is_playing=lambda: True, stop=lambda: None)
    playback = simpleaudio_player.SimpleaudioPlayback(clock, numbers, playing, in_real_time=True)
    clock.advance(passed_s)
    playback.stop()
    steps = np.abs(np.diff(numbers.astype(np.float64))) / 2**15
    assert np.max(steps, initial=0.0) <= STEP


def test_closing_in_the_middle_of_a_tone_fades_it_first(monkeypatch: pytest.MonkeyPatch) -> None:
    out: list[NDArray[np.float32]] = []
    block = Feed.block

    def kept(self: Feed, frames: int, late_s: float = 0.0) -> NDArray[np.float32]:
        out.append(block(self, frames, late_s))
        return out[-1]

    monkeypatch.setattr(Feed, "block", kept)
    player = MiniaudioPlayer(SystemClock(), backend="NULL")
    playback = player.play(Sound(long_tone(10 * RATE_HZ), RATE_HZ, "long"))
    until_s = time.monotonic() + 10.0
    while playback.position_s() < 0.05 and time.monotonic() < until_s:
        time.sleep(0.005)
    player.close()
    heard = np.concatenate(out)
    assert heard.max() == pytest.approx(CEILING)
    assert heard[-1] == 0.0
    assert np.max(np.abs(np.diff(heard))) <= STEP


def test_another_output_begins_quietly() -> None:
    # Unplugged loudspeakers, and a headphone in their place: the stream that is opened anew tells another name.
    player = MiniaudioPlayer(SystemClock(), backend="NULL", level_db=-2.0)
    try:
        player._device = "loudspeakers"
        player.close()
        player.play(Sound(np.zeros(10, np.float32), RATE_HZ, "quiet"))
        assert player.level_db == START_DB
        player.level_db = -4.0
        player.close()
        player.play(Sound(np.zeros(10, np.float32), RATE_HZ, "quiet"))
        assert player.level_db == -4.0
    finally:
        player.close()
