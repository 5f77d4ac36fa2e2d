"""Wrong input in bulk: arguments, words, settings, lessons, instruments, sounds, exchange files, cut, doubled, swapped.

python tests/fuzz/wrong_input.py --cases 50000

Each case runs the program in this process, in a home of its own, and must end within its time with a known exit code,
without a traceback, and without opening a file for writing outside that home. A case depends on the seed and its number
alone: `--only N` runs one again and shows what it did.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import click
import numpy as np
import soundfile

from centwise.cli.main import COMMANDS, centwise, run

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

CODES = {0, 1, 2, 3, 4, 5, 130}
LONGEST_S = 20.0
"""No case asks for work that takes longer, on a machine with other work."""

ODD = (
    "", " ", "0", "-0", "1", "-1", "5", "6", "nan", "inf", "-inf", "1e308", "1e-320", "9" * 400, "0x10", "1_000", "½",
    "26.25in", "667mm", "26 1/4in", "1/0in", "-3in", "26.25", "1in1in", "∞", "٣", "true", "null", "flat", "unison",
    "sharp", "Ada", "=cmd|' /C calc'!A0", "<script>alert(1)</script>", "../../x", "..", ".", "/", "a/b", "con",
    "\x1b[2J",
    "\x07", "\u202egnirts", "\u0000"[:0], "\ud7ff", "é" * 300, "x" * 10_000, "a\nb", "a\tb", "%s%n", "$(id)", "-", "--",
    "--help", "-h", "--json", "--string", "five-string", "mandolin", "first-week", "chime 4", "bass forward 1/16in",
    "slide bass 1mm", "mark", "quit", "{}", "[]", '{"event":"answer"}', "[[", "a = ", "a = [", 'a = """', "\ufeff",
    "NaN",
)  # fmt: skip
PLAUSIBLE: dict[str, tuple[str, ...]] = {
    "--string": ("1", "2", "3", "4", "5"), "--trials": ("1", "3", "8"), "--seed": ("1", "77"),
    "--likeness": ("0", "0.5", "1"),
    "--cents": ("4", "-8", "0", "100", "-100"), "--mm": ("1.6", "-0.4", "0"), "--rate": ("22050", "48000"),
    "--until": ("1", "3"),
    "--scale": ("26.25in", "667mm", "26 1/4in"), "--listener": ("Ada", "Mara", "Иван"), "--listeners": ("2", "3"),
}  # fmt: skip
"""Values that an option may well take, for those whose kind does not say."""
NEVER = {"--data", "--player", "--listeners", "--trials", "--loop", "--ears", "--tone"}
"""Options whose values are set by the case: folders, devices, and how long the work takes."""
EVENT_WORDS = (
    "flat", "unison", "sharp", "again", "harmonic", "fretted", "last", "directions", "help", "quit", "chime 4",
    "fret 1",
    "open 5", "mute", "unmute", "bass forward 1/16in", "treble back 1/8in", "slide bass 1mm", "margins", "retune",
    "mark",
    "bass forward 99in", "fret 3 99", "why", "hint", "start over",
)  # fmt: skip


@dataclass
class Sandbox:
    """A home to work in, and what was written outside it."""

    home: Path
    escaped: list[str] = field(default_factory=list)
    watching: bool = False

    def audit(self, event: str, arguments: tuple[object, ...]) -> None:
        """Note every file opened for writing, made or removed outside (an audit hook of the interpreter)."""
        if not self.watching:
            return
        if event == "open":
            path, mode, flags = arguments
            writes = isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
            if not writes and not (isinstance(mode, str) and set(mode) & set("wax+")):
                return
        elif event in {"os.remove", "os.rename", "os.mkdir", "os.rmdir", "shutil.rmtree", "sqlite3.connect"}:
            path = arguments[0]
        else:
            return
        if isinstance(path, int) or str(path) in {os.devnull, ":memory:"}:
            return
        whole = os.path.realpath(os.fsdecode(path)) if isinstance(path, str | bytes | os.PathLike) else str(path)
        if not whole.startswith(str(self.home)) and "__pycache__" not in whole and "/matplotlib" not in whole:
            self.escaped.append(f"{event} {whole}")


def some(rng: np.random.Generator, things: tuple[str, ...]) -> str:
    return things[int(rng.integers(len(things)))]


