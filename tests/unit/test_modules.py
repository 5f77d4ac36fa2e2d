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
SAYS = re.compile(
    r"\b[Ii]mports? (?:[A-Za-z0-9]+(?:,| and) )*"
    r"(?:(?P<top>[a-z_]+) and below|nothing of centwise|nothing outside its package|anything below)"
)
UNITS = sorted(path for path in ROOT.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists())
UNITS = [path for path in UNITS if path.name not in {"__init__.py", "__main__.py"}]
PACKAGES = (
    *("audio", "bench", "chain", "cli", "drill", "ear", "exchange", "lessons", "pitch", "report", "settings", "store"),
    *("strings", "takes", "tones"),
)
PARTS = [path for name in PACKAGES for path in sorted((ROOT / name).rglob("*.py")) if path.name != "__init__.py"]


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
    found = said_of_imports(path if path.suffix else path / "__init__.py")
    assert found, "it says what it may import: `Imports NAME and below`, a layer's name"
    held_to(found, path.stem, set().union(*map(imported, files)))


@pytest.mark.parametrize("path", PARTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_what_a_part_of_a_package_says_of_imports_is_true(path: Path) -> None:
    found = said_of_imports(path)
    assert found, "it says what it may import: `Imports NAME and below`, or that it imports nothing of centwise"
    held_to(found, path.relative_to(ROOT).parts[0], imported(path))


def said_of_imports(path: Path) -> re.Match[str] | None:
    """Return what a module's docstring says of its imports."""
    said = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    return SAYS.search(" ".join((said or "").split()))


def held_to(found: re.Match[str], unit: str, modules: set[str]) -> None:
    """Hold what is said of imports against those there are; a part of a package may import its fellows."""
    deep = places()
    others = modules & deep.keys() - {unit}
    if "nothing" in found[0]:
        assert others == set()
        assert "of centwise" not in found[0] or unit not in modules
    elif found["top"] is not None:
        assert deep[found["top"]] > deep[unit]
        assert min(map(deep.__getitem__, others), default=99) >= deep[found["top"]]
