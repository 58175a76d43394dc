"""The questions that the page offers beyond its own: one line here for each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.exits import BadInput, CannotDo
from labrum.cases.exploring.asks.answer import Files, FurtherAnswer, Tell
from labrum.cases.exploring.asks.lathe import files_to_cut
from labrum.cases.exploring.asks.readings import read_by_gauges
from labrum.cases.exploring.asks.tolerances import what_tolerances_do
from labrum.cases.exploring.asks.widths import how_wide


@dataclass(frozen=True)
class Ask:
    """A question: what its button says, what it does in a sentence, and how it is answered.

    ``takes_files`` where a measured trace may be sent along.
    """

    label: str
    words: str
    answer: Callable[[Case, Files, Tell], FurtherAnswer]
    takes_files: bool = False


ASKS = {
    "width": Ask("How wide is wide enough?", "Presses this rim at 13 widths about its own, all else held.", how_wide),
    "gauges": Ask(
        "How does it read?", "Reads the inner diameter by every convention, of this rim and of a measured trace.",
        read_by_gauges, takes_files=True,
    ),
    "tolerances": Ask(
        "What do tolerances do?", "Presses this rim with each dimension at both ends of its tolerance.",
        what_tolerances_do,
    ),
    "cut": Ask(
        "Files to cut it", "Outline, points and a dimensioned drawing for the lathe, as one archive.", files_to_cut
    ),
}  # fmt: skip


@dataclass(frozen=True)
class AskJob:
    """Answer one question in a worker process."""

    what: str
    case: Case
    files: Files

    def run(self, tell: Tell) -> dict[str, Any]:
        """Return the answer as plain values; where there is none, why."""
        ask = ASKS.get(self.what)
        if ask is None:
            return FurtherAnswer((f"There is no question {self.what!r}.",)).plain
        tell({"share": 0.0, "words": "beginning"})
        try:
            return ask.answer(self.case, self.files, tell).plain
        except (CannotDo, BadInput) as error:
            return FurtherAnswer((f"No answer: {error}.",)).plain


def offered() -> list[dict[str, Any]]:
    """What the page builds its buttons from."""
    return [
        {"name": name, "label": ask.label, "words": ask.words, "files": ask.takes_files}
        for name, ask in ASKS.items()
    ]
