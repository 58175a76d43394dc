"""Where the command begins: so light that Ctrl-C is heard while all else is still being loaded."""

from __future__ import annotations

import os
from typing import NoReturn

INTERRUPTED = 130  # as in `labrum.cases.exits`, which is loaded further on


def begin() -> NoReturn:
    """Run the command line; the exit code says what happened."""
    try:
        from labrum.cases.command import main
    except KeyboardInterrupt:
        os._exit(INTERRUPTED)  # libraries interrupted while they were being loaded may not bear the interpreter's end
    main()
