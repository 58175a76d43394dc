"""Kills a command by signal 9 before each of the steps in which it changes something on the disk, one after another.

Usage, from the repository's root: python -m tests.cases.stand_ins.killed_at_writing FOLDER COMMAND...
What takes long in each command is done once, before; see `remembering`. The command runs to its end first, and then is
killed at its first step, at its second, and so on until it has no more; each is the next one's start after a kill. It
is looked at that what was finished is still there, whole, and that a start sweeps what the one before it left; in the
end nothing is left. Prints how many kills each command took.
"""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from typing import Any

from labrum.cases.command import app
from tests.cases.stand_ins.remembering import SMALL, prepare, remember

CHANGES = ("os.rename", "os.mkdir", "os.rmdir", "os.remove")
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT
MOST_LEFT = 3  # a part, what was set aside, and what tried the place


def run(words: list[str]) -> None:
    """Run the command in this process, silently."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os._exit(ended(words))


def ended(words: list[str]) -> int:
    """Run the command and return its exit code."""
    try:
        return int(app(words, standalone_mode=False) or 0)
    except SystemExit as end:
        return int(end.code or 0)


def to_be_killed(at: int) -> None:
    """See to it that this process dies before its step number ``at``."""
    here, count = os.getcwd(), 0

    def hear(event: str, about: tuple[Any, ...]) -> None:
        nonlocal count
        changes = event in CHANGES or (event == "open" and isinstance(about[2], int) and about[2] & WRITES)
        if changes and isinstance(about[0], str | os.PathLike):
            count += os.path.abspath(about[0]).startswith(here)
            if count == at:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(hear)


def child(words: list[str], at: int = 0) -> int:
    """Run the command in a child process, killed where asked; return how it ended."""
    number = os.fork()
    if number == 0:
        try:
            if at:
                to_be_killed(at)
            run(words)
        finally:
            os._exit(99)
    return os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


def contents(target: Path) -> dict[str, bytes]:
    """Everything in a folder, or a file, by name; what only marks a folder that is being filled is no part of it."""
    if target.is_file():
        return {"": target.read_bytes()}
    places = (path for path in target.rglob("*") if path.is_file() and path.name != ".being-filled")
    return {str(path.relative_to(target)): path.read_bytes() for path in places}


def hidden() -> set[str]:
    """What killed processes have left and the next start is to sweep: a part with a result in it stays."""
    left = (path for path in Path().iterdir() if path.name.startswith(".") and not (path / "result.json").is_file())
    return {path.name for path in left}


def kill_at_every_step(command: str) -> int:
    """Do as the top of this file says, and return how many kills it took."""
    words = [command, *SMALL[command]]
    target = Path(words[words.index("--out") + 1])
    assert ended(words) == 0
    whole, names = contents(target), set(contents(target))
    at = 1
    while (code := child(words, at)) == -signal.SIGKILL:
        stands = [found for place in (target, *Path().glob(f".{target.name}.old-*")) if (found := contents(place))]
        assert any(names <= set(found) for found in stands), (command, at, [*Path().iterdir()])
        assert len(hidden()) <= MOST_LEFT, (command, at, hidden())
        at += 1
    assert code == 0, (command, at, code)
    assert set(contents(target)) == set(whole)
    assert hidden() == set(), (command, hidden())
    return at - 1


def main(folder: str, *commands: str) -> None:
    """Kill each command in turn."""
    os.chdir(folder)
    prepare(Path())
    remember()
    for command in commands:
        print(command, kill_at_every_step(command), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
