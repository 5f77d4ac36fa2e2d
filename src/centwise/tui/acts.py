"""Every act of the app: its keys, its name and what it does. Footer, help and the bindings all read these tables.

Imports Textual's `Binding` and `key_names` only.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from textual.binding import Binding

from centwise.tui.key_names import key_name


@dataclass(frozen=True, slots=True)
class Act:
    """One thing a listener can do at one place.

    Attributes:
        id: the action's name on its screen.
        keys: its keys, the first one shown.
        label: one or two words for the footer.
        help: one sentence for the help page.
        shown: whether the footer names it.
        numbered: whether the keys are numbers, each of which the action is told: `string(4)` for the key 4.
        ahead: whether it is done before the next key is looked at: an act that opens a field to type in must be, or
            the first letters of a quick typist go past the field and are taken for other acts, answers even; and one
            that opens a page whose next key means something else here, or would be typed into a line here.
    """

    id: str
    keys: tuple[str, ...]
    label: str
    help: str
    shown: bool = True
    numbered: bool = False
    ahead: bool = False

    def bindings(self) -> tuple[Binding, ...]:
        """Return the act as key bindings of its screen: one, or one for each number."""
        keys = self.keys if self.numbered else (",".join(self.keys),)
        return tuple(
            Binding(key, action, self.label, show=self.shown, priority=self.ahead, id=action, tooltip=self.help)
            for key, action in ((key, self.action_of(key)) for key in keys)
        )

    @property
    def fixed(self) -> bool:
        """Whether its keys stay: the numbers that strings are called by."""
        return self.numbered or self.id == f"string({self.keys[0]})"

    def action_of(self, key: str) -> str:
        """Return what one of its keys does."""
        return f"{self.id}({key})" if self.numbered else self.id

    @property
    def name(self) -> str:
        """What it is called in the settings: its label in small letters, with hyphens."""
        return "-".join(re.findall(r"[a-z0-9]+", self.label.lower()))

    @property
    def keys_text(self) -> str:
        """The keys as they are spoken: `f or left`, `1 to 9`."""
        if self.numbered:
            return f"{self.keys[0]} to {self.keys[-1]}"
        return " or ".join(map(key_name, self.keys))


EVERYWHERE = (
    Act("help", ("question_mark", "f1"), "Help", "Show what can be done at this place."),
    Act("switch_theme", ("f2",), "Light/dark", "Change between the light and the dark colours.", shown=False),
)
LISTENERS = (
    Act("choose", ("enter",), "Choose", "Go on as the listener marked, or as a new one with the name typed."),
    Act("mark(-1)", ("up",), "Up", "Mark the listener above.", shown=False),
    Act("mark(1)", ("down",), "Down", "Mark the listener below.", shown=False),
    Act("class", ("f3",), "Class", "See everybody in rows: last threshold, trend, last seen.", ahead=True),
    Act(
        "edit",
        ("f4",),
        "Edit",
        "Change the listener marked: name, scale length, instrument, note; merge or remove.",
        ahead=True,
    ),
    Act("leave_app", ("escape",), "Quit", "Leave the app."),
)
CLASS = (
    Act("mark(-1)", ("up",), "Up", "Mark the listener above.", shown=False),
    Act("mark(1)", ("down",), "Down", "Mark the listener below.", shown=False),
    Act("page(-1)", ("left",), "Page up", "Go up by a page.", shown=False),
    Act("page(1)", ("right",), "Page down", "Go down by a page.", shown=False),
    Act("open", ("enter",), "Progress", "See the progress of the listener marked."),
    Act(
        "find",
        ("slash", "f"),
        "Find",
        "Find listeners by typing; enter opens the one marked, esc shows everybody.",
        ahead=True,
    ),
    Act("sort('name')", ("n",), "By name", "Sort by name; the same key again turns the order round.", shown=False),
    Act("sort('threshold')", ("t",), "By threshold", "Sort by threshold, the finest first.", shown=False),
    Act("sort('trend')", ("r",), "By trend", "Sort by trend, the best first.", shown=False),
    Act("sort('seen')", ("s",), "By last seen", "Sort by when they practised last.", shown=False),
    Act("sort('minutes')", ("m",), "By minutes", "Sort by minutes practised.", shown=False),
    Act("edit", ("e",), "Edit", "Change the listener marked, merge or remove them."),
    Act("go_back", ("q", "escape"), "Back", "Go back."),
)
PROGRESS = (
    Act("other(-1)", ("left",), "Before", "Show the string, or kind of block, before this one."),
    Act("other(1)", ("right", "space"), "Next", "Show the next string, or kind of block."),
    Act("scroll(-1)", ("up",), "Up", "Scroll up where the page is longer than the screen.", shown=False),
    Act("scroll(1)", ("down",), "Down", "Scroll down.", shown=False),
    Act("go_back", ("q", "escape"), "Back", "Go back."),
)
EDIT = (
    Act("save", ("f5",), "Save", "Keep the changes; enter in a line does the same."),
    Act("merge", ("f7",), "Merge", "Give all that is this listener's to another one.", ahead=True),
    Act("remove", ("f8",), "Remove", "Remove this listener and all that is theirs, after a question.", ahead=True),
    Act("go_back", ("escape",), "Back", "Go back and change nothing."),
)
MERGE = (
    Act("choose", ("enter",), "Choose", "Join the listener marked."),
    Act("mark(-1)", ("up",), "Up", "Mark the listener above.", shown=False),
    Act("mark(1)", ("down",), "Down", "Mark the listener below.", shown=False),
    Act("go_back", ("escape",), "Back", "Go back and change nothing."),
)
QUESTION = (
    Act("yes", ("y",), "Yes", "Do it, and keep a copy."),
    Act("final", ("f",), "For good", "Where it is offered: do it and keep no copy.", shown=False),
    Act("no", ("n", "q", "escape"), "No", "Change nothing."),
)
LEVEL = (
    Act("tone", ("t", "space"), "Quiet tone", "Hear a quiet tone at the present level."),
    Act("softer", ("minus", "down"), "Softer", "Make every tone 2 dB softer."),
    Act("louder", ("plus", "equals_sign", "up"), "Louder", "Make every tone 2 dB louder."),
    Act("go_on", ("enter",), "Go on", "Keep this level and go on."),
    Act("go_back", ("q", "escape"), "Back", "Go back."),
)
BLOCK = (
    Act(
        "string",
        tuple("123456789"),
        "String",
        "Practise on that string, as players count it.",
        shown=False,
        numbered=True,
    ),
    Act("instrument", ("i",), "Instrument", "Choose the instrument.", shown=False, ahead=True),
    Act("fewer", ("minus", "down"), "Fewer", "Fewer pairs in the block.", shown=False),
    Act("more", ("plus", "equals_sign", "up"), "More", "More pairs in the block.", shown=False),
    Act(
        "kind",
        ("m",),
        "Kind",
        "Change between a drill, which explains, and an assessment, which tells nothing.",
        shown=False,
    ),
    Act("volume", ("v",), "Volume", "Set the listening level.", shown=False, ahead=True),
    Act("lessons", ("l",), "Lessons", "Take a lesson, which says what each block is, or leave it."),
    Act("progress", ("p",), "Progress", "See how the threshold has moved, and what to practise next."),
    Act("own", ("o",), "Own", "Your own instrument: record it, judge it by ear, drill its notes.", shown=False),
    Act("bench", ("b",), "Bench", "Rehearse setting a bridge on one that cannot be hurt."),
    Act("start", ("enter",), "Begin", "Begin the block."),
    Act("go_on", ("g",), "Go on", "Go on with the block that was cut off, where there is one.", shown=False),
    Act("go_back", ("q", "escape"), "Back", "Go back to the listeners."),
)
INSTRUMENTS = (
    Act("mark(-1)", ("up",), "Up", "Mark the instrument above.", shown=False),
    Act("mark(1)", ("down",), "Down", "Mark the instrument below.", shown=False),
    Act("take", ("enter",), "Take", "Play the instrument marked, and go back to the next block."),
    Act("go_back", ("q", "escape"), "Back", "Go back and change nothing."),
)
LESSONS = (
    Act("mark(-1)", ("up",), "Up", "Mark the lesson above.", shown=False),
    Act("mark(1)", ("down",), "Down", "Mark the lesson below.", shown=False),
    Act("take", ("enter",), "Take", "Take the lesson marked, or none, and go back to the next block."),
    Act("go_back", ("q", "escape"), "Back", "Go back and change nothing."),
)
OWN = (
    Act("mark(-1)", ("up",), "Up", "Mark the takes above.", shown=False),
    Act("mark(1)", ("down",), "Down", "Mark the takes below.", shown=False),
    Act("record", ("r",), "Record", "Record harmonic and fretted note of a string."),
    Act("judge", ("enter", "j"), "By ear", "Judge the marked pairs as they were played; then the meter tells."),
    Act("drill", ("d",), "Drill", "Drill the very notes, shifted by exact cents."),
    Act("meter", ("m",), "Meter", "See what the meter reads of the marked takes."),
    Act("volume", ("v",), "Volume", "Set the listening level.", shown=False),
    Act("go_back", ("q", "escape"), "Back", "Go back to the next block."),
)
RECORD = (
    *(
        Act(f"string({number})", (str(number),), f"String {number}", f"Record string {number}.", shown=False)
        for number in range(1, 10)
    ),
    Act("fewer", ("minus", "down"), "Fewer", "Fewer takes.", shown=False),
    Act("more", ("plus", "equals_sign", "up"), "More", "More takes.", shown=False),
    Act("begin", ("enter",), "Begin", "Begin to record; once it is over, judge the takes by ear."),
    Act("judge", ("j",), "By ear", "Once it is over: judge the takes by ear, before the meter tells.", shown=False),
    Act("meter", ("m",), "Meter", "Once it is over: see what the meter reads.", shown=False),
    Act("retry", ("r",), "Try again", "Open the microphone once more, where it failed.", shown=False),
    Act("go_back", ("q", "escape"), "Back", "Stop and go back; what was recorded stays."),
)
METER = (
    Act("done", ("enter",), "Done", "Go back to the takes.", shown=False),
    Act("go_back", ("q", "escape"), "Back", "Go back to the takes."),
)
DRILL = (
    Act("answer('flat')", ("f", "left"), "Flat", "Answer: the fretted note is flat (lower).", shown=False),
    Act("answer('unison')", ("u", "down"), "Unison", "Answer: both tones have the same pitch.", shown=False),
    Act("answer('sharp')", ("s", "right"), "Sharp", "Answer: the fretted note is sharp (higher).", shown=False),
    Act("again", ("a", "space"), "Again", "Hear the pair again; after the answer, with its truth known.", shown=False),
    Act("alone('harmonic')", ("h",), "Harmonic", "Hear the harmonic alone.", shown=False),
    Act("alone('fretted')", ("t",), "Fretted", "Hear the fretted note alone.", shown=False),
    Act("next", ("enter",), "Next", "After an answer, go to the next pair at once.", shown=False),
    Act(
        "directions",
        ("d",),
        "Directions",
        "Before the pairs that count: practise flat and sharp on a few large differences.",
    ),
    Act(
        "word",
        ("w", "slash"),
        "Word",
        "Answer in words: flat, unison, sharp, again, harmonic, fretted, next, directions, volume, help, quit; "
        "esc closes the line.",
        ahead=True,
    ),
    Act("volume", ("v",), "Volume", "Set the listening level."),
    Act("leave", ("q", "escape"), "End block", "End the block here; what was answered is kept."),
)
TROUBLE = (
    Act("retry", ("r", "enter"), "Try again", "Try once more what did not work."),
    Act("silent", ("n",), "No sound", "Look around without sound; such a block says nothing about your ear."),
    Act("leave", ("q", "escape"), "Back", "Go back to the page before."),
)
TROUBLE_IN_A_BLOCK = (
    TROUBLE[0],
    Act("leave", ("q", "escape"), "Leave", "Leave the block; what was answered is kept."),
)
BENCH_CHOICE = (
    Act("difficulty", ("d",), "Difficulty", "Change how badly the bridge is knocked: easy, middle or hard."),
    Act("bridge", ("b",), "Bridge", "Change between a straight and a compensated bridge."),
    Act("guided", ("g",), "Guided", "Change whether each step is asked for and explained."),
    Act("anew", ("n",), "New", "Begin another one, though one was left.", shown=False),
    Act("volume", ("v",), "Volume", "Set the listening level.", shown=False),
    Act("start", ("enter",), "Begin", "Begin, or go on with the one that was left."),
    Act("go_back", ("q", "escape"), "Back", "Go back to the drill."),
)
BENCH = (
    Act("string(-1)", ("up",), "String up", "Choose the string above in the picture.", shown=False),
    Act("string(1)", ("down",), "String down", "Choose the string below in the picture.", shown=False),
    Act("choose", tuple("123456789"), "String", "Choose that string.", shown=False, numbered=True),
    Act("chime", ("c", "space"), "Chime", "Touch the chosen string over the fret and pluck.", shown=False),
    Act("fret", ("f", "enter"), "Fret", "Press the chosen string at the fret and pluck.", shown=False),
    Act("open", ("o",), "Open", "Pluck the chosen string open.", shown=False),
    Act("finger(-1)", ("l",), "Fret lower", "The finger one fret lower, for chime and fret.", shown=False),
    Act("finger(1)", ("h",), "Fret higher", "The finger one fret higher, for chime and fret.", shown=False),
    Act("finger(0)", ("0",), "Octave fret", "The finger back at the octave fret.", shown=False),
    Act("mute", ("m",), "Mute", "Mute the other strings, or let them ring.", shown=False),
    Act("retune", ("r",), "Retune", "Bring every string to pitch.", shown=False),
    Act("move('forward')", ("left",), "Forward", "Move the chosen foot forward, toward the neck.", shown=False),
    Act("move('back')", ("right",), "Back", "Move the chosen foot back, away from the neck.", shown=False),
    Act("foot", ("b", "t"), "Foot", "Choose the other foot: bass or treble.", shown=False),
    Act("amount(-1)", ("minus",), "Less", "A smaller amount for moves and slides.", shown=False),
    Act("amount(1)", ("plus", "equals_sign"), "More", "A larger amount, 1/8 in at most.", shown=False),
    Act("slide('treble')", ("k",), "Slide to treble", "Slide the bridge toward the treble side.", shown=False),
    Act("slide('bass')", ("j",), "Slide to bass", "Slide the bridge toward the bass side.", shown=False),
    Act("margins", ("e",), "Edges", "Look how far the outer strings lie from the fingerboard's edges.", shown=False),
    Act("mark", ("p",), "Pencil", "Draw a pencil line along the feet, which ends it with a reckoning."),
    Act("why", ("y",), "Why", "Say why: the step that comes next, or what a touched string rings."),
    Act("start_over", ("z",), "Reset", "Start over: the bridge back where it was found. There is no undo."),
    Act("cautions", ("n",), "Safety", "What to mind at a real instrument."),
    Act(
        "word",
        ("w", "slash"),
        "Word",
        "Do an act in words, such as bass forward 0.5mm; esc closes the line.",
        ahead=True,
    ),
    Act("volume", ("v",), "Volume", "Set the listening level.", shown=False),
    Act("leave", ("q", "escape"), "Leave", "Leave the bench; it goes on here the next time."),
)
RESULT = (
    Act("another", ("enter",), "Another block", "Choose the next block."),
    Act("progress", ("p",), "Progress", "See how the threshold has moved, and what to practise next."),
    Act("leave_app", ("q", "escape"), "Quit", "Leave the app."),
)


PLACES = {
    "everywhere": EVERYWHERE,
    "listeners": LISTENERS,
    "class": CLASS,
    "progress": PROGRESS,
    "edit": EDIT,
    "merge": MERGE,
    "question": QUESTION,
    "level": LEVEL,
    "block": BLOCK,
    "instruments": INSTRUMENTS,
    "lessons": LESSONS,
    "own": OWN,
    "record": RECORD,
    "meter": METER,
    "drill": DRILL,
    "trouble": TROUBLE,
    "bench-choice": BENCH_CHOICE,
    "bench": BENCH,
    "result": RESULT,
}
"""The acts of each place by its name in the settings. In a block trouble has the keys it has elsewhere."""


def place_name(standard: tuple[Act, ...]) -> str:
    """Return what the place of a table is called in the settings."""
    if standard is TROUBLE_IN_A_BLOCK:
        return "trouble"
    return next(name for name, acts in PLACES.items() if acts is standard)


def bindings(acts: tuple[Act, ...]) -> list[Binding]:
    """Return the acts of a place as bindings, with those that hold everywhere."""
    return [binding for act in (*acts, *EVERYWHERE) for binding in act.bindings()]
