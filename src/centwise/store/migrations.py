"""The schema of the store, as steps that are only ever appended.

Step n brings a store from version n-1 to n (`PRAGMA user_version`), in one transaction with the version itself; a new
store takes all of them in one. A step that has been released is never changed: a store made by it exists somewhere.
Imports nothing of centwise.
"""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import sqlite3

APPLICATION_ID = 0x43454E54
"""`PRAGMA application_id`: "CENT" in ASCII, so another program's database is not taken for ours."""

_FIRST = (
    """
    CREATE TABLE listeners (
        id TEXT NOT NULL PRIMARY KEY,
        name TEXT NOT NULL,
        name_key TEXT NOT NULL UNIQUE,
        scale_mm REAL NOT NULL CHECK (scale_mm > 0),
        last_used INTEGER
    )
    """,
    """
    CREATE TABLE blocks (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        id TEXT NOT NULL UNIQUE,
        listener_id TEXT NOT NULL REFERENCES listeners (id),
        instrument TEXT NOT NULL,
        string INTEGER NOT NULL,
        muted INTEGER NOT NULL CHECK (muted IN (0, 1)),
        likeness REAL NOT NULL,
        tone_order TEXT NOT NULL,
        rule TEXT NOT NULL,
        trials INTEGER NOT NULL,
        assess INTEGER NOT NULL CHECK (assess IN (0, 1)),
        seed INTEGER NOT NULL,
        scale_mm REAL NOT NULL,
        player TEXT NOT NULL,
        started_at TEXT NOT NULL,
        warm_up INTEGER NOT NULL,
        until_octaves REAL,
        prior_threshold_cents REAL,
        prior_sd_octaves REAL,
        ended_at TEXT,
        result_trials INTEGER,
        result_correct INTEGER,
        threshold_cents REAL,
        low_cents REAL,
        high_cents REAL,
        bias_cents REAL,
        bias_low_cents REAL,
        bias_high_cents REAL,
        unison_window_cents REAL,
        travel_mm REAL,
        travel_low_mm REAL,
        travel_high_mm REAL,
        travel_sixty_fourths INTEGER,
        order_error_cents REAL,
        order_error_low_cents REAL,
        order_error_high_cents REAL,
        CHECK ((ended_at IS NULL) = (result_trials IS NULL)),
        CHECK ((ended_at IS NULL) = (result_correct IS NULL))
    )
    """,
    """
    CREATE INDEX blocks_by_condition
    ON blocks (listener_id, instrument, string, muted, likeness, tone_order, started_at, number)
    """,
    "CREATE INDEX blocks_by_start ON blocks (listener_id, started_at, number)",
    """
    CREATE TABLE trials (
        block_number INTEGER NOT NULL REFERENCES blocks (number),
        n INTEGER NOT NULL CHECK (n >= 1),
        offset_cents REAL NOT NULL,
        first_tone TEXT NOT NULL CHECK (first_tone IN ('harmonic', 'fretted')),
        answer TEXT NOT NULL CHECK (answer IN ('flat', 'unison', 'sharp')),
        answered_at TEXT NOT NULL,
        replays INTEGER NOT NULL CHECK (replays >= 0),
        scored INTEGER NOT NULL CHECK (scored IN (0, 1)),
        PRIMARY KEY (block_number, n)
    ) WITHOUT ROWID
    """,
    "CREATE TABLE settings (key TEXT NOT NULL PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    f"PRAGMA application_id = {APPLICATION_ID}",
)

_RECORDED = (
    "ALTER TABLE blocks ADD COLUMN voice TEXT NOT NULL DEFAULT 'rendered'",
    "ALTER TABLE blocks ADD COLUMN take_sha256 TEXT",
    "ALTER TABLE blocks ADD COLUMN take_error_cents REAL",
    "ALTER TABLE blocks ADD COLUMN given_cents TEXT",
)
"""Blocks heard in the voice of a recorded instrument. `given_cents` is a JSON list, or null where none were given."""

