"""The class as a table that draws only the lines one sees: a thousand rows cost no more than twenty.

Imports Textual, tui and below.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.cells import cell_len, set_cell_size
from rich.segment import Segment
from textual.content import Content
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from centwise.progress_text import short_day, trend_text
from centwise.trend import trend_word
from centwise.tui.place import plain_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.events import Click, Resize

    from centwise.class_view import SortKey
    from centwise.ports import ClassRow

GAP = 2
MOST_NAME = 40


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, width, and what a listener has in it; the lowest ranks stay where room is short."""

    head: str
    width: int
    cell: Callable[[ClassRow], str]
    rank: int
    sort: SortKey | None = None
    right: bool = False


def _cents(value: float | None) -> str:
    return "none yet" if value is None else f"{value:.1f}"


def _band(row: ClassRow) -> str:
    return "" if row.low_cents is None or row.high_cents is None else f"{row.low_cents:.1f}-{row.high_cents:.1f}"


def _trend(row: ClassRow) -> str:
    return "" if row.threshold_cents is None else trend_text(trend_word(row.improvement_chance))


COLUMNS = (
    Column("String", 6, lambda row: "" if row.string is None else str(row.string), 1, right=True),
    Column("Cents", 8, lambda row: _cents(row.threshold_cents), 0, "threshold", right=True),
    Column("90 % band", 11, _band, 2),
    Column("Trend", 18, _trend, 0, "trend"),
    Column("Last seen", 11, lambda row: short_day(row.last_seen), 0, "seen"),
    Column("Min", 6, lambda row: f"{round(row.practised_s / 60.0):,}", 1, "minutes", right=True),
    Column("Blocks", 7, lambda row: f"{row.blocks:,}", 2, "blocks", right=True),
)


def columns_for(width: int) -> tuple[tuple[Column, ...], int]:
    """Return the columns that have room in a width, and how wide the names may be."""
    rank = 2 if width >= 100 else 1 if width >= 74 else 0
    kept = tuple(column for column in COLUMNS if column.rank <= rank)
    name = width - sum(GAP + column.width for column in kept)
    return kept, max(min(name, MOST_NAME), 8)


def line_of(row: ClassRow | None, width: int, marks: Callable[[Column | None], str] = lambda _column: "") -> str:
    """Return one line of the table, or its head for None; `marks` stands behind a head."""
    columns, name_width = columns_for(width)
    name = f"Listener{marks(None)}" if row is None else _cut(plain_text(row.listener.name), name_width)
    parts = [set_cell_size(name, name_width)]
    for column in columns:
        text = f"{column.head}{marks(column)}" if row is None else column.cell(row)
        text = text.rjust(column.width) if column.right else text
        parts.append(set_cell_size(text, column.width))
    return (" " * GAP).join(parts)


def _cut(text: str, width: int) -> str:
    return text if cell_len(text) <= width else f"{set_cell_size(text, width - 1).rstrip()}…"


class ClassHead(Widget):
    """The table's head; a click on a column sorts by it."""

    class Wanted(Message):
        """Sort by this."""

        def __init__(self, key: SortKey) -> None:
            super().__init__()
            self.key = key

    def __init__(self) -> None:
        super().__init__(id="class-head")
        self._sort: SortKey = "name"
        self._reverse = False

    def show(self, sort: SortKey, *, reverse: bool) -> None:
        """Mark the column sorted by."""
        self._sort, self._reverse = sort, reverse
        self.refresh()

    def render(self) -> Content:
        """Draw the head."""

        def mark(column: Column | None) -> str:
            key = "name" if column is None else column.sort
            return (" ▲" if self._reverse else " ▼") if key == self._sort else ""

        return Content(line_of(None, self.content_size.width, mark))

    def on_click(self, event: Click) -> None:
        """Find the column clicked."""
        columns, at = columns_for(self.content_size.width)
        if event.x < at + GAP:
            self.post_message(self.Wanted("name"))
            return
        for column in columns:
            at += GAP + column.width
            if event.x < at:
                if column.sort is not None:
                    self.post_message(self.Wanted(column.sort))
                return


class ClassTable(ScrollView, can_focus=False):
    """The rows."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"class-table--marked"}

    class Opened(Message):
        """A row was clicked."""

    def __init__(self) -> None:
        super().__init__(id="class-table")
        self._rows: Sequence[ClassRow] = ()
        self._marked = 0

    @property
    def marked(self) -> ClassRow | None:
        """The listener marked."""
        return self._rows[self._marked] if self._rows else None

    def show(self, rows: Sequence[ClassRow], marked: str | None = None) -> None:
        """Show these rows, the mark on the listener of that id, or else on the first."""
        self._rows = rows
        self._marked = next((k for k, row in enumerate(rows) if row.listener.id == marked), 0)
        self._measure()
        self._bring_into_view()
        self.refresh()

    def mark(self, steps: int) -> None:
        """Move the mark."""
        if self._rows:
            self._marked = min(max(self._marked + steps, 0), len(self._rows) - 1)
            self._bring_into_view()
            self.refresh()

    def on_resize(self, _event: Resize) -> None:
        """Fit the lines to the width."""
        self._measure()
        self._bring_into_view()

    def on_click(self, event: Click) -> None:
        """Mark the row clicked, and open it."""
        place = self.scroll_offset.y + event.y
        if 0 <= place < len(self._rows):
            self._marked = place
            self.refresh()
            self.post_message(self.Opened())

    def render_line(self, y: int) -> Strip:
        """Draw one line."""
        width = self.scrollable_content_region.width
        place = self.scroll_offset.y + y
        if place >= len(self._rows):
            return Strip.blank(width, self.rich_style)
        marked = place == self._marked
        style = self.get_component_rich_style("class-table--marked") if marked else self.rich_style
        # The mark is a sign too, not a colour alone.
        text = f"{'▶' if marked else ' '} {line_of(self._rows[place], width - 2)}"
        return Strip([Segment(set_cell_size(text, width), style)], width)

    def _measure(self) -> None:
        self.virtual_size = Size(self.scrollable_content_region.width, len(self._rows))

    def _bring_into_view(self) -> None:
        height, top = self.scrollable_content_region.height, self.scroll_offset.y
        if height <= 0:
            return
        if self._marked < top:
            self.scroll_to(y=self._marked, animate=False, force=True)
        elif self._marked >= top + height:
            self.scroll_to(y=self._marked - height + 1, animate=False, force=True)