def odd_text(rng: np.random.Generator) -> str:
    """One of the odd texts, two of them joined, or signs drawn from all of Unicode's first plane."""
    kind = rng.integers(4)
    if kind < 2:
        return some(rng, ODD)
    if kind == 2:
        return some(rng, ODD) + some(rng, ODD)
    signs = rng.integers(1, 0xD7FF, int(rng.integers(1, 12)))
    return "".join(map(chr, signs))


def spoilt(rng: np.random.Generator, content: bytes) -> bytes:
    """Cut, double, swap or overwrite a piece of a file."""
    data = bytearray(content)
    for _ in range(int(rng.integers(1, 4))):
        if not data:
            break
        at, length = int(rng.integers(len(data))), int(rng.integers(1, 1 + min(len(data), 64)))
        kind = rng.integers(6)
        if kind == 0:
            del data[at:]
        elif kind == 1:
            data[at:at] = data[at : at + length]
        elif kind == 2:
            del data[at : at + length]
        elif kind == 3:
            data[at : at + length] = rng.integers(0, 256, length, dtype=np.uint8).tobytes()
        elif kind == 4:
            data[at:at] = odd_text(rng).encode("utf-8", "surrogatepass")
        else:
            data[at] ^= 1 << int(rng.integers(8))
    return bytes(data)


@dataclass(frozen=True)
class Case:
    """What one case does: files to write below the home, arguments, and lines to read."""

    what: str
    arguments: tuple[str, ...]
    lines: str = ""
    files: tuple[tuple[str, bytes], ...] = ()


def plausible(rng: np.random.Generator, parameter: click.Parameter) -> str:
    """A value of the kind that an option or argument asks for."""
    if isinstance(parameter.type, click.Choice):
        return some(rng, tuple(map(str, parameter.type.choices)))
    for name in parameter.opts:
        if name in PLAUSIBLE:
            return some(rng, PLAUSIBLE[name])
    return some(
        rng, ("1", "0.5", "Ada", "out.wav", "out.flac", "out.ogg", "out.png", "out.html", "file.toml", "five-string")
    )


def command_line(rng: np.random.Generator) -> Case:
    if rng.random() < 0.04:
        return Case("command line", tuple(odd_text(rng) for _ in range(int(rng.integers(0, 4)))))
    name = some(rng, tuple(COMMANDS))
    command = centwise.get_command(click.Context(centwise), name)
    assert command is not None
    path, arguments = [command], [name]
    while isinstance(path[-1], click.Group):
        inner = some(rng, tuple(path[-1].commands))
        arguments.append(inner)
        path.append(path[-1].commands[inner])
    parameters = [p for p in path[-1].params if not NEVER & set(p.opts)]
    # Mostly all right but for one odd value: what is wrong everywhere is refused at the first step.
    odd = int(rng.integers(4))
    for turn in range(int(rng.integers(0, 5))):
        if not parameters:
            break
        parameter = parameters[int(rng.integers(len(parameters)))]
        if isinstance(parameter, click.Option):
            arguments.append(parameter.opts[0])
            if parameter.is_flag:
                continue
        arguments.append(odd_text(rng) if turn == odd else plausible(rng, parameter))
    if name in {"drill", "bench"}:
        front = "--plain" if rng.random() < 0.5 else "--events"
        arguments += ["--player", "file:wav", front, *(("--trials", "3") if name == "drill" else ())]
    if name == "check":
        # Only the part that is arithmetic, and little of it: the chain as a whole takes seconds.
        arguments += ["--listeners", some(rng, ("3", "0", "-1", "nan", "2.5")), "--trials", some(rng, ("6", "0", "x"))]
    if name == "record":
        arguments.append("--help")
    return Case("command line", tuple(arguments), "\n".join(some(rng, EVENT_WORDS) for _ in range(3)))


def event_words(rng: np.random.Generator) -> Case:
    name = "drill" if rng.random() < 0.5 else "bench"
    words = [some(rng, EVENT_WORDS) if rng.random() < 0.6 else odd_text(rng) for _ in range(int(rng.integers(1, 12)))]
    front = "--events" if rng.random() < 0.6 else "--plain"
    seed = str(int(rng.integers(1000)))
    end = "" if rng.random() < 0.3 else "\n"
    return Case(
        f"words of {name}",
        (name, front, "--player", "file:wav", "--seed", seed, *(("--trials", "8") if name == "drill" else ())),
        "\n".join(words) + end,
    )


