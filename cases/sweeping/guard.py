"""What happened, as an exit code: every command of a plan ends here, whatever went wrong."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable

from cases.faults import InvalidCase
from cases.job import INTERRUPTED, INVALID, OUR_FAULT, USAGE
from cases.screen import Narrator
from cases.sweeping.cluster import NoCluster
from cases.sweeping.results import CannotExport
from cases.sweeping.store import UnusableStore

PARTLY_FAILED = 5


class CannotAnswer(ValueError):
    """A question that the cases at hand, or the way it was asked, leave no answer to."""


def guarded(work: Callable[[Narrator], int], quiet: bool, debug: bool) -> int:
    """Do the work and return its exit code; every exception but a closed pipe becomes a sentence and a code."""
    narrator = Narrator(sys.stderr, quiet)
    try:
        return work(narrator)
    except InvalidCase as error:
        narrator.tell(str(error))
        return INVALID
    except (UnusableStore, CannotExport, NoCluster, CannotAnswer) as error:
        narrator.tell(f"labrum: {error}")
        return USAGE
    except KeyboardInterrupt:
        narrator.tell("labrum: interrupted; what is finished is kept, and the same command goes on from there")
        return INTERRUPTED
    except BrokenPipeError:
        raise
    except Exception as error:  # the last line of defence: a person gets a sentence, not a traceback
        trace = traceback.format_exc() if debug else ""
        hint = "" if debug else "; --debug shows where"
        narrator.tell(f"{trace}labrum: a fault of our own: {type(error).__name__}: {error}{hint}")
        return OUR_FAULT
