"""The class: every listener in a row, sorted as one likes, found by typing. Imports Textual, tui and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Footer, Input, Static

from centwise.class_view import SortKey, class_rows, sorted_rows
from centwise.errors import CentwiseError
from centwise.tui.acts import CLASS, bindings
from centwise.tui.class_table import ClassHead, ClassTable
from centwise.tui.finding import found
from centwise.tui.place import Place
from centwise.tui.plain_input import PlainInput

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.ports import ClassRow

FAR = 1_000_000
"""So many pages lie beyond any class."""
NOBODY = "Nobody has been listening yet. Go back, type a name and take a first block; then it stands here."
NOTHING_FOUND = "No name holds that. Type less, or press esc to see everybody."


class ClassScreen(Place):
    """Everybody at a glance."""

    ACTS = CLASS
    ABOUT = (
        "Each listener's threshold on the string heard last, how it has moved, and when they practised. "
        "A click on a head sorts by it, a second one turns the order round."
    )
    # Keys that not every keyboard has do what others do too.
    BINDINGS: ClassVar[list[BindingType]] = [
        *bindings(CLASS),
        Binding("pageup", "page(-1)", show=False),
        Binding("pagedown", "page(1)", show=False),
        Binding("home", f"page({-FAR})", show=False),
        Binding("end", f"page({FAR})", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[ClassRow, ...] = ()
        self._sort: SortKey = "name"
        self._reverse = False

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(id="class"):
            yield Static("The class", classes="title", id="class-title", markup=False)
            find = PlainInput(placeholder="part of a name", max_length=200, id="find", compact=True)
            find.display = False
            yield find
            yield ClassHead()
            yield ClassTable()
            yield Static("Looking ...", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """Read the class."""
        self._read()

    def on_screen_resume(self) -> None:
        """Read the class afresh: somebody may have been changed, or gone."""
        # The first time the widgets may not stand yet; then `on_mount` reads.
        if self._rows:
            self._read()

    @work(exclusive=True)
    async def _read(self) -> None:
        store = self.desk.services.store
        try:
            self._rows = await self.in_turn(lambda: class_rows(store))
        except CentwiseError as error:
            self.say(error.sentence)
            return
        self._show()

    @on(Input.Changed)
    def _narrow(self) -> None:
        self._show()

    @on(Input.Submitted)
    def _found(self) -> None:
        self.set_focus(None)
        self.action_open()

    @on(ClassHead.Wanted)
    def _head_clicked(self, event: ClassHead.Wanted) -> None:
        self.action_sort(event.key)

    @on(ClassTable.Opened)
    def _row_clicked(self) -> None:
        self.action_open()

    def action_mark(self, steps: int) -> None:
        """Move the mark."""
        self.query_one(ClassTable).mark(steps)

    def action_page(self, pages: int) -> None:
        """Move the mark by pages."""
        table = self.query_one(ClassTable)
        table.mark(pages * max(table.scrollable_content_region.height - 1, 1))

    def action_sort(self, key: SortKey) -> None:
        """Sort by a column; by the same one again, the other way round."""
        self._reverse = key == self._sort and not self._reverse
        self._sort = key
        self._show(from_the_top=True)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave the keys of finding to the field while somebody types in it."""
        if action == "find" and isinstance(self.focused, Input):
            return False
        return super().check_action(action, parameters)

    def action_find(self) -> None:
        """Ask for a part of the name."""
        find = self.query_one(Input)
        find.display = True
        self.call_act("go_back", "Everybody")
        # Not `find.focus()`, which comes a turn later: the letters typed meanwhile would be lost.
        self.set_focus(find)

    def action_open(self) -> None:
        """Show the progress of the listener marked."""
        from centwise.tui.progress_screen import ProgressScreen  # noqa: PLC0415  loads the drawing of charts

        row = self.query_one(ClassTable).marked
        if row is not None:
            self.app.push_screen(ProgressScreen(row.listener))

    def action_edit(self) -> None:
        """Change the listener marked."""
        from centwise.tui.edit_screen import EditScreen  # noqa: PLC0415  start-up path

        row = self.query_one(ClassTable).marked
        if row is not None:
            self.app.push_screen(EditScreen(row.listener))

    def action_go_back(self) -> None:
        """Show everybody again, or go back."""
        find = self.query_one(Input)
        if find.display:
            self.set_focus(None)
            find.display = False
            find.value = ""
            self.call_act("go_back", "Back")
            self._show()
        else:
            self.app.pop_screen()

    def _show(self, *, from_the_top: bool = False) -> None:
        typed = self.query_one(Input).value
        by_id = {row.listener.id: row for row in self._rows}
        rows = sorted_rows(
            [by_id[listener.id] for listener in found([row.listener for row in self._rows], typed)],
            self._sort,
            reverse=self._reverse,
        )
        table = self.query_one(ClassTable)
        marked = table.marked
        table.show(rows, None if marked is None or from_the_top else marked.listener.id)
        self.query_one(ClassHead).show(self._sort, reverse=self._reverse)
        count = f"{len(rows):,}" if len(rows) == len(self._rows) else f"{len(rows):,} of {len(self._rows):,}"
        self.query_one("#class-title", Static).update(f"The class: {count} listener{'' if count == '1' else 's'}")
        self.say("" if rows else NOTHING_FOUND if self._rows else NOBODY)
