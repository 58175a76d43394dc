"""How a command goes about its job, whichever it is: what it prints, and whether it may write over what is there."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Manner:
    """What every command is asked in the same words.

    ``json``: one JSON object in place of tables. ``quiet``: no narration. ``verbose``: every iteration on stderr.
    ``debug``: where a fault of our own arose. ``force``: write over what stands at the target.
    """

    json: bool = False
    quiet: bool = False
    verbose: bool = False
    debug: bool = False
    force: bool = False

    @property
    def aloud(self) -> bool:
        """Is every iteration to be told?"""
        return self.verbose and not self.quiet


USUAL = Manner()
"""As a command goes about it unless asked otherwise."""
