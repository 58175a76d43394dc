"""Every command, its stdout full, closed, or hung up by its reader, or its stderr full: a code, and no complaint.

Usage, from the repository's root: python -m tests.cases.stand_ins.told_nowhere FOLDER [COMMAND...]
Each command first runs to its end, whose long parts are remembered; see `remembering`. Then a child process that is
forked from this one runs it once for every place that takes nothing.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

import uvicorn

from labrum.cases.command import app
from labrum.cases.exits import DONE, INTERRUPTED, USAGE
from labrum.cases.exploring import export
from labrum.cases.streams import carried_out
from tests.cases.stand_ins.remembering import SMALL, prepare, remember

PLACES = {"full": USAGE, "closed": USAGE, "hung up": USAGE, "no ear": DONE}
"""Where stdout goes, or stderr for the last, and the exit code then."""


def put(place: str) -> None:
    """Let this process's streams go there; all else that it tells goes to the file ``told``."""
    told = os.open("told", os.O_CREAT | os.O_WRONLY | os.O_TRUNC)
    os.dup2(told, 2)
    if place == "full":
        os.dup2(os.open("/dev/full", os.O_WRONLY), 1)
    elif place == "hung up":
        reader, writer = os.pipe()
        os.close(reader)
        os.dup2(writer, 1)
    elif place == "closed":
        os.close(1)
    else:
        os.dup2(told, 1)
        os.dup2(os.open("/dev/full", os.O_WRONLY), 2)
    sys.stdout = None if place == "closed" else os.fdopen(1, "w", closefd=False)  # type: ignore[assignment]
    sys.stderr = os.fdopen(2, "w", closefd=False)


def code_of(words: list[str], place: str) -> int:
    """The exit code of a child that runs the command so."""
    child = os.fork()
    if child == 0:
        code = 99
        try:
            put(place)
            sys.argv = ["labrum", *words]
            carried_out(app)
        except SystemExit as end:
            code = int(end.code or 0)
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def look_at(command: str) -> None:
    """Run a command everywhere; one that waits for Ctrl-C is interrupted at once where it can tell its address."""
    words = [command, *SMALL[command]]
    with suppress(SystemExit):
        app(words, standalone_mode=False)
    for place, expected in PLACES.items():
        code, told = code_of(words, place), Path("told").read_text()
        assert code in (expected, INTERRUPTED if command == "explore" else expected), (command, place, code, told)
        assert "Traceback" not in told, (command, place, told)
        assert "fault of our own" not in told, (command, place, told)


async def _nothing_solved(*about: Any) -> dict[str, Any]:
    return {}


def main(folder: str, *commands: str) -> None:
    """Look at every command in turn, or at those named."""
    os.chdir(folder)
    prepare(Path())
    remember()
    export._solved = _nothing_solved  # 82 states, some of them living
    export.lessons_file = lambda lessons, solved: "<!doctype html>"
    uvicorn.Server.run = lambda self, sockets=None: None  # type: ignore[assignment,method-assign]
    for command in commands or SMALL:
        look_at(command)


if __name__ == "__main__":
    main(*sys.argv[1:])
