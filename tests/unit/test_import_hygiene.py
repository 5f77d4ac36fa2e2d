"""What is loaded when: help and version stay quick, the app's first frame waits for no numpy, imports go down only."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HEAVY = {"numpy", "textual", "soundfile", "miniaudio", "sqlite3", "jinja2"}


def loaded_after(code: str) -> set[str]:
    """Return the top-level modules a fresh interpreter has loaded once it ran the code."""
    report = "import sys; sys.stderr.write('\\n' + ' '.join({name.split('.')[0] for name in sys.modules}))"
    run = subprocess.run(
        [sys.executable, "-c", f"{code}\n{report}"], capture_output=True, text=True, check=True, timeout=60
    )
    return set(run.stderr.splitlines()[-1].split())


def running(*arguments: str) -> str:
    """Return code that runs the program's entry point and takes its exit."""
    return (
        f"import sys; sys.argv = ['centwise', *{arguments!r}]\n"
        "from centwise.__main__ import main\n"
        "try:\n    main()\nexcept SystemExit as stop:\n    assert not stop.code, stop.code"
    )


@pytest.mark.parametrize(
    "arguments",
    [
        ("--help",),
        ("-h",),
        ("drill", "--help"),
        ("shift", "--help"),
        ("render", "--help"),
        ("progress", "--help"),
        ("listeners", "--help"),
        ("check", "--help"),
        ("shift", "--cents", "-4"),
    ],
    ids=" ".join,
)
def test_help_and_shift_load_nothing_heavy(arguments: tuple[str, ...]) -> None:
    loaded = loaded_after(running(*arguments))
    assert "click" in loaded
    assert not loaded & HEAVY


@pytest.mark.parametrize("option", ["--version", "-V"])
def test_the_version_loads_not_even_click(option: str) -> None:
    assert not loaded_after(running(option)) & (HEAVY | {"click", "platformdirs"})


def test_a_class_of_kept_rows_loads_no_numpy() -> None:
    assert not loaded_after("import centwise.cli.progress, centwise.store.sqlite") & {"numpy", "textual"}


def test_help_loads_no_command() -> None:
    code = f"{running('--help')}\nassert not {{'centwise.cli.drill', 'centwise.cli.render'}} & set(sys.modules)"
    assert "centwise" in loaded_after(code)


def test_jinja2_is_loaded_for_a_page_alone(tmp_path: Path) -> None:
    check = ("check", "--only", "players", "--data", str(tmp_path))
    assert "jinja2" not in loaded_after(running(*check))
    assert "jinja2" in loaded_after(running(*check, "--sheet", str(tmp_path / "sheet.html")))


def test_the_app_loads_no_numpy_before_its_first_frame() -> None:
    loaded = loaded_after("import centwise.tui.app")
    assert "textual" in loaded
    assert not loaded & {"numpy", "soundfile", "miniaudio", "click", "plotext", "textual_plotext"}


@pytest.mark.parametrize("module", ["centwise", "centwise.bootstrap", "centwise.planning", "centwise.cli.drill"])
def test_what_comes_before_the_app_loads_no_numpy(module: str) -> None:
    assert not loaded_after(f"import {module}") & {"numpy", "textual", "soundfile", "miniaudio"}


@pytest.mark.parametrize("module", ["tones.pair", "ear.track", "strings.instrument", "drill.machine"])
def test_the_core_is_numpy_and_the_standard_library(module: str) -> None:
    before = loaded_after("import numpy, numpy.random")
    outside = loaded_after(f"import numpy, numpy.random, centwise.{module}") - before - set(sys.stdlib_module_names)
    assert outside == {"centwise"}


def test_imports_go_down_only() -> None:
    linter = Path(sys.executable).with_name("lint-imports")
    if not linter.exists():
        pytest.skip("import-linter is not installed (the dev extra)")
    run = subprocess.run([linter, "--no-cache"], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert run.returncode == 0, run.stdout + run.stderr
    assert "0 broken" in run.stdout


def test_progress_loads_what_draws_pages_only_for_a_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CENTWISE_DATA", str(tmp_path))
    drawing = {"matplotlib", "jinja2"}
    for options in ((), ("--json",), ("--csv", str(tmp_path / "answers.csv"))):
        assert not loaded_after(running("progress", *options)) & drawing
    assert drawing <= loaded_after(running("progress", "--html", str(tmp_path / "page.html")))


def test_no_two_test_files_have_the_same_name() -> None:
    # Without packages among the tests, pytest takes the second for the first and collects nothing.
    names = [path.name for path in (ROOT / "tests").rglob("*.py") if path.name != "conftest.py"]
    assert {name for name in names if names.count(name) > 1} == set()