def settings(rng: np.random.Generator) -> Case:
    text = b'# settings\nplayer = "silent"\ntheme = "dark"\nscale = "26.25in"\ndata = "data"\n'
    return Case("settings", ("shift", "--cents", "4"), "", (("settings.toml", spoilt(rng, text)),))


def from_samples(what: str, name: str, arguments: tuple[str, ...], samples: tuple[bytes, ...]) -> Callable[..., Case]:
    """Return a maker of cases that spoil one of several good files."""

    def case(rng: np.random.Generator) -> Case:
        return Case(what, arguments, "", ((name, spoilt(rng, samples[int(rng.integers(len(samples)))])),))

    return case


def sounds() -> tuple[bytes, ...]:
    """A short take in three formats: two notes, one after the other, as a microphone would hear them."""
    t = np.arange(16_000) / 16_000.0
    notes = [np.sin(2 * np.pi * hz * t) * np.exp(-3 * t) * 0.4 for hz in (587.33, 588.7)]
    take = np.concatenate((np.zeros(4_000), notes[0], np.zeros(4_000), notes[1], np.zeros(4_000)))
    found = []
    for kind, subtype in (("WAV", "PCM_16"), ("FLAC", "PCM_16"), ("OGG", "VORBIS")):
        memory = io.BytesIO()
        soundfile.write(memory, take, 16_000, format=kind, subtype=subtype)
        found.append(memory.getvalue())
    return tuple(found)


def makers() -> list[tuple[float, Callable[[np.random.Generator], Case]]]:
    """Return weights and makers: what is slow to read comes less often."""
    package = Path(sys.modules["centwise"].__file__ or "").parent
    found: list[tuple[float, Callable[[np.random.Generator], Case]]] = [
        (0.40, command_line),
        (0.10, event_words),
        (0.14, settings),
        (0.05, from_samples("sounds", "take.bin", ("measure", "take.bin"), sounds())),
    ]
    lessons = tuple(path.read_bytes() for path in sorted(package.glob("lessons/shipped/*.toml")))
    if lessons:
        front = ("drill", "--events", "--player", "file:wav", "--lesson", "lesson.toml")
        found.append((0.10, from_samples("lessons", "lesson.toml", front, lessons)))
    instruments = tuple(path.read_bytes() for path in sorted(package.glob("strings/instruments/*.toml")))
    if instruments:
        arguments = ("shift", "--cents", "4", "--instrument", "own")
        found.append((0.11, from_samples("instruments", "instruments/own.toml", arguments, instruments)))
    if "import" in COMMANDS:
        found.append((0.10, from_samples("exchange", "pupils.jsonl", ("import", "pupils.jsonl"), (exported(),))))
    return found


def exported() -> bytes:
    """A small store's own export."""
    with tempfile.TemporaryDirectory() as name, at_home(Path(name)):
        Path("settings.toml").touch()
        block = ("drill", "--events", "--player", "file:wav", "--listener", "Ada", "--trials", "6", "--seed", "1")
        spoken(list(block), "flat\n" * 6)
        code, out, err = spoken(["export", "all.jsonl"], "")
        assert code == 0, err
        path = Path("all.jsonl")
        return path.read_bytes() if path.exists() else out.encode()


