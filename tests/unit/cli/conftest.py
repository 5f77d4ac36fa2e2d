"""The command line run in this process, with a home of its own and every refusal held to one form."""

from __future__ import annotations

import io
import re
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from centwise.cli.main import run

if TYPE_CHECKING:
    from pathlib import Path


@dataclass
class CommandLine:
    """Runs `centwise` with arguments and lines to read, and holds what it wrote."""

    capsys: pytest.CaptureFixture[str]
    monkeypatch: pytest.MonkeyPatch
    out: str = ""
    err: str = ""

    def __call__(self, *arguments: str, lines: str = "") -> int:
        self.monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
        code = run(list(arguments))
        self.out, self.err = self.capsys.readouterr()
        return code

    def refuses(self, *arguments: str, code: int, words: str, lines: str = "") -> None:
        """Hold a refusal to its form: nothing on stdout, one sentence on stderr that has these words, this code."""
        assert self(*arguments, lines=lines) == code, self.err
        assert self.out == ""
        assert re.fullmatch(r"centwise: [^\n]+[^.\n]\.\n", self.err), self.err
        assert "Traceback" not in self.err
        assert re.search(words, self.err), self.err


@pytest.fixture
def centwise(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> CommandLine:
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    monkeypatch.setenv("CENTWISE_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("CENTWISE_CONFIG", raising=False)
    return CommandLine(capsys, monkeypatch)
