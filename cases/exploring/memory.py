"""Solved cases that the page remembers: the same case comes back at once, a like one is where a press begins.

They are kept in one SQLite file, each under a key that names the solver's own code, so that a changed solver
forgets what an older one found. A file that cannot be used costs the memory, never the page.
"""

from __future__ import annotations

import sqlite3
import zlib
from collections import OrderedDict, deque
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from labrum.cases.exploring.halfway import Start
from labrum.meshes.arrays import Floats
from labrum.simulate.outcome import Outcome

MOST_KEPT = 2000
OUTCOMES_KEPT = 24
STARTS_KEPT = 24
FARTHEST = 6.0
"""In steps of `labrum.cases.solving.nearness`: farther than one step reaches, for there may be several."""
_TABLE = """\
CREATE TABLE IF NOT EXISTS shown (
  key TEXT PRIMARY KEY, solver TEXT NOT NULL, shown BLOB NOT NULL
)"""


@dataclass(frozen=True)
class Remembered:
    """A solved case: ``shown`` is the JSON text a page draws it from."""

    key: str
    shown: str


class Memory:
    """Solved cases by key; those of the running program with their outcomes, and presses to begin from."""

    def __init__(self, path: Path | None, solver: str) -> None:
        self._solver = solver
        self._known: dict[str, Remembered] = {}
        self._outcomes: OrderedDict[str, Outcome] = OrderedDict()
        self._starts: deque[tuple[Floats, Start]] = deque(maxlen=STARTS_KEPT)
        self._file = _opened(path) if path is not None else None
        if self._file is not None:
            self._load(self._file)

    def __len__(self) -> int:
        """Count the solved cases."""
        return len(self._known)

    def find(self, key: str) -> Remembered | None:
        """Return the case of that key, if it was solved."""
        return self._known.get(key)

    def outcome(self, key: str) -> Outcome | None:
        """Return the whole outcome, if this program solved it lately."""
        return self._outcomes.get(key)

    def keep(self, one: Remembered, outcome: Outcome) -> None:
        """Remember a solved case."""
        self._known[one.key] = one
        self._outcomes[one.key] = outcome
        self._outcomes.move_to_end(one.key)
        while len(self._outcomes) > OUTCOMES_KEPT:
            self._outcomes.popitem(last=False)
        if self._file is not None:
            self._store(self._file, one)

    def keep_start(self, features: Floats, start: Start) -> None:
        """Remember an equilibrium that a like case may begin from, for as long as the program runs."""
        self._starts.append((features, start))

    def start_near(self, features: Floats) -> Start | None:
        """Return the equilibrium of the least unlike case; None where there is none near enough to save time."""
        away = [float(np.linalg.norm(place - features)) for place, _ in self._starts]
        if not away or min(away) > FARTHEST:
            return None
        return self._starts[int(np.argmin(away))][1]

    def close(self) -> None:
        """Let go of the file."""
        if self._file is not None:
            self._file.close()

    def _load(self, file: sqlite3.Connection) -> None:
        rows = file.execute("SELECT key, shown FROM shown WHERE solver = ?", (self._solver,))
        for key, shown in rows:
            self._known[key] = Remembered(key, zlib.decompress(shown).decode())

    def _store(self, file: sqlite3.Connection, one: Remembered) -> None:
        packed = (one.key, self._solver, zlib.compress(one.shown.encode()))
        try:
            with file:
                file.execute("INSERT OR REPLACE INTO shown VALUES (?, ?, ?)", packed)
        except sqlite3.Error:  # a full disk, or another page writing: this one goes on without
            return


def _opened(path: Path) -> sqlite3.Connection | None:
    """Open the file, emptied of what is old or too much; None where that cannot be."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = sqlite3.connect(path, timeout=2.0)
        with file:
            file.execute(_TABLE)
            file.execute(
                "DELETE FROM shown WHERE rowid NOT IN (SELECT rowid FROM shown ORDER BY rowid DESC LIMIT ?)",
                (MOST_KEPT,),
            )
    except (OSError, sqlite3.Error):
        return None
    return file
