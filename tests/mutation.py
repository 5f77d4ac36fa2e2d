"""Mutation testing: change the code in small ways, and see whether the tests notice.

mutmut (3.8 or later, `pip install -e '.[test,mutation]'`) makes the mutants and runs the tests; this script works on
one package at a time in a copy of the tree, so that only a package's own tests judge it and nothing is left behind:

    python tests/mutation.py run strings            every mutant of strings
    python tests/mutation.py run ear --sample 500   the next 500 of a drawn order: what has been run is a random sample
    python tests/mutation.py again strings          those that survived once more, after tests were added
    python tests/mutation.py survivors strings      each survivor as the line it changes
    python tests/mutation.py table                  the figures of every package that was run
    python tests/mutation.py write                  these and the survivors with their reasons, into docs/mutation.md

mutmut changes the bodies of plain functions and methods. It leaves alone what runs when a module is loaded (constants,
tables, class bodies), decorated functions (properties, cached functions), annotations, and calls of `len` and
`isinstance`. Every worker is forked from a process that has only collected the tests, so that nothing cached by one
run hides a mutant from the next.
"""

from __future__ import annotations

import argparse
import collections
import filecmp
import hashlib
import itertools
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

ROOT = Path(__file__).resolve().parents[1]
COPIED = ("pyproject.toml", "README.md", "src", "tests", "sounds", "docs")
REASONS = ROOT / "tests" / "mutation_reasons.toml"
UNEXPLAINED = "Let pass by the exact tests; whether another test notices was not tried"
DEFAULT_FOLDER = Path(tempfile.gettempdir()) / "centwise-mutation"
LONG = {
    "strings": [],
    "tones": [
        "tones/test_leak.py",
        "tones/test_recorded.py::test_never_too_loud_and_no_click",
        "tones/test_recorded.py::test_both_tones_are_equally_loud_but_for_the_rove_and_lie_on_one_noise",
        "tones/test_levels.py::test_the_peak_holds_over_hundreds_of_touches_of_the_loudest_string",
        "tones/test_recorded.py::test_nothing_but_pitch_depends_on_the_offset",
        "tones/test_recorded.py::test_a_take_of_another_rate",
        "tones/test_other_instruments.py",
    ],
    "pitch": [
        "pitch/test_pitch_accuracy.py",
        "pitch/test_loop_reading.py::test_a_planted_clock_is_read_as_sure_as_it_says",
        "pitch/test_loop_reading.py::test_any_clock_and_delay",
        "pitch/test_pooling.py::test_the_error_of_scattering_values_covers_as_it_says",
        "pitch/test_catching.py::test_a_note_is_caught_whole_with_a_little_before_it",
        "pitch/test_takes_measured.py::test_any_pair_of_any_string_is_read",
    ],
    "ear": [
        "ear/test_ear_accuracy.py",
        "ear/test_trial_run.py::test_a_cautious_listener_is_not_taken_for_a_coarse_one",
        "ear/test_fit.py::test_the_goodness_of_fit_tells_strangers_to_the_model",
        "ear/test_fit.py::test_no_search_from_elsewhere_finds_a_higher_top",
        "ear/test_estimate.py::test_a_time_order_error_is_told_from_a_timbre_shift",
        "ear/test_agreement.py::test_truths_of_an_assessment_do_not_depend_on_those_before",
        "ear/test_agreement.py::test_in_a_drill_a_unison_never_follows_a_unison",
        "ear/test_track.py::test_whatever_is_answered_nothing_repeats",
        "ear/test_questplus.py",
        "ear/test_staircase.py::test_a_long_track_settles_where_it_should",
        "ear/test_history.py::test_the_chance_is_calibrated",
        "ear/test_history.py::test_a_fast_learner_is_followed",
        "ear/test_curve.py::test_the_band_holds_the_truth_nine_times_in_ten",
        "ear/test_population.py::test_a_simulated_listener_answers_by_the_observers_chances",
    ],
}
"""The packages, and which of their tests take too long to be run against every mutant that the others let pass."""
EXACT = ("written_out", "refusals", "edges", "test_history", "test_staircase", "test_agreement", "test_observer")
"""In the names of the files whose tests hold exact values."""
SEED = 7
EXACT_PART, USUAL_PART = "exact", "all"
KILLED, SURVIVED, UNTESTED, TIMED_OUT = "killed", "survived", "no test", "timed out"
DONE = {KILLED, TIMED_OUT}


