"""Options that mean the same in every command."""

from __future__ import annotations

from typing import Annotated

import typer

Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No narration and no progress on stderr.")]
Debug = Annotated[bool, typer.Option("--debug", help="Show where a fault of our own arose.")]
