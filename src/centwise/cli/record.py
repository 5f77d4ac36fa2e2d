"""`centwise record`: harmonic and fretted note from the microphone, three times, kept, and measured.

Imports click, bootstrap and below.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from centwise.cli.diagnostics import ExitCode, narrate
from centwise.cli.options import PATH, data_option, instrument_at, instrument_options, scale_option, settings_for
from centwise.cli.output import emit, say
from centwise.cli.signals import EndedBySignal
from centwise.cli.terminal import at_a_terminal
from centwise.cli.waiting import waiting
from centwise.errors import DeviceError, InputError, StoppedError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from centwise.model import Tone
    from centwise.planning import BlockRequest
    from centwise.strings.instrument import Instrument, StringSpec
    from centwise.takes.folder import FileKind, TakeFolder
    from centwise.takes.session import Happening, Judged, RecordingRequest, RecordingSession

TONE_NAMES: dict[Tone, str] = {"harmonic": "the harmonic", "fretted": "the fretted note"}
ANEW = "record the rest into a new folder"
LOUD_ROOM_DBFS = -40.0
"""A background above this is told as loud (judgement)."""


@click.command(name="record")
@click.argument("folder", type=PATH, required=False)
@instrument_options
@scale_option
@click.option("--takes", type=int, default=3, show_default=True, metavar="N", help="Pairs to record, 1 to 20.")
@click.option(
    "--format", "kind", type=click.Choice(["wav", "flac"]), default="wav", show_default=True, help="Kind of file."
)
@data_option
@click.option(
    "--ear-first",
    is_flag=True,
    help="Tell no reading yet: first judge the takes by ear, with centwise drill --take FOLDER.",
)
@click.option("--listener", metavar="NAME", help="Who listens, where the app opens.")
@click.option("--plain", is_flag=True, help="Say everything in full sentences.")
@click.option("--json", "as_json", is_flag=True, help="Sentences on stderr; the measurement on stdout as JSON.")
def command(
    *,
    folder: Path | None,
    instrument: str,
    string: int | None,
    scale: float | None,
    takes: int,
    kind: FileKind,
    data: Path | None,
    ear_first: bool,
    listener: str | None,
    plain: bool,
    as_json: bool,
) -> int:
    """Record a string's harmonic and fretted note, by turns, into FOLDER, then measure them.

    Each note is asked for with a count-in, so both hands stay free. One that will not do is asked for again. FOLDER
    must be new or empty; without it one with date and string is made beside the answers. Ctrl+c stops; what was
    recorded stays. At a terminal, without FOLDER, --plain or --json, the app opens at its page for this.
    """
    from centwise.audio.open import open_recorder  # noqa: PLC0415  start-up path
    from centwise.bootstrap import SystemClock  # noqa: PLC0415
    from centwise.planning import BlockRequest  # noqa: PLC0415
    from centwise.takes.folder import TakeFolder, TakeSet, check_free, default_folder  # noqa: PLC0415
    from centwise.takes.session import MOST_TAKES, RecordingRequest, RecordingSession  # noqa: PLC0415

    if not 1 <= takes <= MOST_TAKES:
        raise UsageError(f"{takes} takes cannot be recorded", f"ask for 1 to {MOST_TAKES} with --takes")
    chosen = instrument_at(instrument, scale)
    spec = chosen.string(chosen.bass_string if string is None else string)
    if folder is None and not (plain or as_json or ear_first) and at_a_terminal():
        asked = click.get_current_context().get_parameter_source("instrument") is ParameterSource.COMMANDLINE
        request = BlockRequest(instrument=instrument, string=string, scale_mm=scale)
        wish = RecordingRequest(takes, kind)
        return _in_the_app(request, wish, listener, data, instrument_asked=asked)
    clock = SystemClock()
    path = folder if folder is not None else default_folder(settings_for(data).data_dir, clock.now(), spec.number)
    check_free(path)
    recorder = open_recorder(clock)
    try:
        kept = TakeFolder.create(
            path,
            TakeSet(
                instrument=chosen.name,
                string=spec.number,
                scale_mm=chosen.scale_mm,
                device=recorder.device,
                rate_hz=recorder.rate_hz,
                device_rate_hz=recorder.device_rate_hz,
                started_at=clock.now(),
            ),
            kind,
        )
        session = RecordingSession(recorder, clock, kept, chosen, takes)
        talk = _Talk(session, kept, chosen, spec, takes, narrate if as_json else say)
        return talk.run(as_json=as_json, ear_first=ear_first)
    finally:
        recorder.close()


def _in_the_app(
    request: BlockRequest, wish: RecordingRequest, listener: str | None, data: Path | None, *, instrument_asked: bool
) -> int:
    from centwise.bootstrap import build_services  # noqa: PLC0415  start-up path
    from centwise.cli.opening import open_app  # noqa: PLC0415

    settings = settings_for(data)
    services = build_services(settings)
    try:
        return open_app(
            services,
            settings,
            request,
            listener_name=listener,
            instrument_asked=instrument_asked,
            recording=wish,
        )
    finally:
        services.store.close()


class _Talk:
    """The session in sentences."""

    def __init__(
        self,
        session: RecordingSession,
        folder: TakeFolder,
        instrument: Instrument,
        spec: StringSpec,
        takes: int,
        speak: Callable[[str], None],
    ) -> None:
        self._session = session
        self._folder = folder
        self._instrument = instrument
        self._spec = spec
        self._takes = takes
        self._say = speak
        self._background_dbfs = -math.inf
        self._room_told = False
        self._given_up: Judged | None = None

    def run(self, *, as_json: bool, ear_first: bool) -> int:
        """Walk through the session, then measure, unless the ear is to be asked first.

        Raises:
            StoppedError: ctrl+c or a signal ended it; what was recorded is kept.
            DeviceError: the microphone went away.
            InputError: a note cannot be kept, or nothing can be measured.
        """
        self._open()
        try:
            for happening in self._session.happenings():
                self._tell(happening)
        except KeyboardInterrupt:
            raise StoppedError(kept=f"with {self._kept_text()}", to_do=ANEW) from None
        except EndedBySignal as ended:
            raise ended.told(kept=f"with {self._kept_text()}", to_do=ANEW) from None
        except DeviceError as error:
            raise DeviceError(error.what, f"{error.to_do}; {self._kept_text()}") from error
        if self._given_up is not None:
            raise InputError(
                f"string {self._spec.number} would not be recorded well ({self._given_up.quality.why})",
                f"put that right, then record into a new folder; {self._kept_text()}",
            )
        if ear_first:
            self._say(f"The takes are kept. Now judge them by ear: centwise drill --take {self._folder.path}")
            if as_json:
                emit({"folder": str(self._folder.path), "device": self._folder.takes.device})
            return ExitCode.DONE
        self._measure(as_json=as_json)
        return ExitCode.DONE

    def _open(self) -> None:
        from centwise.drill.advice import scale_text  # noqa: PLC0415  start-up path
        from centwise.takes.telling import is_monitor  # noqa: PLC0415

        takes = self._folder.takes
        self._say(
            f"Recording string {self._spec.number} ({self._spec.note}) of the {self._instrument.title}, "
            f"scale {scale_text(takes.scale_mm)}, into {self._folder.path}."
        )
        self._say(f"Microphone: {takes.device}, {takes.rate_hz} Hz.")
        if is_monitor(takes.device):
            self._say("That is what this computer plays, not a microphone: plug one in, unless you mean it.")
        times = "once" if self._takes == 1 else f"{self._takes} times"
        self._say(
            f"Tune, and mute every other string with a cloth. Harmonic and fretted note follow each other, {times}. "
            "After each count of three, pluck once and let it ring. Ctrl+c stops; what is recorded stays."
        )

    def _tell(self, happening: Happening) -> None:
        from centwise.takes.session import Asked, Counting, Heard, Judged, PluckNow  # noqa: PLC0415  start-up path
        from centwise.takes.telling import asking_text  # noqa: PLC0415

        match happening:
            case Asked(take=take, takes=takes, tone=tone):
                self._say(f"Take {take} of {takes}, {TONE_NAMES[tone]}: {asking_text(tone, self._spec)}.")
            case Heard(level_dbfs=level_dbfs) if not self._room_told:
                self._background_dbfs = max(self._background_dbfs, level_dbfs)
            case Counting(left=left):
                self._tell_room()
                self._say(f"{left}")
            case PluckNow():
                self._say("Pluck.")
            case Judged():
                self._tell_quality(happening)
            case _:
                pass

    def _tell_room(self) -> None:
        if self._room_told:
            return
        self._room_told = True
        if self._background_dbfs == -math.inf:
            self._say("The microphone gives nothing at all so far: see that it is not switched off.")
        elif self._background_dbfs > LOUD_ROOM_DBFS:
            self._say(f"The room reaches {self._background_dbfs:.0f} dB already: quieter is better.")

    def _tell_quality(self, judged: Judged) -> None:
        from centwise.takes.telling import quality_text  # noqa: PLC0415  start-up path

        text = quality_text(judged.quality, judged.asked.tone, self._spec)
        if judged.quality.good:
            self._say(f"{text}. Kept as {self._folder.takes.notes[-1].file}.")
        elif judged.given_up:
            self._given_up = judged
            self._say(f"{text}.")
        else:
            self._say(f"{text}. Once more, please.")

    def _measure(self, *, as_json: bool) -> None:
        from centwise.cli.measure import record as measurement_record  # noqa: PLC0415  start-up path
        from centwise.takes.telling import measured_sentences  # noqa: PLC0415

        with waiting("the notes are being measured"):
            found = self._session.measure()
        scale_mm = self._folder.takes.scale_mm
        for sentence in measured_sentences(found, self._spec, scale_mm, told=True):
            self._say(sentence)
        self._say(f"Measure it again at any time: centwise measure {self._folder.path}")
        if as_json:
            emit(
                {
                    "folder": str(self._folder.path),
                    "device": self._folder.takes.device,
                    **measurement_record(found, self._spec, scale_mm),
                }
            )

    def _kept_text(self) -> str:
        count = len(self._folder.takes.notes)
        notes = "one note" if count == 1 else f"{count or 'no'} notes"
        return f"{notes} kept in {self._folder.path}"