def verdict(code: int | None) -> str:
    """What mutmut's exit code of a mutant means."""
    return {
        None: "not run",
        0: SURVIVED,
        1: KILLED,
        3: KILLED,
        5: UNTESTED,
        33: UNTESTED,
        24: TIMED_OUT,
        -24: TIMED_OUT,
        36: TIMED_OUT,
        152: TIMED_OUT,
        255: TIMED_OUT,
    }.get(code, f"exit {code}")


def set_up(package: str, place: Path, selection: list[str]) -> None:
    """Copy the tree, what has changed of it only, and narrow mutmut's settings to one package and some of its tests."""
    for name in COPIED:
        for source in _files(ROOT / name):
            target = place / source.relative_to(ROOT)
            if not target.exists() or not filecmp.cmp(source, target, shallow=False):
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(source, target)
    narrow = {"only_mutate": [f"src/centwise/{package}/*"], "pytest_add_cli_args_test_selection": selection}
    section = "[tool.mutmut]\n"
    lines = "".join(f"{key} = {json.dumps(value)}\n" for key, value in narrow.items())
    settings = (ROOT / "pyproject.toml").read_text("utf-8").replace(section, section + lines)
    (place / "pyproject.toml").write_text(settings, "utf-8")


def exact_tests(package: str) -> list[str]:
    """Return the files whose tests hold exact values: quick, and most mutants fall at them."""
    files = sorted((ROOT / "tests" / "unit" / package).glob("test_*.py"))
    chosen = [str(file.relative_to(ROOT)) for file in files if any(word in file.name for word in EXACT)]
    return chosen + deselected(test for test in LONG[package] if any(word in test for word in EXACT))


def usual_tests(package: str, everything: bool) -> list[str]:
    """Return a package's tests, without the long ones unless everything is asked for."""
    return [f"tests/unit/{package}", *deselected([] if everything else LONG[package])]


def deselected(tests: Iterable[str]) -> list[str]:
    """Return the options that leave tests out."""
    return [option for test in tests for option in ("--deselect", f"tests/unit/{test}")]


def _files(path: Path) -> Iterator[Path]:
    if path.is_file():
        yield path
    else:
        yield from (file for file in path.rglob("*") if file.is_file() and "__pycache__" not in file.parts)


def run(place: Path, children: int, names: list[str]) -> None:
    """Run mutmut in a copy of the tree, quietly towards others on the machine."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": ""}
    mutmut = Path(sys.executable).with_name("mutmut")
    nice = ["nice", "-n", "15"] if shutil.which("nice") else []
    subprocess.run(
        [*nice, str(mutmut), "run", "--max-children", str(children), *names], cwd=place, env=environment, check=True
    )


def results(place: Path) -> dict[str, dict[str, int | None]]:
    """Return mutmut's exit code of every mutant by module: of the exact tests; where it stood, of the usual ones."""
    found: dict[str, dict[str, int | None]] = {}
    # A function may have changed since the usual tests met it: then its old mutants are gone.
    exact = (place / EXACT_PART / "mutants").exists()
    for part in (EXACT_PART, USUAL_PART):
        for file in sorted((place / part / "mutants" / "src" / "centwise").rglob("*.py.meta")):
            module = found.setdefault(file.name.removesuffix(".py.meta"), {})
            for name, code in json.loads(file.read_text("utf-8"))["exit_code_by_key"].items():
                gone = part == USUAL_PART and exact and name not in module
                if verdict(module.get(name)) not in DONE and (code is not None or name not in module) and not gone:
                    module[name] = code
    return {module: codes for module, codes in sorted(found.items()) if codes}


def survivors(place: Path) -> list[str]:
    """Return the names of the mutants that no test noticed, by module."""
    left = {SURVIVED, UNTESTED}
    return [name for codes in results(place).values() for name, code in codes.items() if verdict(code) in left]


def in_drawn_order(names: Iterable[str]) -> list[str]:
    """Return names in an order that is drawn once for all, by hashing them."""
    return sorted(names, key=lambda name: hashlib.sha256(f"{SEED} {name}".encode()).digest())


