"""The line-by-line drill as a program: pipes, early ends, ctrl+c, readers that go away, wicked names."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from contextlib import closing, contextmanager
from typing import IO, TYPE_CHECKING, Any

import pytest

from centwise.store.sqlite import SqliteStore

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from centwise.ports import StoredBlock

CENTWISE = (sys.executable, "-m", "centwise")
HURRY = ("--player", "silent:hurry")
posix_only = pytest.mark.skipif(os.name != "posix", reason="signals and descriptors as POSIX has them")


@pytest.fixture
def home(tmp_path: Path) -> dict[str, str]:
    """Surroundings in which nothing of this machine's user is read or written."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("CENTWISE", "XDG"))}
    return kept | {"HOME": str(tmp_path), "CENTWISE_DATA": str(tmp_path / "data")}


def run(home: dict[str, str], *arguments: str, lines: str | bytes = "") -> subprocess.CompletedProcess[str]:
    content = lines.encode() if isinstance(lines, str) else lines
    done = subprocess.run(
        [*CENTWISE, *arguments], input=content, capture_output=True, env=home, timeout=60, check=False
    )
    # No translation of line ends: a \r that got through would be seen.
    return subprocess.CompletedProcess(done.args, done.returncode, done.stdout.decode(), done.stderr.decode())


