"""SQLite as Django drives it; threads of one process that want to write wait in a line.

SQLite has one writer at a time. Who finds it busy asks again after pauses that grow to a tenth of a
second (``sqliteDefaultBusyCallback`` in SQLite's main.c), so that the one who came last may be next
and the first wait for seconds. In a line each is called the moment the one before has ended. The lock
that counts is SQLite's still: other processes know nothing of the line.
"""

from __future__ import annotations

import threading
from collections import defaultdict, deque

from django.db.backends.sqlite3 import base
from django.db.utils import OperationalError


class Line:
    """Waiting for one thing that one can have at a time; first come, first served."""

    def __init__(self) -> None:
        self._change = threading.Lock()
        self._waiting: deque[threading.Lock] = deque()
        self._taken = False

    def join(self, timeout_s: float) -> bool:
        """Wait for one's turn; whether it came within ``timeout_s`` seconds."""
        with self._change:
            if not self._taken:
                self._taken = True
                return True
            called = threading.Lock()
            called.acquire()
            self._waiting.append(called)
        if called.acquire(timeout=timeout_s):
            return True
        with self._change:
            if called in self._waiting:
                self._waiting.remove(called)
                return False
        return True  # called between the end of the wait and now

    def leave(self) -> None:
        """End one's turn; the next is called."""
        with self._change:
            if self._waiting:
                self._waiting.popleft().release()
            else:
                self._taken = False


#: How long sqlite3 waits where nothing else is said (Python documentation, sqlite3.connect).
USUAL_WAIT_S = 5.0
#: One line for each database file.
_lines: defaultdict[str, Line] = defaultdict(Line)


class DatabaseWrapper(base.DatabaseWrapper):
    """A connection whose transactions, which all begin by taking SQLite's lock to write, are in line."""

    _turn: Line | None = None

    def _start_transaction_under_autocommit(self) -> None:
        line = _lines[str(self.settings_dict["NAME"])]
        if not line.join(self.settings_dict["OPTIONS"].get("timeout", USUAL_WAIT_S)):
            raise OperationalError("database is locked")
        self._turn = line
        try:
            super()._start_transaction_under_autocommit()
        except BaseException:
            self._end_turn()
            raise

    def _end_turn(self) -> None:
        line, self._turn = self._turn, None
        if line is not None:
            line.leave()

    def _commit(self) -> None:
        super()._commit()
        self._end_turn()

    def _rollback(self) -> None:
        try:
            super()._rollback()
        finally:
            self._end_turn()

    def _close(self) -> None:
        try:
            super()._close()
        finally:
            self._end_turn()