_SUMMARIES = (
    "ALTER TABLE listeners ADD COLUMN instrument TEXT NOT NULL DEFAULT 'five-string'",
    "ALTER TABLE listeners ADD COLUMN note TEXT NOT NULL DEFAULT ''",
    """
    CREATE TABLE merged_listeners (
        id TEXT NOT NULL PRIMARY KEY,
        listener_id TEXT NOT NULL REFERENCES listeners (id)
    ) WITHOUT ROWID
    """,
    "ALTER TABLE blocks ADD COLUMN method INTEGER",
    "ALTER TABLE blocks ADD COLUMN answered INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE blocks ADD COLUMN practised_s REAL NOT NULL DEFAULT 0",
    "ALTER TABLE blocks ADD COLUMN last_answer_at TEXT",
    "UPDATE blocks SET method = 1 WHERE ended_at IS NOT NULL",
    """
    UPDATE blocks SET answered = found.answered, practised_s = found.practised_s, last_answer_at = found.last_answer_at
    FROM (
        SELECT block_number, count(*) AS answered, max(answered_at) AS last_answer_at,
               sum(min(max(gap_s, 0.0), 60.0)) AS practised_s
        FROM (
            SELECT block_number, answered_at,
                   86400.0 * (julianday(answered_at) - julianday(
                       lag(answered_at, 1, started_at) OVER (PARTITION BY block_number ORDER BY n)
                   )) AS gap_s
            FROM trials JOIN blocks ON blocks.number = trials.block_number
        )
        GROUP BY block_number
    ) AS found
    WHERE blocks.number = found.block_number
    """,
)
"""What is known of a block without its trials, kept beside it; who a listener was merged into."""

_CLASS = (
    "ALTER TABLE listeners ADD COLUMN revision INTEGER NOT NULL DEFAULT 0",
    """
    CREATE TABLE class_rows (
        listener_id TEXT NOT NULL PRIMARY KEY REFERENCES listeners (id) ON DELETE CASCADE,
        revision INTEGER NOT NULL,
        blocks INTEGER NOT NULL,
        answered INTEGER NOT NULL,
        practised_s REAL NOT NULL,
        last_seen TEXT,
        instrument TEXT,
        string INTEGER,
        threshold_cents REAL,
        low_cents REAL,
        high_cents REAL,
        improvement_chance REAL
    ) WITHOUT ROWID
    """,
    """
    CREATE TRIGGER blocks_after_insert AFTER INSERT ON blocks BEGIN
        UPDATE listeners SET revision = revision + 1 WHERE id = NEW.listener_id;
    END
    """,
    """
    CREATE TRIGGER blocks_after_update AFTER UPDATE ON blocks BEGIN
        UPDATE listeners SET revision = revision + 1 WHERE id IN (OLD.listener_id, NEW.listener_id);
    END
    """,
    """
    CREATE TRIGGER blocks_after_delete AFTER DELETE ON blocks BEGIN
        UPDATE listeners SET revision = revision + 1 WHERE id = OLD.listener_id;
    END
    """,
)
"""Each listener's row of the class view, worked out once and good until one of their blocks changes."""

_BENCHES = (
    """
    CREATE TABLE benches (
        number INTEGER PRIMARY KEY AUTOINCREMENT,
        id TEXT NOT NULL UNIQUE,
        listener_id TEXT NOT NULL REFERENCES listeners (id),
        instrument TEXT NOT NULL,
        bridge TEXT NOT NULL CHECK (bridge IN ('straight', 'compensated')),
        difficulty TEXT NOT NULL,
        guided INTEGER NOT NULL CHECK (guided IN (0, 1)),
        seed INTEGER NOT NULL,
        scale_mm REAL NOT NULL,
        player TEXT NOT NULL,
        started_at TEXT NOT NULL,
        ended_at TEXT,
        reckoning TEXT,
        CHECK ((ended_at IS NULL) = (reckoning IS NULL))
    )
    """,
    "CREATE INDEX benches_by_start ON benches (listener_id, started_at, number)",
    """
    CREATE TABLE bench_acts (
        bench_number INTEGER NOT NULL REFERENCES benches (number),
        n INTEGER NOT NULL CHECK (n >= 1),
        words TEXT NOT NULL,
        done_at TEXT NOT NULL,
        PRIMARY KEY (bench_number, n)
    ) WITHOUT ROWID
    """,
)
"""Rehearsals at the bench. `reckoning` is a JSON object, there once the feet are marked."""

