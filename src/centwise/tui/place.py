"""What every screen of the app shares: its acts as keys, its help, and the app's desk."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, cast

from textual.screen import Screen

if TYPE_CHECKING:
    from centwise.errors import CentwiseError
    from centwise.tui.acts import Act
    from centwise.tui.app import CentwiseApp
    from centwise.tui.desk import Desk


class Place(Screen[None]):
    """A screen with acts.

    Class attributes:
        ACTS: what can be done here.
        ABOUT: what this place is for, in one or two sentences, shown on its help page.
    """

    # Nothing is focused by itself: enter belongs to the place, not to whichever button comes first.
    AUTO_FOCUS = ""
    ACTS: ClassVar[tuple[Act, ...]] = ()
    ABOUT: ClassVar[str] = ""

    @property
    def desk(self) -> Desk:
        """The app's desk."""
        return cast("CentwiseApp", self.app).desk

    def action_help(self) -> None:
        """Show what can be done here."""
        from centwise.tui.help_screen import HelpScreen  # noqa: PLC0415  start-up path

        self.app.push_screen(HelpScreen(self.ABOUT, self.ACTS))


def sentence(error: CentwiseError) -> str:
    """Return an error as a sentence of its own."""
    text = str(error)
    return text[:1].upper() + text[1:]
