"""Options that mean the same in every command."""

from __future__ import annotations

from typing import Annotated

import typer

Workers = Annotated[
    int, typer.Option(min=0, max=1024, help="Worker processes, one thread each. Default 0: one a processor.")
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No narration and no progress on stderr.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show where a fault of our own arose.")]
