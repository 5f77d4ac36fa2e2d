"""The wheel and the source archive: built, installed where nothing else of ours is, and used from there.

The libraries are lent from the environment of the tests, so that no network is needed; `tests/three_pythons.py`
installs them anew, in environments of their own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PARTS = ("src", "tests", "docs", "sounds")
TOP = {"pyproject.toml", "README.md", "DEVELOPERS.md"}
NEVER = {"__pycache__", ".pytest_cache", ".mypy_cache", ".ruff_cache", ".hypothesis", ".benchmarks"}
PATIENCE_S = 300
TRIALS = 12


@dataclass(frozen=True)
class Built:
    """What was built."""

    wheel: Path
    archive: Path


def run(*command: str | Path, cwd: Path, lines: str = "") -> subprocess.CompletedProcess[str]:
    # Neither the source tree nor anybody's settings may be found from there.
    kept = {
        name: value for name, value in os.environ.items() if not name.startswith(("PYTHONPATH", "CENTWISE", "MYPY"))
    }
    return subprocess.run(
        command, cwd=cwd, env=kept, input=lines, capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )


def build(tree: Path, into: Path) -> Built:
    done = run(sys.executable, "-m", "hatchling", "build", "-d", into, cwd=tree)
    assert done.returncode == 0, done.stderr
    (wheel,), (archive,) = into.glob("*.whl"), into.glob("*.tar.gz")
    return Built(wheel, archive)


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    return build(ROOT, tmp_path_factory.mktemp("built"))


@pytest.fixture(scope="module")
def installed(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment that holds the wheel; returns its Python."""
    folder = tmp_path_factory.mktemp("empty") / "environment"
    venv.create(folder, with_pip=False)
    scripts = folder / ("Scripts" if os.name == "nt" else "bin")
    python = scripts / ("python.exe" if os.name == "nt" else "python")
    install = ("-m", "pip", "--python", python, "install", "--quiet", "--no-deps", "--no-index", built.wheel)
    done = run(sys.executable, *install, cwd=folder)
    assert done.returncode == 0, done.stderr
    (site,) = folder.glob("Lib/site-packages" if os.name == "nt" else "lib/python*/site-packages")
    lent = {sysconfig.get_path(name) for name in ("purelib", "platlib")}
    (site / "lent.pth").write_text("".join(f"{path}\n" for path in sorted(lent)), encoding="utf-8")
    return python


def unpack(archive: Path, into: Path) -> Path:
    with tarfile.open(archive) as held:
        # The first Pythons 3.11 know no filters, and later ones ask for one.
        held.extractall(into, **({"filter": "data"} if hasattr(tarfile, "data_filter") else {}))
    (unpacked,) = into.iterdir()
    return unpacked


def tree_files(tree: Path) -> set[str]:
    """Name all files of the parts an archive has, without what tools leave behind."""
    found = {path for part in PARTS for path in (tree / part).rglob("*") if path.is_file()}
    return {path.relative_to(tree).as_posix() for path in found if not NEVER.intersection(path.parts)}


def contents(wheel: Path) -> dict[str, int]:
    with zipfile.ZipFile(wheel) as held:
        return {info.filename: info.CRC for info in held.infolist() if ".dist-info/" not in info.filename}


def test_the_archive_holds_the_whole_tree_and_builds_the_same_wheel(built: Built, tmp_path: Path) -> None:
    unpacked = unpack(built.archive, tmp_path)
    files = {path.relative_to(unpacked).as_posix() for path in unpacked.rglob("*") if path.is_file()}
    assert files >= TOP
    assert {name for name in files if name.startswith(tuple(f"{part}/" for part in PARTS))} == tree_files(ROOT)
    again = build(unpacked, tmp_path / "again")
    assert contents(again.wheel) == contents(built.wheel)


def test_the_wheel_holds_the_package_and_nothing_else(built: Built) -> None:
    package = {name.removeprefix("src/") for name in tree_files(ROOT) if name.startswith("src/centwise/")}
    assert set(contents(built.wheel)) == package
    assert "centwise/py.typed" in package
    with zipfile.ZipFile(built.wheel) as held:
        (about,) = (held.read(name).decode() for name in held.namelist() if name.endswith(".dist-info/METADATA"))
        assert any(name.endswith("/licence") for name in held.namelist())
    assert "\nRequires-Python: >=3.11\n" in about
    # Nothing of the tests' or developers' tools comes along unasked.
    needed = [line for line in about.splitlines() if line.startswith("Requires-Dist:") and "extra ==" not in line]
    assert len(needed) == len({line.split()[1] for line in needed}) == 9


def test_a_block_from_the_wheel_alone(installed: Path, tmp_path: Path) -> None:
    where = run(installed, "-c", "import centwise; print(centwise.__file__)", cwd=tmp_path)
    assert Path(where.stdout.strip()).is_relative_to(installed.parents[1]), where
    options = ("--events", "--player", "silent:hurry", "--listener", "Ada", "--trials", str(TRIALS), "--seed", "1")
    done = run(
        installed.with_name("centwise"),
        "drill",
        *options,
        "--data",
        tmp_path / "data",
        cwd=tmp_path,
        lines="flat\n" * 99,
    )
    assert (done.returncode, done.stderr) == (0, "")
    events = [json.loads(line) for line in done.stdout.splitlines()]
    assert [event["event"] for event in events[:2]] == ["block", "pair"]
    assert (events[-1]["event"], events[-1]["trials"]) == ("result", TRIALS)
    page = run(installed.with_name("centwise"), "progress", "--json", "--data", tmp_path / "data", cwd=tmp_path)
    assert json.loads(page.stdout)["listeners"][0]["name"] == "Ada"


def test_its_types_are_seen_from_outside(installed: Path, tmp_path: Path) -> None:
    pytest.importorskip("mypy", reason="mypy comes with the dev extra")
    (tmp_path / "consumer.py").write_text(
        'from centwise.units import parse_length_mm\n\nlength_mm = parse_length_mm("26.25in")\n'
        "reveal_type(length_mm)\nwords: str = length_mm\n",
        encoding="utf-8",
    )
    options = ("--strict", "--no-incremental", "--python-executable", installed, "--cache-dir", tmp_path / "cache")
    done = run(sys.executable, "-m", "mypy", *options, "consumer.py", cwd=tmp_path)
    assert 'consumer.py:4: note: Revealed type is "float"' in done.stdout.replace("builtins.", ""), done
    assert "consumer.py:5: error: Incompatible types in assignment" in done.stdout
    assert "Found 1 error in 1 file" in done.stdout
