from __future__ import annotations

import io
import os
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from centwise.audio.ogg import with_serial
from centwise.audio.sound_file import read_sound, write_sound
from centwise.errors import InputError, UsageError

RATES_HZ = (22_050, 44_100, 48_000, 88_200, 96_000, 176_400, 192_000)
NOISE = (0.5 * np.random.default_rng(3).uniform(-1.0, 1.0, 20_000)).astype(np.float32)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("suffix", [".wav", ".flac", ".WAV"])
def test_wav_and_flac_hold_24_bits(tmp_path: Path, suffix: str, rate_hz: int) -> None:
    path = tmp_path / f"x{suffix}"
    write_sound(path, NOISE, rate_hz)
    back, back_hz = read_sound(path)
    assert back_hz == rate_hz
    assert back.dtype == np.float32
    np.testing.assert_allclose(back, NOISE, rtol=0.0, atol=2.0**-24)
    assert np.max(np.abs(back)) <= np.max(np.abs(NOISE))


@pytest.mark.parametrize("rate_hz", RATES_HZ)
def test_vorbis_never_overshoots_the_peak(tmp_path: Path, rate_hz: int) -> None:
    # A square wave: what a lossy codec overshoots most.
    square = (0.5 * np.sign(np.sin(2 * np.pi * 300.0 * np.arange(rate_hz // 2) / rate_hz) + 0.01)).astype(np.float32)
    path = tmp_path / "x.ogg"
    write_sound(path, square, rate_hz)
    back, back_hz = read_sound(path)
    assert (len(back), back_hz) == (len(square), rate_hz)
    assert np.max(np.abs(back)) <= 0.5
    assert np.corrcoef(back, square)[0, 1] > 0.98


def test_vorbis_keeps_below_the_peak_whatever_its_steps_of_level(tmp_path: Path) -> None:
    noise = np.random.default_rng(8)
    path = tmp_path / "x.ogg"
    time_s = np.arange(24_000) / 48_000
    for _ in range(25):
        partials = sum(
            np.sin(2 * np.pi * 293.0 * m * time_s + noise.uniform(0.0, 6.28))
            * np.exp(-noise.uniform(1.0, 9.0) * time_s)
            for m in range(1, 12)
        )
        tone = (0.4 * partials / np.max(np.abs(partials))).astype(np.float32)
        write_sound(path, tone, 48_000)
        back, _ = read_sound(path)
        assert 0.7 * np.max(np.abs(tone)) < np.max(np.abs(back)) <= np.max(np.abs(tone))


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".ogg"])
def test_the_same_sound_makes_the_same_bytes(tmp_path: Path, suffix: str) -> None:
    for name in ("a", "b"):
        write_sound(tmp_path / f"{name}{suffix}", NOISE, 48_000)
    assert (tmp_path / f"a{suffix}").read_bytes() == (tmp_path / f"b{suffix}").read_bytes()


def test_the_checksum_of_an_ogg_page_is_the_one_libogg_writes() -> None:
    buffer = io.BytesIO()
    soundfile.write(buffer, NOISE, 48_000, format="OGG", subtype="VORBIS")
    content = buffer.getvalue()
    (serial,) = struct.unpack_from("<I", content, 14)
    assert with_serial(content, serial) == content
    assert with_serial(content, serial ^ 1) != content
    with pytest.raises(ValueError, match="no Ogg page begins at byte 0"):
        with_serial(b"RIFF")


@pytest.mark.parametrize("name", ["x.mp3", "x", "wav"])
def test_an_unknown_suffix_names_the_three(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError, match=r"end its name in \.wav, \.flac or \.ogg"):
        write_sound(tmp_path / name, NOISE, 48_000)


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nowhere/x\.wav cannot be written \(no such file or directory\)"):
        write_sound(tmp_path / "nowhere" / "x.wav", NOISE, 48_000)


def test_a_folder_in_its_place_is_told_and_nothing_is_left(tmp_path: Path) -> None:
    (tmp_path / "x.wav").mkdir()
    with pytest.raises(InputError, match="cannot be written"):
        write_sound(tmp_path / "x.wav", NOISE, 48_000)
    assert [path.name for path in tmp_path.iterdir()] == ["x.wav"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_leaves_the_earlier_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "x.wav"
    write_sound(path, NOISE, 48_000)
    before = path.read_bytes()
    # The temporary beside it leads to a device that is always full.
    (tmp_path / f".x.wav.{os.getpid()}.part").symlink_to("/dev/full")
    with pytest.raises(InputError, match="no space left on device"):
        write_sound(path, -NOISE, 48_000)
    assert path.read_bytes() == before
    assert [found.name for found in tmp_path.iterdir()] == ["x.wav"]


def test_what_is_no_sound_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read"):
        read_sound(tmp_path / "missing.wav")
    (tmp_path / "text.wav").write_text("not a sound")
    with pytest.raises(InputError, match="is not a sound file that can be read"):
        read_sound(tmp_path / "text.wav")
