"""Every module says what it is for and keeps small; every package and top module says truly what it may import."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest

import centwise

ROOT = Path(centwise.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))
MOST_LINES = 400
SAYS = re.compile(r"\b[Ii]mports? (?:(?P<top>[a-z_]+) and below|nothing of centwise|anything below)")
UNITS = sorted(path for path in ROOT.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists())
UNITS = [path for path in UNITS if path.name not in {"__init__.py", "__main__.py"}]


def places() -> dict[str, int]:
    """Return how deep each unit lies, by the layers that import-linter holds."""
    settings = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    (layers,) = (one["layers"] for one in settings["tool"]["importlinter"]["contracts"] if one["type"] == "layers")
    return {
        name.strip().removeprefix("centwise."): place for place, layer in enumerate(layers) for name in layer.split("|")
    }


def imported(path: Path) -> set[str]:
    """Return what of the package is imported in a module, late or for its types too."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module is not None:
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return {name.split(".")[1] for name in found if name.startswith("centwise.")}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_module_says_what_it_is_for_and_keeps_small(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    said = ast.get_docstring(ast.parse(text)) or ""
    assert re.match(r".{20,}?[.:]( |\n|$)", said.replace("\n", " ")), "its docstring begins with a whole sentence"
    assert text.count("\n") <= MOST_LINES


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.stem)
def test_what_is_said_of_imports_is_true(path: Path) -> None:
    files = [path] if path.suffix else sorted(path.rglob("*.py"))
    said = ast.get_docstring(ast.parse((path if path.suffix else path / "__init__.py").read_text(encoding="utf-8")))
    found = SAYS.search(" ".join((said or "").split()))
    assert found, "it says what it may import: `Imports NAME and below`, a layer's name"
    deep = places()
    others = set().union(*map(imported, files)) & deep.keys() - {path.stem}
    if "nothing" in found[0]:
        assert others == set()
    elif found["top"] is not None:
        assert deep[found["top"]] > deep[path.stem]
        assert min(map(deep.__getitem__, others), default=99) >= deep[found["top"]]
