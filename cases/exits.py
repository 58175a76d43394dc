"""How a command ends: the exit codes, what raises each, and the one place where exceptions become codes."""

from __future__ import annotations

import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import NoReturn, Protocol, TypeVar

DONE, OUR_FAULT, USAGE, INVALID, NOT_CONVERGED, PARTLY_FAILED, INTERRUPTED = 0, 1, 2, 3, 4, 5, 130
TERMINATED = 128 + signal.SIGTERM  # as a shell tells it of a process that the signal ended


class CannotDo(ValueError):
    """What was asked cannot be done as asked (`USAGE`); each line of its text is told."""


class BadInput(ValueError):
    """A file that cannot be used (`INVALID`): every fault found, a line each."""


class NoEquilibrium(RuntimeError):
    """No equilibrium where the command needs one (`NOT_CONVERGED`)."""


class OurFault(RuntimeError):
    """A fault of ours that is in words already (`OUR_FAULT`), such as one that a worker process met."""


class Terminated(KeyboardInterrupt):
    """The process was told to end (SIGTERM): ends as Ctrl-C does, with another code (`TERMINATED`)."""


class Teller(Protocol):
    """Where a command says what a person must read."""

    def tell(self, text: str) -> None:
        """Say it, quiet or not."""


SomeTeller = TypeVar("SomeTeller", bound=Teller)


@dataclass(frozen=True)
class Ending:
    """What differs between commands at their end.

    ``interrupted`` is added to what is said after Ctrl-C; ``reading`` names what the command reads, to tell a fault of
    ours from one of that; ``on_bad_input`` is handed what cannot be used, after it was told.
    """

    debug: bool = False
    interrupted: str = ""
    reading: str = ""
    on_bad_input: Callable[[BadInput], None] = lambda error: None


def ended(work: Callable[[SomeTeller], int], teller: SomeTeller, ending: Ending) -> int:
    """Do the work and return its exit code; every exception becomes a sentence and a code.

    Where the reader of stdout has hung up there is a code and no sentence: he has what he wanted.
    """
    try:
        with _heeding_termination():
            return work(teller)
    except BadInput as error:
        teller.tell(str(error))
        ending.on_bad_input(error)
        return INVALID
    except CannotDo as error:
        teller.tell("\n".join(f"labrum: {line}" for line in str(error).splitlines()))
        return USAGE
    except NoEquilibrium as error:
        teller.tell(f"labrum: {error}")
        return NOT_CONVERGED
    except KeyboardInterrupt as signal_heard:
        terminated = isinstance(signal_heard, Terminated)
        teller.tell(f"labrum: {'told to end' if terminated else 'interrupted'}{ending.interrupted}")
        return TERMINATED if terminated else INTERRUPTED
    except BrokenPipeError:
        return USAGE
    except OSError as error:  # the disk refused what was asked of it: that is nobody's fault in here
        teller.tell(f"labrum: {_disk_words(error)}{_trace(ending)}")
        return USAGE
    except Exception as error:  # the last line of defence: a person gets a sentence, not a traceback
        teller.tell(_our_fault(error, ending))
        return OUR_FAULT


@contextmanager
def _heeding_termination() -> Iterator[None]:
    """Raise `Terminated` on SIGTERM, so that processes are ended and halves are swept as after Ctrl-C.

    A second one ends the process at once. Only a main thread may change what a signal does, and a handler that
    somebody else has set stays.
    """
    alone = threading.current_thread() is threading.main_thread()
    if not alone or signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL:
        yield
        return

    def heard(number: int, frame: object) -> NoReturn:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        raise Terminated

    signal.signal(signal.SIGTERM, heard)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)


def _disk_words(error: OSError) -> str:
    what = f"{os.fsdecode(error.filename)}: " if isinstance(error.filename, str | bytes) else ""
    return f"{what}{(error.strerror or str(error)).lower()}"


def _trace(ending: Ending) -> str:
    return f"\n{traceback.format_exc()}" if ending.debug else ""


def _our_fault(error: Exception, ending: Ending) -> str:
    trace = traceback.format_exc() if ending.debug else ""
    other = f", not of the {ending.reading}" if ending.reading else ""
    hint = "" if ending.debug else "; --debug shows where"
    words = str(error) if isinstance(error, OurFault) else f"{type(error).__name__}: {error}"
    return f"{trace}labrum: a fault of our own{other}: {words}{hint}"


def leave(job: Callable[[], int]) -> NoReturn:
    """End the process with a job's exit code, also where Ctrl-C comes while it is still being loaded."""
    try:
        code = job()
    except KeyboardInterrupt:
        code = INTERRUPTED
    sys.exit(code)
