"""Waiting for a locked SQLite file, in a way that Ctrl-C ends, and what cannot wait any longer kept beside it."""

from __future__ import annotations

import json
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

LOCK_PATIENCE_S = 60.0
STEP_S = 0.25
"""How long the database waits by itself: it hears no Ctrl-C meanwhile."""
BESIDE = ".beside"


@contextmanager
def transaction(path: Path, writing: bool = False, patience_s: float = LOCK_PATIENCE_S) -> Iterator[sqlite3.Connection]:
    """Open the file for one transaction, all of it or none; wait for whoever holds it, up to ``patience_s``.

    Raises `sqlite3.OperationalError` where it stays locked; `is_locked` tells that from other trouble.
    """
    with closing(connected(path)) as base:
        patiently(base, "BEGIN IMMEDIATE" if writing else "SELECT count(*) FROM sqlite_master", patience_s)
        try:
            yield base
        except BaseException:
            if base.in_transaction:
                base.rollback()
            raise
        if base.in_transaction:
            base.commit()


def connected(path: Path) -> sqlite3.Connection:
    """Open the file; what is committed is on the disk at once."""
    base = sqlite3.connect(path, timeout=STEP_S, isolation_level=None)
    try:
        patiently(base, "PRAGMA synchronous = FULL", LOCK_PATIENCE_S)
    except BaseException:
        base.close()
        raise
    return base


def patiently(base: sqlite3.Connection, statement: str, patience_s: float) -> None:
    """Run one statement, again and again while another process holds the file."""
    until = time.monotonic() + patience_s
    while True:
        try:
            base.execute(statement).fetchall()
            return
        except sqlite3.OperationalError as error:
            if not is_locked(error) or time.monotonic() >= until:
                raise


def is_locked(error: sqlite3.Error) -> bool:
    """Tell whether a database was refused because somebody else holds it."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


@dataclass(frozen=True)
class Beside:
    """Rows that wait beside a store, a file of JSON each, until it lets itself be written."""

    folder: Path

    @classmethod
    def of(cls, store: Path) -> Beside:
        """The place beside a store."""
        return cls(store.with_name(f"{store.name}{BESIDE}"))

    def put(self, row: tuple[Any, ...]) -> None:
        """Keep a row, its key first; it is on the disk when this returns. Raises `OSError`."""
        self.folder.mkdir(exist_ok=True)
        part = self.folder / f".{row[0]}.{os.getpid()}"
        with part.open("w", encoding="utf-8") as stream:
            stream.write(json.dumps(row))
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(self.folder / f"{row[0]}.json")

    def rows(self, width: int) -> dict[Path, tuple[Any, ...]]:
        """Every row of so many columns that waits, by its file; a file that is none of ours is passed over."""
        found = {}
        for place in sorted(self.folder.glob("*.json")):
            with suppress(OSError, ValueError):
                row = json.loads(place.read_bytes())
                if isinstance(row, list) and len(row) == width and row[0] == place.stem:
                    found[place] = tuple(row)
        return found

    def forget(self, places: Iterator[Path] | list[Path]) -> None:
        """Remove rows that went in, and the folder when it is empty."""
        for place in places:
            place.unlink(missing_ok=True)
        with suppress(OSError):  # others still wait in it, or it never was
            self.folder.rmdir()
