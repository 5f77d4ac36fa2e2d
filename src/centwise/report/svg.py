"""A drawing as SVG that stands inside a page: its colours the page's own, its ids its own, the same bytes each time.

matplotlib is loaded here and in `figures` alone.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK, SOFT, RULE, PAPER = "#1d2125", "#5a6068", "#c9ced4", "#fefefe"
ONE, TWO, GOOD = "#0072b2", "#d55e00", "#00603c"
"""What figures are drawn with; each becomes the page's variable of that name, which has a light and a dark value.
ONE and TWO stay apart in every kind of colour blindness (M. Okabe and K. Ito 2008)."""

_VARIABLES = {INK: "ink", SOFT: "soft", RULE: "rule", PAPER: "paper", ONE: "one", TWO: "two", GOOD: "good"}
_STYLE = {
    "svg.fonttype": "path",
    "font.family": ["DejaVu Sans"],  # comes with matplotlib: the same everywhere
    "font.size": 9.0,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.facecolor": "none",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "figure.facecolor": "none",
    "savefig.facecolor": "none",
    "legend.frameon": False,
    "legend.fontsize": 8.0,
    "timezone": "UTC",
}


def new_figure(height_in: float = 3.0) -> Figure:
    """Return an empty figure of the width that suits a page and a telephone."""
    from matplotlib.figure import Figure  # noqa: PLC0415  loaded when a page is made

    return Figure(figsize=(4.8, height_in), layout="constrained")


def style() -> dict[Any, Any]:
    """Return the settings of matplotlib that figures are made under, for `matplotlib.rc_context`."""
    return dict(_STYLE)


def inline_svg(figure: Figure, name: str, alt: str) -> str:
    """Return a figure as one `<svg>` element with its text alternative.

    Args:
        figure: what is drawn, in the colours above.
        name: letters, digits and -; unlike any other figure's on the page, its ids begin with it.
        alt: what it shows, in words, escaped here.
    """
    import matplotlib as mpl  # noqa: PLC0415  loaded when a page is made

    buffer = io.StringIO()
    # Ids are hashes of what is drawn, and no date goes in: the same figure is the same text.
    with mpl.rc_context({"svg.hashsalt": name, "svg.fonttype": "path"}):
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>\s*", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'(href="#|url\(#)', rf"\g<1>{name}-", text)
    for colour, variable in _VARIABLES.items():
        text = text.replace(colour, f"var(--{variable})")
    return re.sub(r"<svg\b([^>]*)>", rf'<svg role="img" aria-label="{_attribute(alt)}"\1>', text, count=1).strip()


def _attribute(text: str) -> str:
    for character, entity in (("&", "&amp;"), ('"', "&quot;"), ("<", "&lt;"), (">", "&gt;"), ("\\", "&#92;")):
        text = text.replace(character, entity)
    return text
