"""Shell completion, as click's scripts ask for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from conftest import CommandLine


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_its_script(centwise: CommandLine, shell: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.which", lambda *_arguments: None)  # click would run bash to learn its version
    monkeypatch.setenv("_CENTWISE_COMPLETE", f"{shell}_source")
    assert centwise() == 0
    assert "_CENTWISE_COMPLETE" in centwise.out


@pytest.mark.parametrize(
    ("words", "position", "found"),
    [
        ("centwise dr", "1", "drill"),
        ("centwise drill --as", "2", "--assess"),
        ("centwise render --kind ha", "3", "harmonic"),
    ],
)
def test_commands_options_and_choices_are_completed(
    centwise: CommandLine, words: str, position: str, found: str
) -> None:
    for name, value in (("_CENTWISE_COMPLETE", "bash_complete"), ("COMP_WORDS", words), ("COMP_CWORD", position)):
        centwise.monkeypatch.setenv(name, value)
    assert centwise() == 0
    assert centwise.out == f"plain,{found}\n"