def drawn(place: Path, package: str, count: int) -> list[str]:
    """Return the next mutants in the drawn order that have not been run."""
    from mutmut.mutation.file_mutation import mutate_file_contents
    from mutmut.utils.format_utils import get_mutant_name

    done = {name for codes in results(place).values() for name, code in codes.items() if code is not None}
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        every = [
            get_mutant_name(path, name)
            for path in sorted(Path("src", "centwise", package).glob("*.py"))
            for name in mutate_file_contents(str(path), path.read_text("utf-8")).mutant_names
        ]
    finally:
        os.chdir(before)
    return [name for name in in_drawn_order(every) if name not in done][:count]


def changes(place: Path, names: list[str]) -> Iterator[tuple[str, str, str]]:
    """Yield name, the line as it was and the line as it became, of each mutant."""
    from mutmut.__main__ import find_mutant
    from mutmut.mutation.diff_apply import get_diff_for_mutant

    before = Path.cwd()
    os.chdir(place / (EXACT_PART if (place / EXACT_PART).exists() else USUAL_PART))
    try:
        for name in names:
            lines = get_diff_for_mutant(name, path=find_mutant(name).path).splitlines()
            yield (
                name,
                " ".join(line[1:].strip() for line in lines if line.startswith("-") and not line.startswith("---")),
                " ".join(line[1:].strip() for line in lines if line.startswith("+") and not line.startswith("+++")),
            )
    finally:
        os.chdir(before)


def table(folder: Path) -> str:
    """Return the figures of every package that was run, as tables in Markdown."""
    packages, modules = [], []
    for package in LONG:
        found = results(folder / package)
        if not found:
            continue
        codes = {name: code for each in found.values() for name, code in each.items()}
        all_run = Counts.of(codes.values())
        # What has been run from the beginning of the drawn order on, without a gap, is a random sample.
        in_order = [codes[name] for name in in_drawn_order(codes)]
        sample = Counts.of(itertools.takewhile(lambda code: code is not None, in_order))
        low, high = (f"{100.0 * end:.0f}" for end in wilson(sample.noticed, sample.run))
        share = (
            "all" if all_run.run == len(codes) else f"{sample.run}: {sample.share} (95 % interval {low} to {high} %)"
        )
        packages.append(f"| {package} | {len(codes)} | {all_run.cells} | **{all_run.share}** | {share} |")
        for module, each in found.items():
            counts = Counts.of(each.values())
            modules.append(f"| {package} | {module} | {len(each)} | {counts.cells} | {counts.share} |")
    head = "mutants | run | killed | timed out | survived | no test reaches it | noticed |"
    return "\n".join(
        [
            f"| package | {head} of them drawn at random |",
            "|---|---|---|---|---|---|---|---|---|",
            *packages,
            "",
            f"| package | module | {head}",
            "|---|---|---|---|---|---|---|---|---|",
            *modules,
            "",
        ]
    )


@dataclass(frozen=True)
class Counts:
    """How many mutants came to what."""

    killed: int
    timed_out: int
    survived: int
    untested: int

    @classmethod
    def of(cls, codes: Iterable[int | None]) -> Counts:
        """Count; what crashed the interpreter is killed too."""
        found = collections.Counter(verdict(code) for code in codes)
        crashed = sum(count for what, count in found.items() if what.startswith("exit"))
        return cls(found[KILLED] + crashed, found[TIMED_OUT], found[SURVIVED], found[UNTESTED])

    @property
    def run(self) -> int:
        """How many were tried at all."""
        return self.noticed + self.survived + self.untested

    @property
    def noticed(self) -> int:
        """How many some test noticed: it failed, or never ended."""
        return self.killed + self.timed_out

    @property
    def share(self) -> str:
        """What share was noticed, in words."""
        return f"{100.0 * self.noticed / self.run:.1f} %" if self.run else "not run"

    @property
    def cells(self) -> str:
        """The counts as cells of a table."""
        return " | ".join(map(str, (self.run, self.killed, self.timed_out, self.survived, self.untested)))


