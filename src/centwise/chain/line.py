"""What a check of one part says: passed, failed, or not checked and why. Loads no numpy. Imports errors and below."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from centwise.errors import CentwiseError

Status = Literal["passed", "failed", "not checked"]
STATUSES: tuple[Status, ...] = ("passed", "failed", "not checked")

Part = Literal["tones", "players", "device", "ears", "loop", "store", "estimate"]
PARTS: tuple[Part, ...] = ("tones", "players", "device", "ears", "loop", "store", "estimate")


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One line of the check.

    Attributes:
        part: which part of the chain it belongs to.
        title: what was checked, a few words.
        status: passed, failed or not checked.
        finding: what was found, or why it was not checked: a phrase without a full stop at its end.
        to_do: what to do about it, a phrase without a full stop; empty where there is nothing to do.
        figures: what was measured, as plain data; only what was measured.
    """

    part: Part
    title: str
    status: Status
    finding: str
    to_do: str = ""
    figures: Mapping[str, Any] = field(default_factory=dict)

    @property
    def sentence(self) -> str:
        """The line as it is told: title, status, finding, what to do."""
        return f"{self.title}: {self.status}. {self.told}"

    @property
    def told(self) -> str:
        """Finding and what to do, in whole sentences."""
        to_do = f" {_capital(self.to_do)}." if self.to_do else ""
        return f"{_capital(self.finding)}.{to_do}"


def not_checked(part: Part, title: str, why: str, to_do: str = "") -> CheckLine:
    """Return the line of a part that could not be looked at."""
    return CheckLine(part, title, "not checked", why, to_do)


def by_error(part: Part, title: str, status: Status, error: CentwiseError) -> CheckLine:
    """Return the line of a part whose check ended in an error told in one sentence."""
    return CheckLine(part, title, status, error.what, error.to_do)


def any_failed(lines: tuple[CheckLine, ...]) -> bool:
    """Whether one line failed; what was not checked did not."""
    return any(line.status == "failed" for line in lines)


def _capital(phrase: str) -> str:
    """Return a phrase with a capital, unless it begins with a name to be typed as it stands: a command or a path."""
    first = phrase.split(" ", 1)[0]
    named = first in {"centwise", "pip"} or any(mark in first[:-1] for mark in "/\\.")
    return phrase if named else f"{phrase[:1].upper()}{phrase[1:]}"
