"""A drawing as SVG that stands inside a page: its colours the page's own, its ids its own, the same bytes each time.

Imports nothing of centwise, and matplotlib, which is loaded here and in `figures` alone, when a picture is made.
"""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, SOFT, RULE, PAPER = "#1d2125", "#5a6068", "#c9ced4", "#fefefe"
ONE, TWO, GOOD = "#0072b2", "#d55e00", "#00603c"
"""What figures are drawn with; each becomes the page's variable of that name, which has a light and a dark value.
ONE and TWO stay apart in every kind of colour blindness (M. Okabe and K. Ito 2008)."""

WIDTH_IN, DRAWING_IN = 3.5, 1.75
"""Width of a figure, and the height of what is drawn in it. Letters are 1/28 of the width, wherever it is shown."""
LEFT_IN, RIGHT_IN, BELOW_IN, ROW_IN = 0.5, 0.12, 0.44, 0.17
"""Room for the numbers at the left, for half of the last one at the right, for two rows below and for each above."""

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
    "legend.fontsize": 9.0,
    "legend.borderpad": 0.1,
    "legend.borderaxespad": 0.1,
    "legend.handlelength": 1.6,
    "legend.handletextpad": 0.4,
    "legend.columnspacing": 1.2,
    "legend.labelspacing": 0.3,
    "timezone": "UTC",
}


def new_figure(**options: Any) -> Figure:  # noqa: ANN401  matplotlib's own
    """Return an empty figure of matplotlib's, with these options of its own."""
    from matplotlib.figure import Figure  # noqa: PLC0415  loaded when a picture is made

    return Figure(**options)


def new_axes(told: str, below: str = "", legend_rows: int = 1) -> tuple[Figure, Axes]:
    """Return a figure with one empty drawing in it, as wide as a telephone shows letters of 12 pixels.

    Its places are fixed: a layout worked out from the letters would draw everything twice.

    Args:
        told: what the height means; it stands over the drawing, where it need not be read sideways.
        below: what the width means, nothing for days.
        legend_rows: so many rows of the legend have room above.
    """
    above_in = ROW_IN * (legend_rows + 1) + 0.14
    height_in = above_in + DRAWING_IN + BELOW_IN
    figure = new_figure(figsize=(WIDTH_IN, height_in))
    figure.subplots_adjust(
        left=LEFT_IN / WIDTH_IN,
        right=1.0 - RIGHT_IN / WIDTH_IN,
        bottom=BELOW_IN / height_in,
        top=1 - above_in / height_in,
    )
    axes = figure.add_subplot()
    for axis in (axes.xaxis, axes.yaxis):
        # They stay empty; told their place, they look for none.
        axis.set_label_coords(0.0, 0.0)
    figure.text(0.01, 1.0 - (above_in - 0.07) / height_in, told, va="bottom")
    if below:
        figure.text((LEFT_IN + WIDTH_IN - RIGHT_IN) / 2.0 / WIDTH_IN, 0.0, below, ha="center", va="bottom")
    return figure, axes


def add_legend(figure: Figure, columns: int) -> None:
    """Say above the drawing what the marks and lines are."""
    figure.legend(loc="upper left", bbox_to_anchor=(0.0, 1.0), ncols=columns)


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
