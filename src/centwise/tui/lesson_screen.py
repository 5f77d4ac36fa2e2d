"""The lessons there are: take one, or leave the one taken. Imports Textual, tui and below."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Vertical
from textual.widgets import Footer, OptionList, Static

from centwise.errors import CentwiseError
from centwise.lessons.finding import lessons_found
from centwise.lessons.lesson import local_day, standpoint
from centwise.lessons.telling import days_sentence
from centwise.tui.acts import LESSONS, bindings
from centwise.tui.marked_list import MarkedList
from centwise.tui.place import Place, plain_text, shown_name

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from centwise.lessons.lesson import Lesson

TITLE_WIDTH = 50
FREE = "no lesson: choose each block yourself"


class LessonScreen(Place):
    """Choose a lesson. What the marked one is about stands beneath the list."""

    ACTS = LESSONS
    ABOUT = (
        "A lesson says what each block is: strings, pairs, drill or assessment, until its targets are reached. "
        "Three ship with centwise; a teacher's own are files in the folder lessons beside the settings."
    )
    BINDINGS: ClassVar[list[BindingType]] = [*bindings(LESSONS)]

    def __init__(self) -> None:
        super().__init__()
        self._lessons: tuple[Lesson | None, ...] = (None,)

    def compose(self) -> ComposeResult:
        """Lay out the screen."""
        with Vertical(classes="page"):
            yield Static("Which lesson?", classes="title", markup=False)
            yield MarkedList(id="known")
            yield Static("", id="about-lesson", markup=False)
            yield Static("", id="said", markup=False)
        yield Footer()

    def on_mount(self) -> None:
        """List what is found, one's own first, and mark the lesson taken."""
        found = lessons_found(self.desk.settings.lessons_dir, self.desk.services.instruments)
        self._lessons = (*found.lessons, None)
        taken = self.desk.lesson
        self.query_one(MarkedList).show(
            [
                f"{'● ' if lesson == taken else '  '}"
                f"{FREE if lesson is None else shown_name(lesson.title, TITLE_WIDTH)}"
                for lesson in self._lessons
            ],
            mark=self._lessons.index(taken) if taken is not None and taken in self._lessons else 0,
        )
        self.say(" ".join(trouble.sentence for trouble in found.troubles))

    @on(OptionList.OptionHighlighted)
    def _describe(self, event: OptionList.OptionHighlighted) -> None:
        lesson = self._lessons[event.option_index]
        if lesson is None:
            told = "You choose string, pairs and kind of each block."
        else:
            told = f"{lesson.about} {days_sentence(lesson, local_day(self.desk.services.clock.now()))}"
            told = f"{told.strip()} {self._steps(lesson)}".strip()
        self.query_one("#about-lesson", Static).update(plain_text(told))

    def _steps(self, lesson: Lesson) -> str:
        """Say how far the listener is in it."""
        if self.desk.listener is None:
            return ""
        try:
            stand = standpoint(lesson, self.desk.services.store.summaries(self.desk.listener.id))
        except CentwiseError as error:
            return error.sentence
        return "You have done it." if stand.done else f"You are at step {stand.number} of {len(lesson.steps)}."

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self._take(event.option_index)

    def action_mark(self, steps: int) -> None:
        """Move the mark in the list."""
        self.query_one(MarkedList).move(steps)

    def action_take(self) -> None:
        """Take the lesson marked."""
        self._take(self.query_one(MarkedList).place)

    def action_go_back(self) -> None:
        """Go back and change nothing."""
        self.app.pop_screen()

    def _take(self, place: int) -> None:
        self.desk.take_lesson(self._lessons[place])
        self.app.pop_screen()
