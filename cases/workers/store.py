"""Every finished case, kept at once in one SQLite file that outlives whatever kills the sweep.

Where the file stays locked, or its disk is full, a finished case is kept in a folder beside it and goes in when the
file is next opened: nothing that was solved is dropped.

Beside the cases stand the plans they were solved for: which settings led to which key. A question asked of a plan then
builds no case again. Schema 1 had no plans and schema 2 no errors of the measures; such a file is given room for them
when it is opened, and what it keeps has no errors.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from labrum.cases.exits import CannotDo
from labrum.cases.places import NO_NAME, ImpossibleName, reason_of, trouble_with
from labrum.cases.workers.locking import LOCK_PATIENCE_S, Beside, is_locked, patiently, transaction
from labrum.meshes.faults import printable

STORE_SCHEMA = 3
EARLIER = (0, 1, 2)
CONVERGED, NOT_CONVERGED, INVALID, FAULTY, LOST = "converged", "not converged", "invalid", "our fault", "lost"
SETTLED = (CONVERGED, NOT_CONVERGED, FAULTY)
WHEN_LOCKED_BEFORE_S = 1.0
"""How long one who has waited in vain waits for the next case: others should not stand idle for it."""
AT_ONCE = 500
RowRead = TypeVar("RowRead")

_TABLES = {
    "solved": """
CREATE TABLE IF NOT EXISTS solved (
  key TEXT PRIMARY KEY,
  solver TEXT NOT NULL,
  status TEXT NOT NULL,
  reason TEXT NOT NULL,
  resolved TEXT NOT NULL,
  measures TEXT,
  seconds REAL NOT NULL,
  finished_utc TEXT NOT NULL,
  errors TEXT
)
""",
    "plan": "CREATE TABLE IF NOT EXISTS plan (digest TEXT PRIMARY KEY, place TEXT NOT NULL)",
    "member": """