def wilson(hits: int, trials: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (E. B. Wilson 1927, JASA 22, 209-212; recalled)."""
    if not trials:
        return 0.0, 1.0
    z, share = 1.959964, hits / trials
    middle = share + z * z / (2 * trials)
    half = z * math.sqrt(share * (1.0 - share) / trials + z * z / (4 * trials * trials))
    return (middle - half) / (1.0 + z * z / trials), (middle + half) / (1.0 + z * z / trials)


def told(folder: Path) -> str:
    """Return every survivor with the reason why it was left, as lists in Markdown, one for each reason."""
    reasons = tomllib.loads(REASONS.read_text("utf-8"))["reason"]
    lists: dict[str, list[str]] = {each["why"]: [] for each in reasons}
    for package in LONG:
        place = folder / package
        for name, before, after in changes(place, survivors(place)) if place.exists() else ():
            function = re.sub(r"x[_ǁ]|__mutmut_\d+", "", name.removeprefix("centwise.")).replace("ǁ", ".")
            line = f"{function}: {before} -> {after}"
            why = next((each["why"] for each in reasons if re.search(each["pattern"], line)), UNEXPLAINED)
            lists.setdefault(why, []).append(f"- `{function}`: `{shortened(before, after)}`")
    parts = []
    for why, lines in lists.items():
        if lines:
            parts += [f"### {why} ({len(lines)})", "", *lines, ""]
    return "\n".join(parts)


def shortened(before: str, after: str) -> str:
    """Return a change as `… was => became …`, with a little of what stands round it."""
    start = alike(before, after)
    end = alike(before[start:][::-1], after[start:][::-1])
    first, last = max(0, start - 28), 20
    was, became = (text[first : len(text) - end][: start - first + 60] for text in (before, after))
    rest = before[len(before) - end :][:last]
    return f"{was}{rest} => {became}{rest}".replace("`", "'")


def alike(one: str, other: str) -> int:
    """Return how many characters two texts have in common at their beginning."""
    pairs = zip(one, other, strict=False)
    return sum(1 for _ in itertools.takewhile(lambda pair: pair[0] == pair[1], pairs))


def written(folder: Path, path: Path) -> None:
    """Put figures and survivors between the marks of a page."""
    text = path.read_text("utf-8")
    for mark, part in (("figures", table(folder)), ("survivors", told(folder))):
        start, end = f"<!-- {mark} -->", f"<!-- end of {mark} -->"
        text = text[: text.index(start) + len(start)] + f"\n{part}\n" + text[text.index(end) :]
    path.write_text(text, "utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description="Mutation testing of the core, a package at a time.")
    parser.add_argument("act", choices=("run", "again", "survivors", "table", "write"))
    parser.add_argument("packages", nargs="*", choices=(*LONG, []), help="which packages; none for all")
    parser.add_argument("--folder", type=Path, default=DEFAULT_FOLDER, help="where the copies are kept")
    parser.add_argument("--children", type=int, default=1, help="how many mutants are run at once")
    parser.add_argument("--usual", action="store_true", help="with the package's other tests, but for the long ones")
    parser.add_argument("--everything", action="store_true", help="with the long ones too")
    parser.add_argument("--sample", type=int, default=0, help="run so many more, drawn at random; 0 for all")
    parser.add_argument("--modules", nargs="+", default=[], help="run these modules of the package alone")
    arguments = parser.parse_args()
    if arguments.act == "table":
        print(table(arguments.folder), end="")
        return
    if arguments.act == "write":
        written(arguments.folder, ROOT / "docs" / "mutation.md")
        return
    for package in arguments.packages or LONG:
        if arguments.act == "survivors":
            place = arguments.folder / package
            for name, before, after in changes(place, survivors(place)):
                print(f"{name.removeprefix('centwise.')}\n    - {before}\n    + {after}")
        else:
            tried(package, arguments)


def tried(package: str, arguments: argparse.Namespace) -> None:
    """Run mutants of one package: all that have not been run, a sample, some modules, or the survivors again.

    On the exact tests alone; with --usual, what those let pass on the usual ones too, which take much longer.
    """
    place = arguments.folder / package
    exact, usual = place / EXACT_PART, place / USUAL_PART
    set_up(package, exact, exact_tests(package))
    if arguments.usual or arguments.everything:
        set_up(package, usual, usual_tests(package, arguments.everything))
    names = drawn(place, package, arguments.sample or sys.maxsize)
    if arguments.act == "again":
        # Which test reaches which function is worked out anew.
        for part in (exact, usual):
            (part / "mutants" / "mutmut-stats.json").unlink(missing_ok=True)
        names = survivors(place)
    elif arguments.modules:
        names = [name for name in names if name.split(".")[2] in arguments.modules]
    for part in (exact, usual) if arguments.usual or arguments.everything else (exact,):
        fallen = results(place)
        left = [name for name in names if verdict(fallen.get(name.split(".")[2], {}).get(name)) not in DONE]
        if left:
            run(part, arguments.children, left)


if __name__ == "__main__":
    main()
