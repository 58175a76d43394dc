"""Where the command begins: so light that Ctrl-C is heard while all else is still being loaded."""

from __future__ import annotations

import os
import sys
from typing import NoReturn

INTERRUPTED = 130  # as in `labrum.cases.exits`, which is loaded further on


def begin() -> NoReturn:
    """Run the command line; the exit code says what happened.

    For the main job, which is over in a blink, no other command is loaded.
    """
    try:
        if sys.argv[1:2] == ["solve"]:
            from labrum.cases.main_command import only_solve as main
        else:
            from labrum.cases.command import main
    except KeyboardInterrupt:
        os._exit(INTERRUPTED)  # libraries interrupted while they were being loaded may not bear the interpreter's end
    main()