CREATE TABLE IF NOT EXISTS member (
  plan TEXT NOT NULL,
  number INTEGER NOT NULL,
  settings TEXT NOT NULL,
  key TEXT NOT NULL,
  reason TEXT NOT NULL,
  PRIMARY KEY (plan, number)
) WITHOUT ROWID
""",
}
_KEEP = "INSERT OR REPLACE INTO solved VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
_COLUMNS = _KEEP.count("?")
_SETTLED = "SELECT 1 FROM solved WHERE key = ? AND status = ?"
_FIND = "SELECT key, solver, status, reason, resolved, measures, seconds, errors FROM solved WHERE key IN (%s)"


class UnusableStore(CannotDo):
    """A file that is no store of solved cases, or one of another schema."""


@dataclass(frozen=True)
class KeptCase:
    """One finished case: what it gave, or why it gave nothing.

    ``measures`` is None unless ``status`` is ``converged``; ``reason`` is empty then. ``lost`` is a case whose worker
    died: it is tried again when the sweep is resumed, as chance may have had a hand in it. ``errors`` are the measures'
    estimated errors by the same names; None without measures, and where an earlier version kept the case.
    """

    key: str
    solver: str
    status: str
    reason: str
    resolved: dict[str, Any]
    measures: dict[str, float | bool | None] | None
    seconds: float
    errors: dict[str, float | None] | None = None


class PlanRow(NamedTuple):
    """One case of a plan: its ``settings`` by the names varied, and its key, or for what ``reason`` it has none."""

    number: int
    settings: dict[str, Any]
    key: str
    reason: str


@dataclass(frozen=True)
class Store:
    """The file at ``path``; opened anew for each use, so that it may be handed to other processes.

    Write-ahead logging: a reader never waits, a process that is killed leaves either the whole row or nothing, and each
    row is on the disk when `keep` returns. The log's two side files vanish when the last user closes the store.
    """

    path: Path

    @classmethod
    def at(cls, path: Path) -> Store:
        """Open or make the store.

        Raises
        ------
        UnusableStore
            If the file is something else.
        """
        store = cls(path)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _refuse_what_is_no_file(path)
            with transaction(path) as base:
                found = base.execute("PRAGMA user_version").fetchone()[0]
            if found not in (*EARLIER, STORE_SCHEMA):
                raise UnusableStore(f"{path} has schema {found}; this version reads {STORE_SCHEMA}")
            if found != STORE_SCHEMA:
                _made_whole(path)
            store.merge()
        except (OSError, ValueError, sqlite3.Error) as error:
            if isinstance(error, UnusableStore | ImpossibleName):
                raise
            raise UnusableStore(f"{path} cannot be used as a store: {error}") from None
        return store

    def keep(self, solved: KeptCase) -> None:
        """Write one finished case; it is on the disk when this returns."""
        with self.keeper() as keep:
            keep(solved)

    @contextmanager
    def keeper(self) -> Iterator[Callable[[KeptCase], None]]:
        """Keep many cases; each is on the disk when the function given has returned: here, or else beside.

        The function raises `UnusableStore` where neither will have it.
        """
        patience = [LOCK_PATIENCE_S]

        def keep(solved: KeptCase) -> None:
            row = _row(solved)
            try:
                with transaction(self.path, writing=True, patience_s=patience[0]) as base:
                    base.execute(_KEEP, row)
            except sqlite3.Error as error:
                patience[0] = WHEN_LOCKED_BEFORE_S
                self._keep_beside(row, error)
            else:
                patience[0] = LOCK_PATIENCE_S

        yield keep

    @property
    def beside(self) -> Beside:
        """Finished cases that wait until the file lets itself be written."""
        return Beside.of(self.path)

    def waiting(self) -> int:
        """How many finished cases wait beside the file."""
        return len(self.beside.rows(_COLUMNS))

    def merge(self) -> None:
        """Take in what waits beside the file, unless it is held still; a case that converged is never replaced."""
        rows = self.beside.rows(_COLUMNS)
        if not rows:
            return
        try:
            with transaction(self.path, writing=True, patience_s=WHEN_LOCKED_BEFORE_S) as base:
                for row in rows.values():
                    if not base.execute(_SETTLED, (row[0], CONVERGED)).fetchone():
                        base.execute(_KEEP, row)
        except sqlite3.OperationalError as error:
            if is_locked(error):
                return
            raise
        self.beside.forget(list(rows))

    def _keep_beside(self, row: tuple[Any, ...], error: sqlite3.Error) -> None:
        try:
            self.beside.put(row)
        except OSError as other:
            raise UnusableStore(
                f"{self.path} cannot be used as a store: {error}; nor can {other.filename or self.beside.folder} "
                f"beside it: {reason_of(other)}; solved and kept nowhere: {row[5] or row[3]}"
            ) from error

    def find(self, keys: Iterable[str]) -> dict[str, KeptCase]:
        """Return what is kept under the keys; those without are left out."""
        wanted = list(keys)
        asked = set(wanted)
        found: dict[str, KeptCase] = {}
        with self._open() as base:
            for start in range(0, len(wanted), AT_ONCE):
                part = wanted[start : start + AT_ONCE]
                for row in base.execute(_FIND % ",".join("?" * len(part)), part):
                    found[row[0]] = self._read(_solved, row)
        for row in self.beside.rows(_COLUMNS).values():
            if row[0] in asked and (row[0] not in found or found[row[0]].status != CONVERGED):
                found[row[0]] = self._read(_solved, (*row[:7], *row[8:]))  # without the time
        return found

    def keep_plan(self, digest: str, place: str, rows: Iterable[PlanRow]) -> None:
        """Keep the cases of the plan at ``place``, all or none, in place of what it was before it changed."""
        place = printable(place)  # a file's name may hold what no text does
        packed = [(digest, row.number, json.dumps(row.settings), row.key, row.reason) for row in rows]
        with self._open(writing=True) as base:
            base.execute("DELETE FROM member WHERE plan IN (SELECT digest FROM plan WHERE place = ?)", (place,))
            base.execute("DELETE FROM plan WHERE place = ?", (place,))
            base.execute("INSERT OR REPLACE INTO plan VALUES (?, ?)", (digest, place))
            base.executemany("INSERT OR REPLACE INTO member VALUES (?, ?, ?, ?, ?)", packed)

    def plan_rows(self, digest: str) -> list[PlanRow]:
        """Return the cases of a plan, in their order; none where it is not kept."""
        query = "SELECT number, settings, key, reason FROM member WHERE plan = ? ORDER BY number"
        with self._open() as base:
            rows = base.execute(query, (digest,)).fetchall()
        return [self._read(_plan_row, row) for row in rows]

    def mean_seconds(self, solver: str) -> float | None:
        """Mean time of this solver's cases; None where it has none here."""
        query = "SELECT avg(seconds) FROM solved WHERE solver = ? AND status <> ?"
        with self._open() as base:
            mean = base.execute(query, (solver, LOST)).fetchone()[0]
        return None if mean is None else float(mean)

    def other_solvers(self, solver: str) -> dict[str, int]:
        """How many cases are kept from each other solver: they are never read as this one's."""
        query = "SELECT solver, count(*) FROM solved WHERE solver <> ? GROUP BY solver"
        with self._open() as base:
            return dict(base.execute(query, (solver,)).fetchall())

    def _read(self, read: Callable[[tuple[Any, ...]], RowRead], row: tuple[Any, ...]) -> RowRead:
        try:
            return read(row)
        except (ValueError, TypeError, RecursionError) as error:
            raise UnusableStore(f"{self.path} is damaged: a row that cannot be read ({error})") from None

    @contextmanager
    def _open(self, writing: bool = False) -> Iterator[sqlite3.Connection]:
        with self._told(), transaction(self.path, writing) as base:
            yield base

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Turn what the database refuses, or holds that we did not write, into words."""
        try:
            yield
        except sqlite3.Error as error:
            raise UnusableStore(f"{self.path} cannot be used as a store: {error}") from error


def _made_whole(path: Path) -> None:
    """Make the tables; the process that began to may have been killed before it could put the schema's number in."""
    with transaction(path) as base:
        there = base.execute("SELECT tbl_name FROM sqlite_master").fetchall()
        if {name for (name,) in there} - set(_TABLES):
            raise UnusableStore(f"{path} is a database of something else")
        patiently(base, "PRAGMA journal_mode = WAL", LOCK_PATIENCE_S)
    with transaction(path, writing=True) as base:
        for definition in _TABLES.values():
            base.execute(definition)
        if "errors" not in {row[1] for row in base.execute("PRAGMA table_info(solved)")}:
            base.execute("ALTER TABLE solved ADD COLUMN errors TEXT")
        base.execute(f"PRAGMA user_version = {STORE_SCHEMA}")


