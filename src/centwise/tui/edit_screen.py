"""One listener's own data: name, scale length, instrument, note; and the ways to join or remove them.

Imports Textual, tui and below.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Button, Footer, Input, Label, Static

from centwise.model import MAX_NAME_LENGTH, MAX_NOTE_LENGTH
from centwise.planning import scale_for
from centwise.progress_text import holdings_text
from centwise.strings.geometry import check_scale_mm
from centwise.tui.acts import EDIT, bindings
from centwise.tui.place import Place, shown_name
from centwise.tui.plain_input import PlainInput
from centwise.tui.question_screen import QuestionScreen
from centwise.units import MM_PER_INCH, parse_length_mm

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.model import Listener
    from centwise.ports import Holdings

FIELDS = ("name", "scale", "instrument", "note")
LABELS = {"name": "Name", "scale": "Scale length", "instrument": "Instrument", "note": "Note"}
LENGTHS = {"name": MAX_NAME_LENGTH, "scale": 40, "instrument": 100, "note": MAX_NOTE_LENGTH}


class EditScreen(Place):
    """Change a listener."""

    ACTS = EDIT
    ABOUT = (
        "Blocks already taken keep the scale length they were taken with. Tab goes from line to line. "
        "Who is removed or merged is copied first, into the folder copies beside the store."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(EDIT)]

    def __init__(self, listener: Listener) -> None:
        super().__init__()
        self._listener = listener
        self._values = {
            "name": listener.name,
            "scale": f"{listener.scale_mm / MM_PER_INCH:.6g}in",
            "instrument": listener.instrument,
            "note": " ".join(listener.note.split()),
        }

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with VerticalScroll(classes="page", id="edit"):
            yield Static(shown_name(self._listener.name), classes="title", markup=False)
            for field in FIELDS:
                with Horizontal(classes="field"):
                    yield Label(LABELS[field], markup=False)
                    # Not selected as a whole: the first letter typed must not take a name's place.
                    yield PlainInput(
                        self._values[field], id=field, max_length=LENGTHS[field], compact=True, select_on_focus=False
                    )
            with Horizontal(classes="row", id="edit-acts"):
                yield Button(self.told("«save» save"), id="save", variant="primary", compact=True)
                yield Button(self.told("«merge» merge"), id="merge", compact=True)
                yield Button(self.told("«remove» remove"), id="remove", compact=True)
                yield Button(self.told("«back» back"), id="go_back", compact=True)
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """Put the cursor into the first line."""
        # Not its own `focus`, which comes a turn later.
        self.set_focus(self.query_one("#name", Input))

    @on(Input.Submitted)
    def _submitted(self) -> None:
        self.action_save()

    @on(Button.Pressed)
    def _pressed(self, event: Button.Pressed) -> None:
        getattr(self, f"action_{event.button.id}")()

    def action_save(self) -> None:
        """Keep the changes and go back."""
        store = self.desk.services.store
        with self.telling():
            changed = self._changed()
            if changed != self._listener:
                store.change_listener(changed, was=self._listener)
                self.desk.listener_changed(store.listener_with_id(changed.id) or changed)
            self.app.pop_screen()

    def action_remove(self) -> None:
        """Ask whether to remove the listener."""
        listener = self._listener
        with self.telling():
            holdings = self.desk.services.store.holdings(listener.id)
            question = QuestionScreen(
                f"Remove {shown_name(listener.name)}?",
                f"{listener.name} goes, with {holdings_text(holdings)}. A copy is kept beside the store, unless you "
                "choose for good.",
                yes="remove",
                final="remove for good",
            )
            self.app.push_screen(question, partial(self._answered, holdings))

    def _answered(self, told: Holdings, answer: str | None) -> None:
        if answer in {"yes", "final"}:
            self._remove(told, keep_copy=answer == "yes")

    @work
    async def _remove(self, told: Holdings, *, keep_copy: bool) -> None:
        store, listener = self.desk.services.store, self._listener
        with self.telling():
            await self.in_turn(partial(store.remove_listener, listener.id, keep_copy=keep_copy, told=told))
            self.desk.listener_gone(listener)
            # Somebody may be reading help meanwhile.
            self.in_front(self.app.pop_screen)

    def action_merge(self) -> None:
        """Choose whom to join."""
        from centwise.tui.merge_screen import MergeScreen  # noqa: PLC0415  start-up path

        self.app.push_screen(MergeScreen(self._listener), self._merged)

    def _merged(self, done: bool | None) -> None:
        if done:
            self.desk.listener_gone(self._listener)
            self.app.pop_screen()

    def action_go_back(self) -> None:
        """Go back and change nothing."""
        self.app.pop_screen()

    def _changed(self) -> Listener:
        values = {field: self.query_one(f"#{field}", Input).value for field in FIELDS}
        scale_mm = check_scale_mm(parse_length_mm(values["scale"]))
        listener = self._listener
        # What was shown in short is left as it was unless it was changed.
        same_scale, same_note = (values[field] == self._values[field] for field in ("scale", "note"))
        instrument = values["instrument"].strip()
        if instrument != listener.instrument:
            services = self.desk.services
            # Another instrument has another length, unless one was written.
            blocks = services.store.summaries(listener.id)
            usual_mm = scale_for(services.instruments.named(instrument), listener, blocks, services.instruments)
            scale_mm = usual_mm if same_scale else scale_mm
        elif same_scale:
            scale_mm = listener.scale_mm
        return replace(
            listener,
            name=values["name"].strip(),
            scale_mm=scale_mm,
            instrument=instrument,
            note=listener.note if same_note else values["note"],
        )