@contextlib.contextmanager
def at_home(home: Path) -> Iterator[None]:
    """Work in a home of one's own."""
    before, environment = Path.cwd(), dict(os.environ)
    os.environ.update({name: str(home) for name in ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA")})
    os.environ.update({"XDG_CONFIG_HOME": str(home / ".config"), "XDG_DATA_HOME": str(home / ".local")})
    os.environ["CENTWISE_DATA"] = str(home / "data")
    os.environ["CENTWISE_CONFIG"] = str(home / "settings.toml")
    os.chdir(home)
    try:
        yield
    finally:
        os.chdir(before)
        os.environ.clear()
        os.environ.update(environment)


def spoken(arguments: list[str], lines: str) -> tuple[int, str, str]:
    """Run the command line here; return exit code, stdout and stderr."""
    out, err = io.StringIO(), io.StringIO()
    stdin = sys.stdin
    sys.stdin = io.StringIO(lines)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run(arguments)
    finally:
        sys.stdin = stdin
    return code, out.getvalue(), err.getvalue()


def too_long(*_: object) -> None:
    raise TimeoutError


def faults(sandbox: Sandbox, case: Case) -> list[str]:
    """Run one case and return what is wrong with how it ended."""
    home = sandbox.home
    for entry in home.iterdir():
        shutil.rmtree(entry) if entry.is_dir() and not entry.is_symlink() else entry.unlink()
    for name, content in (("settings.toml", b""), *case.files):
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_bytes(content)
    sandbox.escaped.clear()
    signal.signal(signal.SIGALRM, too_long)
    signal.setitimer(signal.ITIMER_REAL, LONGEST_S)
    sandbox.watching = True
    try:
        ended = spoken([argument.replace("\0", "") for argument in case.arguments], case.lines)
    except TimeoutError:
        return [f"it took longer than {LONGEST_S:g} s", *sandbox.escaped]
    except BaseException as error:  # noqa: BLE001  whatever comes is a traceback to the user
        return [f"traceback: {type(error).__name__}: {error}", *sandbox.escaped]
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        sandbox.watching = False
    return [*wrong_ending(case, *ended), *sandbox.escaped]


def wrong_ending(case: Case, code: int, out: str, err: str) -> list[str]:
    """Return what a user or a script should not have met."""
    refused = code in CODES - {0, 1, 130}
    # Behind an option that takes a value the word may be that value, as in `--csv --json`.
    free = {word for before, word in pairwise(("", *case.arguments)) if not before.startswith("--")}
    json_alone = {"--events", "--json"} & free and not {"--help", "-h"} & set(case.arguments)
    checks = {
        f"exit code {code}": code not in CODES,
        "a traceback was shown": "Traceback" in out + err,
        f"exit code {code} without a sentence": refused and "centwise: " not in err,
        "a terminal control was passed on": any(sign in out + err for sign in "\x1b\x07\x9b"),
        "stdout is no JSON": bool(json_alone) and code == 0 and not all(map(is_json, out.splitlines())),
    }
    return [what for what, found in checks.items() if found]


def is_json(line: str) -> bool:
    try:
        json.loads(line)
    except ValueError:
        return False
    return True


def case_of(seed: int, number: int, choices: list[tuple[float, Callable[[np.random.Generator], Case]]]) -> Case:
    rng = np.random.default_rng((seed, number))
    weights = np.array([weight for weight, _ in choices])
    return choices[int(rng.choice(len(choices), p=weights / weights.sum()))][1](rng)


def hunt(cases: int, seed: int, first: int = 0) -> tuple[dict[str, int], list[tuple[int, Case, list[str]]]]:
    """Run cases one after another; return how many there were of each kind, and those that went wrong."""
    counts: dict[str, int] = {}
    bad = []
    with tempfile.TemporaryDirectory(prefix="centwise-wrong-") as name:
        sandbox = Sandbox(Path(os.path.realpath(name)))
        sys.addaudithook(sandbox.audit)
        choices = makers()
        with at_home(sandbox.home):
            for number in range(first, first + cases):
                case = case_of(seed, number, choices)
                counts[case.what] = counts.get(case.what, 0) + 1
                if found := faults(sandbox, case):
                    bad.append((number, case, found))
    return counts, bad


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--only", type=int, help="run this one case and show it")
    options = parser.parse_args(arguments)
    if options.only is not None:
        case = case_of(options.seed, options.only, makers())
        print(case)
        options.cases, options.first = 1, options.only
    started = time.perf_counter()
    counts, bad = hunt(options.cases, options.seed, options.first)
    for number, case, found in bad[:50]:
        print(f"case {number}: {case.what} {case.arguments!r:.300} {case.lines!r:.200}\n    {'; '.join(found)}")
    kinds = ", ".join(f"{count} {what}" for what, count in sorted(counts.items()))
    took = time.perf_counter() - started
    print(f"{sum(counts.values())} cases ({kinds}) in {took:.0f} s, {len(bad)} of them wrong.")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
