"""How every command of a plan ends: what is finished is kept."""

from __future__ import annotations

from collections.abc import Callable

from labrum.cases.manner import Manner
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.screen import Narrator

KEPT = "; what is finished is kept, and the same command goes on from there"


def guarded(work: Callable[[Narrator], int], manner: Manner) -> int:
    """Do the work of a plan and return its exit code, whatever befalls it."""
    return conducted(work, manner, interrupted=KEPT)