@contextmanager
def running(home: dict[str, str], *arguments: str) -> Iterator[subprocess.Popen[str]]:
    def with_ctrl_c() -> None:
        # A shell's background job inherits an ignored SIGINT; the program is tested as a terminal starts it.
        signal.signal(signal.SIGINT, signal.default_int_handler)

    with subprocess.Popen(
        [*CENTWISE, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=home,
        preexec_fn=with_ctrl_c,  # noqa: PLW1509  no threads here
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def pipe(stream: IO[str] | None) -> IO[str]:
    assert stream is not None
    return stream


def read_until(process: subprocess.Popen[str], words: str) -> list[str]:
    lines = []
    for line in pipe(process.stdout):
        lines.append(line)
        if words in line:
            return lines
    raise AssertionError(f"{words!r} never came: {''.join(lines)}{pipe(process.stderr).read()}")


def stored(home: dict[str, str]) -> StoredBlock:
    from pathlib import Path

    with closing(SqliteStore.open(Path(home["CENTWISE_DATA"]))) as store:
        (listener, *_) = store.listeners()
        return store.blocks(listener.id)[-1]


def test_a_whole_block_by_words(home: dict[str, str]) -> None:
    words = ["flat", "unison", "sharp", "f", "u", "s", "FLAT", "sharp"]
    done = run(home, "drill", "--plain", *HURRY, "--trials", "8", "--seed", "3", lines="\n".join(words))
    assert (done.returncode, done.stderr) == (0, "")
    said = done.stdout.splitlines()
    assert said[0] == "Welcome, listener 1. A drill: each answer is explained."
    assert sum(line.startswith(("Right. ", "Not this time: ")) for line in said) == 8
    assert "These pairs made no sound, so there is no number for your ear." in said
    assert not any("three times in four" in line or "90 % sure" in line for line in said)
    block = stored(home)
    assert [trial.answer for trial in block.trials] == [
        {"f": "flat", "u": "unison", "s": "sharp"}.get(word.lower(), word.lower()) for word in words
    ]
    assert block.result is not None
    assert block.result.trials == 8
    again = run(home, "drill", "--plain", *HURRY, lines="quit\n")
    assert again.stdout.startswith("Welcome back, listener 1.")


def test_a_whole_block_tells_the_number_and_its_travel(home: dict[str, str], tmp_path: Path) -> None:
    arguments = ("drill", "--plain", "--player", f"file:{tmp_path / 'pairs'}", "--trials", "20", "--seed", "3")
    said = run(home, *arguments, lines="flat\nsharp\n" * 10).stdout.splitlines()
    assert any(line.startswith("You tell flat from sharp three times in four at ") for line in said)
    assert any("of bridge; an outer string counts as set within 2 cents" in line for line in said)
    few = run(home, *arguments[:4], "--trials", "6", lines="flat\nsharp\n" * 3).stdout
    assert "6 pairs are too few to say how small a difference you hear.\nProvisional: " in few


def test_the_same_seed_gives_the_same_block(home: dict[str, str]) -> None:
    arguments = ("drill", "--plain", *HURRY, "--trials", "6", "--seed", "9", "--string", "2")
    first, second = (run(home, *arguments, "--listener", name, lines="flat\nsharp\n" * 3) for name in ("A", "B"))
    assert first.stdout.replace("Welcome, A", "Welcome, B") == second.stdout
    assert "Seed 9." in first.stdout


def test_input_closed_at_once(home: dict[str, str]) -> None:
    done = run(home, "drill", "--plain", *HURRY)
    assert (done.returncode, done.stderr) == (0, "")
    assert "No pairs judged: too few to say anything about your ear." in done.stdout
    block = stored(home)
    assert block.trials == ()
    assert block.result is not None


@posix_only
@pytest.mark.parametrize("way", ["--plain", "--events"])
def test_a_standard_input_that_was_never_open(home: dict[str, str], way: str) -> None:
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" <&-', "sh", *CENTWISE, "drill", way, *HURRY],
        capture_output=True,
        text=True,
        env=home,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert stored(home).result is not None


@posix_only
def test_a_standard_output_that_was_never_open(home: dict[str, str]) -> None:
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" >&-', "sh", *CENTWISE, "drill", "--plain", *HURRY, "--trials", "2"],
        input="flat\nsharp\n",
        stderr=subprocess.PIPE,
        text=True,
        env=home,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert len(stored(home).trials) == 2


def test_input_that_ends_early_is_kept_with_its_result(home: dict[str, str]) -> None:
    done = run(home, "drill", "--plain", *HURRY, "--json", lines="flat\nsharp\nflat\nunison\nsharp\nflat")
    assert done.returncode == 0
    assert "Pair 1 of 40: the harmonic, then the fretted note." in done.stderr.splitlines()
    # Nothing but the object: what a script reads on stdout is JSON.
    result = json.loads(done.stdout)
    assert done.stdout.count("\n") == 1
    assert result["trials"] == 6
    block = stored(home)
    # What is needed to find the block again, and to hear its pairs again.
    assert (result["block"], result["seed"]) == (block.plan.id, block.plan.seed)
    assert len(block.trials) == 6
    assert block.result is not None
    assert block.result.threshold_cents == pytest.approx(result["threshold_cents"], abs=1e-4)


@posix_only
@pytest.mark.parametrize("way", ["--plain", "--events"])
def test_ctrl_c_at_the_question_keeps_every_answer(home: dict[str, str], way: str) -> None:
    with running(home, "drill", way, *HURRY) as process:
        for number in range(1, 4):
            read_until(process, f"Pair {number} of 40" if way == "--plain" else f'"event": "pair", "n": {number}')
            pipe(process.stdin).write("flat\n")
            pipe(process.stdin).flush()
        read_until(process, "Pair 4 of 40" if way == "--plain" else '"event": "pair", "n": 4')
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
    assert process.returncode == 130
    assert err == (
        "centwise: stopped by ctrl+c with 3 answers of the block kept: type centwise drill for the next block.\n"
    )
    assert ("The block is over" if way == "--plain" else '"event": "result"') in out
    block = stored(home)
    assert len(block.trials) == 3
    assert block.result is not None


@posix_only
@pytest.mark.parametrize("way", ["--plain", "--events"])
@pytest.mark.parametrize(
    ("number", "by"), [(signal.SIGTERM, "told to end by SIGTERM"), (signal.SIGHUP, "left by its terminal")]
)
def test_a_signal_from_outside_leaves_the_block_open(
    home: dict[str, str], way: str, number: signal.Signals, by: str
) -> None:
    second = "Pair 2 of 40" if way == "--plain" else '"event": "pair", "n": 2'
    with running(home, "drill", way, *HURRY) as process:
        pipe(process.stdin).write("flat\n")
        pipe(process.stdin).flush()
        read_until(process, second)
        process.send_signal(number)
        _, err = process.communicate(timeout=30)
    assert process.returncode == 128 + number
    assert err == f"centwise: {by} with 1 answer of the block kept: type centwise drill --resume to go on.\n"
    block = stored(home)
    assert (len(block.trials), block.result) == (1, None)
    done = run(home, "drill", way, *HURRY, "--resume", lines="sharp\nquit\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert len(stored(home).trials) == 2


@posix_only
def test_ctrl_c_while_a_pair_sounds(home: dict[str, str]) -> None:
    with running(home, "drill", "--plain", "--player", "silent") as process:
        read_until(process, "Pair 1 of 40")
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=30)
    assert process.returncode == 130
    assert err == (
        "centwise: stopped by ctrl+c before the first answer of the block: type centwise drill for the next block.\n"
    )


@posix_only
@pytest.mark.parametrize("way", ["--plain", "--events"])
def test_a_reader_that_goes_away_early(home: dict[str, str], way: str) -> None:
    with running(home, "drill", way, *HURRY) as process:
        pipe(process.stdout).readline()
        pipe(process.stdout).close()
        try:
            pipe(process.stdin).write("flat\n" * 40)
            pipe(process.stdin).close()
        except BrokenPipeError:
            process.stdin = None
        err = pipe(process.stderr).read()
        assert process.wait(30) == 0
    assert err == ""


@posix_only
@pytest.mark.parametrize("arguments", [("--help",), ("shift", "--cents", "3"), ("drill", "--help")])
def test_help_into_a_closed_pipe(home: dict[str, str], arguments: tuple[str, ...]) -> None:
    done = subprocess.run(
        ["sh", "-c", 'exec 3>&1; { "$@" 2>&1 >&4 | cat >&3; } 4>&1 | true', "sh", *CENTWISE, *arguments],
        capture_output=True,
        text=True,
        env=home,
        timeout=60,
        check=False,
    )
    assert "Traceback" not in done.stdout + done.stderr
    assert "Exception ignored" not in done.stdout + done.stderr


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full")  # noqa: PTH110  at import
@pytest.mark.parametrize(
    "arguments", [("--version",), ("--help",), ("shift", "--cents", "3"), ("drill", "--events", *HURRY)]
)
def test_a_full_disk_is_one_sentence(home: dict[str, str], arguments: tuple[str, ...]) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123  a device
        done = subprocess.run(
            [*CENTWISE, *arguments],
            stdin=subprocess.DEVNULL,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=home,
            timeout=60,
            check=False,
        )
    assert done.returncode == 1
    assert done.stderr == (
        "centwise: reading or writing failed (no space left on device): check the disk and where the output goes.\n"
    )


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no /dev/full")  # noqa: PTH110  at import
@pytest.mark.parametrize(("arguments", "code"), [(("shift", "--cents", "3"), 0), (("shift", "--cents", "x"), 2)])
def test_where_nobody_can_be_told_the_exit_code_still_tells(
    home: dict[str, str], arguments: tuple[str, ...], code: int
) -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123  a device
        assert (
            subprocess.run([*CENTWISE, *arguments], stderr=full, env=home, timeout=60, check=False).returncode == code
        )


@pytest.mark.parametrize("arguments", [("--version",), ("shift", "--cents", "3"), ("lessons",)])
def test_a_reader_that_has_gone_is_no_trouble(home: dict[str, str], arguments: tuple[str, ...]) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run([*CENTWISE, *arguments], stdout=writer, stderr=subprocess.PIPE, env=home, check=False)
    os.close(writer)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.parametrize("name", ["Ada\x1b]0;owned\x07", "\x1b[2J\x1b[31mAda", "A\x9b31md\u202ea", "Ad\ra\nBo"])
@pytest.mark.parametrize("way", ["--plain", "--events"])
def test_a_wicked_name_is_shown_harmlessly(home: dict[str, str], way: str, name: str) -> None:
    done = run(home, "drill", way, *HURRY, "--listener", name, lines="flat\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert not {"\x1b", "\x07", "\x9b", "\u202e", "\r"} & set(done.stdout)
    first = done.stdout.splitlines()[0]
    assert "A" in (json.loads(first)["listener"] if way == "--events" else first)


@posix_only
@pytest.mark.parametrize("way", ["--plain", "--events"])
def test_a_terminal_on_an_old_code_page_and_input_that_is_no_text(home: dict[str, str], way: str) -> None:
    old = home | {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    done = run(old, "drill", way, *HURRY, "--listener", "Zoë ♭", lines=b"flat\n\xff\xfe\x00\nsharp\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert len(stored(home).trials) == 2


def test_input_that_is_no_text(home: dict[str, str]) -> None:
    done = run(home, "drill", "--plain", *HURRY, lines=b"flat\n\xff\xfe\x00\nsharp\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "is no word of the drill" in done.stdout
    assert len(stored(home).trials) == 2


@pytest.mark.skipif(sys.platform != "linux", reason="takes ALSA and PulseAudio away")
def test_no_device_is_one_sentence_and_begins_nothing(home: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "alsa.conf").write_text("")
    deaf = home | {
        "ALSA_CONFIG_PATH": str(tmp_path / "alsa.conf"),
        "PULSE_SERVER": f"unix:{tmp_path}/nobody",
        "XDG_RUNTIME_DIR": str(tmp_path),
        "JACK_NO_START_SERVER": "1",
    }
    done = run(deaf, "drill", "--plain", "--listener", "Ada", lines="flat\n")
    assert done.returncode == 4
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "no sound device" in done.stderr
    with closing(SqliteStore.open(tmp_path / "data")) as store:
        assert store.listeners() == ()


def test_refusals_of_the_program_itself(home: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "store").mkdir()
    (tmp_path / "store" / "centwise.sqlite3").write_bytes(b"no database" * 100)
    for arguments, code in (
        (("drill",), 2),
        (("drill", "--plain", "--string", "8"), 2),
        (("strum",), 2),
        (("render", str(tmp_path / "nowhere" / "x.wav")), 3),
        (("drill", "--plain", *HURRY, "--data", str(tmp_path / "store")), 5),
    ):
        done = run(home, *arguments)
        assert (done.returncode, done.stdout) == (code, "")
        assert done.stderr.startswith("centwise: ")
        assert done.stderr.endswith(".\n")
        assert done.stderr.count("\n") == 1


def events_of(out: str, kind: str) -> list[dict[str, Any]]:
    return [event for line in out.splitlines() if (event := json.loads(line))["event"] == kind]


@posix_only
def test_a_block_killed_outright_is_gone_on_with_as_if_it_had_never_been_left(home: dict[str, str]) -> None:
    words = ["flat", "sharp", "unison", "sharp", "flat", "flat", "unison", "sharp"]
    arguments = ("drill", "--events", *HURRY, "--listener")
    with running(home, *arguments, "Ada", "--trials", "8", "--seed", "5") as process:
        for number, word in enumerate(words[:3], 1):
            read_until(process, f'"event": "pair", "n": {number}')
            pipe(process.stdin).write(f"{word}\n")
            pipe(process.stdin).flush()
        read_until(process, '"event": "pair", "n": 4')
        process.kill()
        assert process.wait(30) == -signal.SIGKILL
    assert stored(home).result is None
    # Whoever begins another block is told, and loses nothing by it.
    other = run(home, *arguments, "Ada", "--trials", "2", lines="quit\n")
    assert events_of(other.stdout, "block")[0]["left"]["answered"] == 3
    plain = run(home, "drill", "--plain", *HURRY, lines="quit\n").stdout
    assert "was cut off after 3 of 8 pairs: centwise drill --resume goes on with it." in plain
    went_on = run(home, *arguments, "Ada", "--resume", lines="\n".join(words[3:]))
    unbroken = run(home, *arguments, "Bo", "--trials", "8", "--seed", "5", lines="\n".join(words))
    assert (went_on.returncode, went_on.stderr) == (0, "")
    (block,) = events_of(went_on.stdout, "block")
    assert (block["seed"], block["trials"], block["answered"]) == (5, 8, 3)
    for kind in ("pair", "answer"):
        assert events_of(went_on.stdout, kind) == events_of(unbroken.stdout, kind)[3:]
    (result,), (expected,) = events_of(went_on.stdout, "result"), events_of(unbroken.stdout, "result")
    figures = {name for name in expected if name not in {"block", "standing"}}
    assert {name: result[name] for name in figures} == {name: expected[name] for name in figures}
    again = run(home, *arguments, "Ada", "--resume")
    assert (again.returncode, again.stdout) == (2, "")
    assert again.stderr == "centwise: Ada has no block that was cut off: leave out --resume to begin one.\n"


@posix_only
def test_a_block_killed_outright_may_be_ended_with_its_result(home: dict[str, str]) -> None:
    with running(home, "drill", "--plain", *HURRY, "--trials", "9") as process:
        for number in range(1, 7):
            read_until(process, f"Pair {number} of 9")
            pipe(process.stdin).write("flat\n")
            pipe(process.stdin).flush()
        read_until(process, "Pair 7 of 9")
        process.kill()
        process.wait(30)
    done = run(home, "drill", "--plain", *HURRY, "--resume", lines="quit\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "It goes on where it was cut off: 6 of the 9 pairs are judged." in done.stdout
    assert "Pair 7 of 9" in done.stdout
    block = stored(home)
    assert len(block.trials) == 6
    assert block.result is not None


@pytest.mark.parametrize("option", [("--string", "1"), ("--trials", "9"), ("--assess",), ("--warm-up", "2")])
def test_a_block_gone_on_with_is_not_made_another(home: dict[str, str], option: tuple[str, ...]) -> None:
    done = run(home, "drill", "--plain", *HURRY, "--resume", *option)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"centwise: the block that was cut off says itself what {option[0]} says: leave out {option[0]}.\n"
    )
