"""One connection behind a lock, and its transactions: all of one, or nothing of it. Imports errors and below."""

from __future__ import annotations

from contextlib import contextmanager
from threading import RLock
from typing import TYPE_CHECKING

from centwise.errors import StoreError
from centwise.store.opening import told

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Iterator
    from contextlib import AbstractContextManager
    from pathlib import Path


class Transactions:
    """Any thread may begin one; the others wait. A store that is closed says so."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self._path = path
        self._lock = RLock()
        self._connection: sqlite3.Connection | None = connection
        self.kept = False
        """Whether the last change is on disk: for whoever was stopped while it was written."""

    def reading(self) -> AbstractContextManager[sqlite3.Connection]:
        """Hold one state of the store while it is read."""
        return self._transaction("DEFERRED")

    def writing(self) -> AbstractContextManager[sqlite3.Connection]:
        """Change the store; on disk once left, and undone if left by an error."""
        return self._transaction("IMMEDIATE")

    @contextmanager
    def held(self) -> Iterator[sqlite3.Connection]:
        """Keep the connection for oneself, without a transaction of our own.

        Raises:
            StoreError: the store is closed, or SQLite refused what was done.
        """
        with self._lock, told(self._path):
            if self._connection is None:
                raise StoreError(f"the store {self._path} is closed", "open it again")
            yield self._connection

    def close(self) -> None:
        """Close the connection; may be called twice."""
        with self._lock:
            connection, self._connection = self._connection, None
            if connection is not None:
                with told(self._path):
                    connection.close()

    @contextmanager
    def _transaction(self, kind: str) -> Iterator[sqlite3.Connection]:
        with self.held() as connection:
            self.kept = ending = False
            try:
                # In here, too: ctrl+c that comes while it waits for another window strikes once it has begun.
                connection.execute(f"BEGIN {kind}")
                yield connection
                ending = True
                connection.execute("COMMIT")
            except BaseException as error:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                else:
                    # Ctrl+c that comes while SQLite writes strikes once it has written.
                    self.kept = ending and not isinstance(error, Exception)
                raise
            self.kept = True
