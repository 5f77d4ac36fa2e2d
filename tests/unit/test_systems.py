"""Every branch for another system, taken on this one; and nothing in the package that only one system has."""

from __future__ import annotations

import ast
import os
import re
import sqlite3
import stat
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

import centwise
from centwise.errors import InputError
from centwise.systems import (
    TRIES,
    check_file_name,
    expanded,
    keep_private,
    local_time,
    new_private_file,
    put_in_place,
    sqlite_uri,
)

SOURCES = sorted(Path(centwise.__file__).parent.rglob("*.py"))

# Python's documentation: modules and names with "Availability: Unix" or "Windows".
ONE_SYSTEM_MODULES = {
    *("fcntl", "termios", "tty", "pty", "resource", "pwd", "grp", "posix", "syslog", "readline", "curses"),
    *("msvcrt", "winreg", "winsound", "_winapi", "nt"),
}
ONE_SYSTEM_NAMES = {
    "os": {
        *(
            "fork",
            "forkpty",
            "getuid",
            "geteuid",
            "getgid",
            "getlogin",
            "setsid",
            "getpgid",
            "killpg",
            "mkfifo",
            "mknod",
        ),
        *("nice", "wait", "wait3", "wait4", "chown", "fchown", "lchown", "chroot", "getloadavg", "statvfs", "openpty"),
        *("ttyname", "uname", "sched_getaffinity", "sched_yield", "posix_spawn", "pread", "pwrite", "sendfile", "sync"),
        *("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_DIRECTORY", "O_SYNC", "startfile", "O_BINARY"),
    },
    "signal": {
        *("SIGHUP", "SIGKILL", "SIGALRM", "SIGUSR1", "SIGUSR2", "SIGPIPE", "SIGCHLD", "SIGTSTP", "SIGCONT", "SIGWINCH"),
        *("alarm", "setitimer", "pause", "pthread_kill", "pthread_sigmask", "sigwait", "siginterrupt", "SIGBREAK"),
    },
    "time": {"tzset", "clock_gettime", "pthread_getcpuclockid"},
    "socket": {"AF_UNIX"},
}
ONE_SYSTEM_PLACES = ("/proc/", "/dev/", "/tmp/", "/etc/", "/var/", "C:\\")


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.stem)
def test_no_module_name_or_place_of_one_system_alone(source: Path) -> None:
    found = []
    for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names if alias.name.partition(".")[0] in ONE_SYSTEM_MODULES]
        elif isinstance(node, ast.ImportFrom) and node.module in ONE_SYSTEM_MODULES:
            found.append(node.module)
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            if node.attr in ONE_SYSTEM_NAMES.get(node.value.id, set()):
                found.append(f"{node.value.id}.{node.attr}")
        elif (
            isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.startswith(ONE_SYSTEM_PLACES)
        ):
            found.append(node.value)
    assert not found


