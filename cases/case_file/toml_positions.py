"""On which line of a TOML text each key stands.

The standard reader gives values without places; a fault without its line sends a person searching. The
scanner below walks a text that the standard reader has already accepted, so it need not refuse anything.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

KeyPath = tuple[str | int, ...]

MOST_PARTS = 16
"""Parts of a dotted key, and levels within levels whose lines are told: a reader's work grows with their square."""

_GAP = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BLANK = re.compile(r"[ \t]*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\r\n]*")
_PART = r"""[ \t]*+(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+"""
_DEEP = re.compile(rf"(?:^|[{{,])[ \t]*+\[{{0,2}}+{_PART}(?:\.{_PART}){{{MOST_PARTS},}}+", re.MULTILINE)
# The longer quotes first: """ also begins with ".
_STRINGS = (
    ('"""', re.compile(r'"""(?:\\.|[^\\])*?"{3,5}', re.DOTALL)),
    ("'''", re.compile(r"'''.*?'{3,5}", re.DOTALL)),
    ('"', re.compile(r'"(?:\\.|[^"\\\n])*"')),
    ("'", re.compile(r"'[^'\n]*'")),
)


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line of every table, key and array element of a valid TOML text, counted from 1.

    A path is the chain of keys, with the index (from 0) after an array's: ``("lip", "layer", 1, "name")``.
    """
    return _Scanner(text).scan()


def deep_key(text: str) -> int | None:
    """Line of the first dotted key of more than `MOST_PARTS` parts; None where there is none."""
    found = _DEEP.search(text)
    return None if found is None else text.count("\n", 0, found.start() + 1) + 1


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int:
    """Line of ``path``, or of the nearest table around it; 1 where nothing around it is written either."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 1)


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self.lines: dict[KeyPath, int] = {}
        self.elements: dict[KeyPath, int] = {}

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        self._skip(_GAP)
        while self.at < len(self.text):
            if self._take("[["):
                table = self._array_header()
            elif self._take("["):
                table = self._table_header()
            else:
                self._pair(table)
            self._skip(_GAP)
        return self.lines

    def _array_header(self) -> KeyPath:
        line = self._line()
        *around, last = self._keys()
        self._take("]]")
        array = (*self._resolved(around), last)
        index = self.elements.get(array, 0)
        self.elements[array] = index + 1
        self._mark(array, line)
        self._mark((*array, index), line)
        return (*array, index)

    def _table_header(self) -> KeyPath:
        line = self._line()
        table = self._resolved(self._keys())
        self._take("]")
        self._mark(table, line)
        return table

    def _resolved(self, keys: list[str]) -> KeyPath:
        """Point each array of tables on the way at its newest element, as TOML reads headers."""
        path: KeyPath = ()
        for key in keys:
            path = (*path, key)
            if path in self.elements:
                path = (*path, self.elements[path] - 1)
        return path

    def _pair(self, table: KeyPath) -> None:
        line = self._line()
        path = (*table, *self._keys())
        self._mark(path, line)
        self._take("=")
        self._skip(_BLANK)
        self._value(path)

    def _keys(self) -> list[str]:
        keys = [self._key()]
        while self._take("."):
            keys.append(self._key())
        return keys

    def _key(self) -> str:
        self._skip(_BLANK)
        raw = self._string() or self._match(_BARE)
        self._skip(_BLANK)
        return str(tomllib.loads(f"key = {raw}")["key"]) if raw[:1] in "\"'" else raw

    def _value(self, path: KeyPath) -> None:
        if self._take("["):
            self._array(path)
        elif self._take("{"):
            self._inline_table(path)
        elif not self._string():
            self._match(_SCALAR)

    def _array(self, path: KeyPath) -> None:
        index = 0
        self._skip(_GAP)
        while not self._take("]"):
            self._mark((*path, index), self._line())
            self._value((*path, index))
            index += 1
            self._next_item()

    def _inline_table(self, path: KeyPath) -> None:
        self._skip(_GAP)
        while not self._take("}"):
            self._pair(path)
            self._next_item()

    def _next_item(self) -> None:
        self._skip(_GAP)
        self._take(",")
        self._skip(_GAP)

    def _string(self) -> str:
        for quote, pattern in _STRINGS:
            if self.text.startswith(quote, self.at):
                return self._match(pattern)
        return ""

    def _mark(self, path: KeyPath, line: int) -> None:
        path = path[:MOST_PARTS]
        while path and path not in self.lines:  # where a path has its line, so has all above it
            self.lines[path] = line
            path = path[:-1]

    def _line(self) -> int:
        return bisect_right(self.starts, self.at)

    def _take(self, token: str) -> bool:
        found = self.text.startswith(token, self.at)
        self.at += len(token) * found
        return found

    def _skip(self, pattern: re.Pattern[str]) -> None:
        self._match(pattern)

    def _match(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"not TOML at line {self._line()}")
        self.at = found.end()
        return found.group()
