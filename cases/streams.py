"""What the process prints to: be it closed, full or hung up, the process ends with a code and no complaint."""

from __future__ import annotations

import io
import os
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import NoReturn, TextIO

from labrum.cases.exits import INTERRUPTED, USAGE
from labrum.cases.places import reason_of

ExitCode = str | int | None
READ_ONLY = {1}
"""Stdout that was closed takes nothing: to print is then an error, as on a full disk, and not a silent loss."""


def carried_out(run: Callable[[], object]) -> NoReturn:
    """Run a command line and leave with its exit code; `USAGE` where what it printed could not be printed.

    A reader that hung up is told nothing, and neither is anybody else.
    """
    _open_what_was_closed()
    printer = sys.stdout
    code = _code_of(run, printer)
    if (error := _left_unprinted(printer)) is not None:
        code = code or _unprinted(error)
    _left_unprinted(sys.stderr)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the interpreter, while it ends, cannot bear to be interrupted
    if code == INTERRUPTED:
        os._exit(INTERRUPTED)  # nor can libraries end that were interrupted while they were being loaded
    sys.exit(code)


def _code_of(run: Callable[[], object], printer: TextIO) -> ExitCode:
    try:
        run()
    except SystemExit as end:
        # Where a reader has hung up the library that reads options puts another stdout in place of ours and ends with
        # 1, which is a fault of our own.
        return end.code if sys.stdout is printer else USAGE
    except KeyboardInterrupt:
        return INTERRUPTED
    except OSError as error:
        return _unprinted(error)
    return None


def _unprinted(error: OSError) -> int:
    if not isinstance(error, BrokenPipeError):
        with suppress(OSError):
            print(f"labrum: cannot print: {reason_of(error)}", file=sys.stderr)
    return USAGE


def _left_unprinted(stream: TextIO) -> OSError | None:
    """Print what is left and say why it cannot be; it is let go then.

    At its end the interpreter would try once more, and complain.
    """
    try:
        stream.flush()
    except OSError as error:
        with open(os.devnull, "w") as nowhere:
            os.dup2(nowhere.fileno(), stream.fileno())
        return error
    return None


def _open_what_was_closed() -> None:
    """Put something in the place of standard streams that the caller closed.

    Else the first files that are opened would be taken for them, and what is told printed into those.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDONLY if number in READ_ONLY else os.O_RDWR)  # takes the lowest number free
    if sys.stdout is None:
        sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w")  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a title the terminal cannot show must not lose the result
            stream.reconfigure(errors="replace")