def test_no_statement_numbers_its_marks() -> None:
    # The first Pythons 3.12 take `?1` for a name and warn of a sequence (from memory: mended in 3.12.4).
    numbered = re.compile(r"\?[0-9]")
    statements = [source for source in SOURCES if "store" in source.parts]
    assert len(statements) > 10
    assert [source.name for source in statements if numbered.search(source.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize(
    "name",
    # Microsoft, "Naming Files, Paths, and Namespaces": devices with any ending, and what a name cannot hold or end in.
    [
        "CON",
        "nul.wav",
        "Aux.csv",
        "com1.html",
        "LPT9.jsonl",
        "COM\u00b9",
        "a:b.wav",
        "a?.wav",
        "a*.wav",
        "a<b",
        "end.",
        "end ",
    ],
)
def test_windows_takes_no_device_for_a_file(name: str) -> None:
    with pytest.raises(InputError, match="cannot be a file's name on Windows: choose another"):
        check_file_name(PurePosixPath("folder") / name, platform="win32")
    for platform in ("linux", "darwin"):
        check_file_name(PurePosixPath("folder") / name, platform=platform)


@pytest.mark.parametrize(
    "name", ["console.wav", "auxiliary.csv", "com10.html", "nulls", "Übung 1.wav", "a.con", ".part"]
)
def test_windows_takes_any_other_name(name: str) -> None:
    check_file_name(PureWindowsPath("C:/folder") / name, platform="win32")


class Held:
    """Stands in for Windows, where a file that somebody has open cannot be replaced: it is let go after some tries."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, times: int) -> None:
        self.left, self.naps = times, []
        replace = Path.replace

        def held(path: Path, target: Path) -> Path:
            if self.left:
                self.left -= 1
                raise PermissionError(13, "Permission denied")
            return replace(path, target)

        monkeypatch.setattr(Path, "replace", held)

    def sleep(self, seconds: float) -> None:
        self.naps.append(seconds)


def put(path: Path, platform: str, held: Held | None = None) -> None:
    with put_in_place(path, platform=platform, sleep=held.sleep if held else time.sleep) as part:
        part.write_text("new", encoding="utf-8")


def test_a_file_held_for_a_moment_is_replaced_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "page.html"
    path.write_text("old", encoding="utf-8")
    held = Held(monkeypatch, TRIES - 1)
    put(path, "win32", held)
    assert path.read_text(encoding="utf-8") == "new"
    assert len(held.naps) == TRIES - 1
    assert sum(held.naps) <= 1.0


def test_a_file_held_for_long_is_left_as_it_was_and_the_reason_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "page.html"
    path.write_text("old", encoding="utf-8")
    with pytest.raises(PermissionError, match="another program may have it open"):
        put(path, "win32", Held(monkeypatch, TRIES))
    assert [file.name for file in tmp_path.iterdir()] == ["page.html"]
    assert path.read_text(encoding="utf-8") == "old"


@pytest.mark.parametrize("platform", ["linux", "darwin"])
def test_elsewhere_a_refusal_stands_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, platform: str) -> None:
    held = Held(monkeypatch, 1)
    with pytest.raises(PermissionError, match="Permission denied"):
        put(tmp_path / "page.html", platform, held)
    assert held.naps == []
    assert list(tmp_path.iterdir()) == []


def test_what_breaks_off_leaves_nothing_behind(tmp_path: Path) -> None:
    path = tmp_path / "page.html"

    def broken() -> None:
        with put_in_place(path) as part:
            part.write_text("half", encoding="utf-8")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken()
    assert list(tmp_path.iterdir()) == []


def test_a_home_that_is_not_known_is_told() -> None:
    with pytest.raises(InputError, match="'~nobody-of-that-name/ears' begins with a home folder that is not known"):
        expanded("~nobody-of-that-name/ears")


def test_the_database_is_found_by_its_uri_on_every_system(tmp_path: Path) -> None:
    # SQLite, "Uniform Resource Identifiers": file:///C:/…, and no authority but an empty one.
    assert sqlite_uri(PureWindowsPath(r"C:\My ears\a.db"), "rw") == "file:///C:/My%20ears/a.db?mode=rw"
    assert sqlite_uri(PureWindowsPath(r"\\desk\share\a#1.db"), "ro") == "file:////desk/share/a%231.db?mode=ro"
    folder = tmp_path / "a b?c#d%41é"
    folder.mkdir()
    for path in (folder / "x.db", Path(f"/{folder}") / "y.db"):  # with two slashes in front, as a shared folder has
        with closing(sqlite3.connect(sqlite_uri(path, "rwc"), uri=True)) as made:
            made.execute("CREATE TABLE t (x)")
        assert path.exists()


@given(st.datetimes(timezones=st.just(UTC)))
def test_any_instant_has_a_time_here(instant: datetime) -> None:
    assert local_time(instant) == instant


def test_a_system_that_knows_no_zone_then_tells_utc() -> None:
    # Windows: localtime() fails before 1970 and after the year 3000 (documentation of the C runtime, `_localtime64_s`).
    def windows(instant: datetime) -> datetime:
        raise OSError(22, "Invalid argument")

    def beyond(instant: datetime) -> datetime:
        return instant + timedelta.max

    for convert in (windows, beyond):
        assert (
            local_time(datetime(1960, 1, 1, 12, tzinfo=UTC), convert=convert).isoformat() == "1960-01-01T12:00:00+00:00"
        )
        assert local_time(datetime(1, 1, 1), convert=convert).tzinfo is UTC  # noqa: DTZ001  as a day is typed


@pytest.mark.skipif(os.name != "posix", reason="rights of files as POSIX has them")
def test_rights_are_taken_where_there_are_any(tmp_path: Path) -> None:
    path = tmp_path / "names"
    new_private_file(path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.write_text("Ada", encoding="utf-8")
    new_private_file(path)
    assert path.read_text(encoding="utf-8") == "Ada"
    path.chmod(0o644)
    keep_private(path, platform="win32")
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    for platform in ("linux", "darwin"):
        path.chmod(0o664)
        keep_private(path, platform=platform)
        assert stat.S_IMODE(path.stat().st_mode) == 0o660
    keep_private(tmp_path / "nowhere")