def _refuse_what_is_no_file(path: Path) -> None:
    got = trouble_with(path)
    if got == NO_NAME:
        raise ImpossibleName(path)
    if got and got != "no such file":
        raise UnusableStore(f"{path} cannot be used as a store: {got}")


def _plan_row(row: tuple[Any, ...]) -> PlanRow:
    number, settings, key, reason = row
    read = json.loads(settings)
    if not isinstance(read, dict):
        raise ValueError("settings that are no table")
    return PlanRow(number, read, key, reason)


def _row(solved: KeptCase) -> tuple[str | float | None, ...]:
    return (
        solved.key,
        solved.solver,
        solved.status,
        solved.reason,
        json.dumps(solved.resolved),
        None if solved.measures is None else json.dumps(solved.measures, allow_nan=False),
        solved.seconds,
        datetime.now(UTC).isoformat(timespec="seconds"),
        None if solved.errors is None else json.dumps(solved.errors, allow_nan=False),
    )


def _solved(row: tuple[Any, ...]) -> KeptCase:
    key, solver, status, reason, resolved, measures, seconds, errors = row
    read, tables = None if measures is None else json.loads(measures), json.loads(resolved)
    if not isinstance(tables, dict) or not isinstance(read, dict | None) or (status == CONVERGED) != (read is not None):
        raise ValueError("a case that is no table, or a status without its measures")
    doubts = None if errors is None else json.loads(errors)
    if not isinstance(doubts, dict | None):
        raise ValueError("errors that are no table")
    return KeptCase(key, solver, status, reason, tables, read, float(seconds), doubts)
