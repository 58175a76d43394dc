"""How every command of a plan ends: what is finished is kept."""

from __future__ import annotations

import sys
from collections.abc import Callable

from labrum.cases.exits import Ending, ended
from labrum.cases.solving.screen import Narrator

KEPT = "; what is finished is kept, and the same command goes on from there"


def guarded(work: Callable[[Narrator], int], quiet: bool, debug: bool) -> int:
    """Do the work of a plan and return its exit code, whatever befalls it."""
    return ended(work, Narrator(sys.stderr, quiet), Ending(debug, KEPT))