_EXCHANGE = (
    "ALTER TABLE listeners ADD COLUMN edition INTEGER NOT NULL DEFAULT 1",
    "ALTER TABLE listeners ADD COLUMN claim TEXT",
    """
    CREATE TRIGGER listeners_after_edit AFTER UPDATE OF name, scale_mm, instrument, note ON listeners
    WHEN (OLD.name, OLD.scale_mm, OLD.instrument, OLD.note) IS NOT (NEW.name, NEW.scale_mm, NEW.instrument, NEW.note)
    BEGIN
        UPDATE listeners SET edition = edition + 1, claim = iif(OLD.name IS NEW.name, claim, NULL) WHERE id = NEW.id;
    END
    """,
)
"""`edition` counts a listener's changes, so that of two copies the later one is known; `claim` is the name asked for by
who was renamed because somebody else has it, else null."""

_LENGTHS = (
    "ALTER TABLE blocks ADD COLUMN string_length_mm REAL",
    "ALTER TABLE blocks ADD COLUMN octave_hz REAL",
    # Until here every instrument was the five-string in open G; its 5th string is S 2^(-5/12) long.
    """
    UPDATE blocks SET
        string_length_mm = scale_mm * CASE string WHEN 5 THEN 0.7491535384383408 ELSE 1.0 END,
        octave_hz = CASE string
            WHEN 1 THEN 587.3295358348151
            WHEN 2 THEN 493.8833012561241
            WHEN 3 THEN 391.99543598174927
            WHEN 4 THEN 293.6647679174076
            WHEN 5 THEN 783.9908719634985
        END
    WHERE instrument = 'five-string'
    """,
)
"""What the string was like, kept with the block: instruments of one's own may change or go."""

_DOUBTS = ("ALTER TABLE blocks ADD COLUMN doubt TEXT",)
"""Why a block's figures are not the ear's, or null. Earlier blocks get it when they are worked out anew."""

_ONENESS = (
    "ALTER TABLE listeners ADD COLUMN gone INTEGER NOT NULL DEFAULT 0",
    "ALTER TABLE merged_listeners ADD COLUMN gone INTEGER NOT NULL DEFAULT 1",
    "ALTER TABLE merged_listeners ADD COLUMN details TEXT",
)
"""Whether somebody merged an id into another (`gone`), and the details it had: stores whose merges contradict each
other choose the same by them."""

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    _FIRST,
    _RECORDED,
    _SUMMARIES,
    _CLASS,
    _BENCHES,
    _EXCHANGE,
    _LENGTHS,
    _DOUBTS,
    _ONENESS,
)

VERSION = len(MIGRATIONS)
"""The version this program reads and writes."""


def version_of(connection: sqlite3.Connection) -> int:
    """Return the version of a store; 0 for an empty one."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection, steps: tuple[tuple[str, ...], ...] = MIGRATIONS) -> None:
    """Bring a store up to the last step; an empty one all at once, so that a first start waits for the disk but once.

    Args:
        connection: in autocommit mode (`isolation_level=None`).
        steps: the statements of each step, oldest first.

    Raises:
        sqlite3.Error: a step failed; the store stays at the step before it, an empty one empty.
    """
    while version_of(connection) < len(steps):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Read again: another window may have made this step between the look and the lock.
            version = version_of(connection)
            upto = len(steps) if version == 0 else min(version + 1, len(steps))
            for statement in chain.from_iterable(steps[version:upto]):
                connection.execute(statement)
            if version < upto:
                connection.execute(f"PRAGMA user_version = {upto}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
