"""The documentation's pictures and keys are those of the present app, and its links lead somewhere."""

from __future__ import annotations

import html
import importlib.util
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import pytest

if TYPE_CHECKING:
    from types import ModuleType

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"


def script(name: str) -> ModuleType:
    """Return a script of docs as a module, without leaving its folder on the path."""
    spec = importlib.util.spec_from_file_location(f"docs_{name}", DOCS / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    before = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = before
    return module


PICTURES = script("pictures")


def words_of(svg: str) -> str:
    """Return the text of a picture, each line's pieces together."""
    root = ET.fromstring(svg)
    pieces = [(float(e.get("y", 0)), float(e.get("x", 0)), "".join(e.itertext())) for e in root.iter() if _is_text(e)]
    return " ".join(" ".join(text for _y, _x, text in sorted(pieces)).replace("\xa0", " ").split())


def _is_text(element: Any) -> bool:
    return str(element.tag).rpartition("}")[2] == "text"


@pytest.mark.usefixtures("slow_feedback")
@pytest.mark.parametrize("name", PICTURES.PICTURES)
async def test_a_picture_says_what_the_present_app_says(name: str) -> None:
    kept = words_of((DOCS / "pictures" / f"{name}.svg").read_text(encoding="utf-8"))
    assert words_of(await PICTURES.picture(name)) == kept, f"run python docs/pictures.py {name}"


def test_the_beginners_page_quotes_the_picture_above_it() -> None:
    page = (DOCS / "beginner.md").read_text(encoding="utf-8")
    found = re.search(r"\*(You tell flat from sharp three times in four at [^*]+)\* means", page)
    assert found is not None
    quoted = " ".join(found[1].split())
    picture = words_of((DOCS / "pictures" / "result.svg").read_text(encoding="utf-8"))
    assert quoted in picture.replace(" │ ", " ")


@pytest.mark.parametrize("name", PICTURES.NAMES)
def test_a_picture_asks_nothing_of_a_network(name: str) -> None:
    text = (DOCS / "pictures" / f"{name}.svg").read_text(encoding="utf-8")
    ET.fromstring(text)
    addresses = {address for address in re.findall(r"https?://[^\s\"')<]+", text) if "www.w3.org" not in address}
    # Textual names itself in a comment.
    assert {address for address in addresses if "textualize" not in address} == set()
    assert "@font-face" not in text


def test_no_picture_is_kept_that_nothing_makes_or_shows() -> None:
    kept = {path.stem for path in (DOCS / "pictures").glob("*")}
    assert kept == set(PICTURES.NAMES)
    pages = "".join(path.read_text(encoding="utf-8") for path in DOCS.glob("*.md"))
    for name in kept:
        assert f"](pictures/{name}.svg)" in pages


def test_the_page_of_keys_is_the_apps() -> None:
    keys = script("keys")
    assert keys.PAGE.read_text(encoding="utf-8") == keys.page(), "run python docs/keys.py"


@pytest.mark.parametrize("page", [*sorted(DOCS.glob("*.md")), ROOT / "README.md", ROOT / "DEVELOPERS.md"], ids=str)
def test_links_lead_somewhere_and_pictures_have_words(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    for picture, words, target in re.findall(r"(!?)\[([^\]]*)\]\(([^)\s]+)\)", text):
        if not target.startswith(("http:", "https:", "#")):
            assert (page.parent / html.unescape(target).partition("#")[0]).exists(), target
        assert len(words) > (30 if picture else 0), target
