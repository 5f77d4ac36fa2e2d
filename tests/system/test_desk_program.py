"""The teacher's commands as the program itself: pipes, bytes that are no text, a class in a real terminal."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from test_app_terminal import Terminal, program

from made_class import MadeClass, make_class

if TYPE_CHECKING:
    from pathlib import Path

CENTWISE = [sys.executable, "-m", "centwise"]


def centwise(
    data: Path, *arguments: str | bytes, lines: str = "", **environment: str
) -> subprocess.CompletedProcess[bytes]:
    environ = os.environ | {"CENTWISE_DATA": str(data), "CENTWISE_CONFIG": ""} | environment
    return subprocess.run(
        [*CENTWISE, *arguments], input=lines.encode(), capture_output=True, env=environ, timeout=120, check=False
    )


@pytest.mark.skipif(os.name != "posix", reason="names as bytes are a matter of POSIX")
def test_names_of_any_bytes_do_no_harm(tmp_path: Path) -> None:
    assert centwise(tmp_path, "listeners", "add", b"Zo\xff\x1b[31m\xe2\x80\xae").returncode == 0
    refused = centwise(tmp_path, "listeners", "add", b"\xff\xfe")
    assert (refused.returncode, refused.stdout) == (2, b"")
    assert b"is no name" in refused.stderr
    assert b"Traceback" not in refused.stderr
    for arguments in (("listeners",), ("progress", "--class"), ("progress",)):
        told = centwise(tmp_path, *arguments)
        assert told.returncode == 0
        assert b"Zo[31m" in told.stdout
        assert not set(told.stdout) & {0x1B, 0x07}
    # A terminal that knows ASCII alone.
    plain = centwise(tmp_path, "listeners", PYTHONIOENCODING="ascii", LC_ALL="C")
    assert plain.returncode == 0
    assert b"Traceback" not in plain.stderr


def test_removing_reads_its_yes_from_a_pipe(tmp_path: Path) -> None:
    centwise(tmp_path, "listeners", "add", "Ann")
    asked = centwise(tmp_path, "listeners", "remove", "Ann", lines="no\n")
    assert (asked.returncode, asked.stdout) == (2, b"")
    assert b"Ann goes, with no block yet. A copy is kept.\nRemove Ann? Type yes to do it:" in asked.stderr
    done = centwise(tmp_path, "listeners", "remove", "Ann", "--json", lines="yes\n")
    assert done.returncode == 0
    assert json.loads(done.stdout)["removed"]["name"] == "Ann"
    assert json.loads(centwise(tmp_path, "listeners", "--json").stdout) == {"listeners": []}


@pytest.mark.skipif(os.name != "posix", reason="head is a POSIX tool")
def test_a_reader_that_has_enough_is_no_error(tmp_path: Path) -> None:
    make_class(tmp_path, MadeClass(listeners=300, blocks_each=1, trials_each=5))
    command = f'"{sys.executable}" -m centwise progress --class --data "{tmp_path}" | head -2'
    run = subprocess.run(["sh", "-c", command], capture_output=True, text=True, timeout=120, check=False)
    assert len(run.stdout.splitlines()) == 2
    assert run.stderr == ""


@pytest.mark.terminal
@pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")
def test_a_class_in_a_real_terminal(tmp_path: Path) -> None:
    make_class(tmp_path / "data", MadeClass(listeners=120, blocks_each=6, trials_each=5))
    terminal = Terminal(tmp_path, 80, 24)
    try:
        terminal.run(*program(tmp_path))
        terminal.wait_for("Type to find a name")
        terminal.press("F3")
        terminal.wait_for("The class: 120 listeners")
        terminal.press("/")
        terminal.type("0117")
        terminal.wait_for("The class: 1 of 120 listeners")
        terminal.press("Enter")
        page = terminal.wait_for("2 c┤")
        assert "Listener 00117, string " in page
        assert "Next: " in page
        terminal.press("q")
        terminal.wait_for("The class: ")
        terminal.press("Escape")
        terminal.wait_for("The class: 120 listeners")
        terminal.press("Escape")
        terminal.wait_for("Type to find a name")
        terminal.press("Escape")
        terminal.wait_for("left with 0")
    finally:
        terminal.close()
