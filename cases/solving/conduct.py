"""How every job is carried out: its narration on stderr, and its ending as an exit code."""

from __future__ import annotations

import sys
from collections.abc import Callable

from labrum.cases.exits import BadInput, Ending, ended
from labrum.cases.manner import Manner
from labrum.cases.solving.result import printed_faults
from labrum.cases.solving.screen import Narrator


def conducted(work: Callable[[Narrator], int], manner: Manner, *, reading: str = "", interrupted: str = "") -> int:
    """Do the work in the manner asked for and return its exit code.

    ``reading`` and ``interrupted`` as in `Ending`. With ``json`` faults of what was read are data too.
    """
    on_bad_input = printed_faults if manner.json else _nothing_more
    return ended(work, Narrator(sys.stderr, manner.quiet, manner.verbose),
                 Ending(manner.debug, interrupted, reading, on_bad_input))  # fmt: skip


def _nothing_more(error: BadInput) -> None:
    """A person has been told."""
