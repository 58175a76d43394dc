"""Every command on a small job, and what takes long in it done once and remembered: the writing and telling is real.

`table` says the words of a small job of every command; `prepare` writes the files that they name.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any
from unittest import mock

from labrum.cases.advising import job as advising
from labrum.cases.advising import present
from labrum.cases.handing_over import job as handing_over
from labrum.cases.library.shelf import demo_text
from labrum.cases.reporting import animating
from labrum.cases.reporting import job as reporting
from labrum.cases.shortlisting import finding
from labrum.cases.shortlisting import job as shortlisting
from labrum.cases.workers import each
from labrum.reports.pages import report

PLAN = 'schema = 1\ncase = "base.toml"\n[vary]\nrim.width_mm = [4.4, 4.8, 5.2, 5.6]\nrim.bite_radius_mm = [0.5, 0.6]\n'
SEARCH = (
    'schema = 1\ncase = "demo"\nminimise = "peak_pressure_kpa"\n[vary]\nrim.width_mm = { from = 4.5, to = 6.5 }\n'
    "[effort]\nsolves = 5\n"
)
SMALL: dict[str, tuple[str, ...]] = {
    "show": ("demo",),
    "solve": ("demo", "--out", "solved", "--force"),
    "cut": ("demo", "--out", "cut", "--force"),
    "compare": ("thin-narrow", "thin-wide", "--out", "compared", "--force"),
    "gauge": ("demo-trace", "--out", "gauged", "--force"),
    "sweep": ("plan.toml", "--workers", "1"),
    "wide-enough": ("plan.toml", "--out", "wide", "--force"),
    "map": ("plan.toml", "rim.width_mm", "rim.bite_radius_mm", "peak_pressure_kpa", "--out", "mapped", "--force"),
    "trade-off": ("plan.toml", "--out", "traded", "--force"),
    "steadiness": ("plan.toml", "--out", "steady", "--force"),
    "search": ("search.toml", "--out", "searched", "--force"),
    "tolerance": ("demo", "--points", "8", "--workers", "1", "--out", "spread", "--force"),
    "report": ("demo", "--out", "page.html", "--force"),
    "animate": ("demo", "--out", "film.gif", "--force"),
    "lip": ("demo-player", "--out", "lip", "--force"),
    "present": ("demo-player", "--out", "present", "--force"),
    "shortlist": ("demo-player", "--lips", "1", "--out", "short", "--force"),
    "handover": ("short", "--out", "handed", "--force"),
    "lessons": ("--out", "lessons.html", "--force", "--store", "lessons.sqlite"),
    "explore": ("demo", "--no-browser", "--forget", "--workers", "1"),
}
"""In an order in which each finds what it needs of those before it."""


def prepare(folder: Path) -> None:
    """Write the plans and the case that the small jobs read."""
    (folder / "base.toml").write_text(demo_text("demo") + "\n[off_axis]\ntilt_deg = 1.0\n")
    (folder / "plan.toml").write_text(PLAN)
    (folder / "search.toml").write_text(SEARCH)


def remember() -> None:
    """Put what remembers in the place of what takes long; for the rest of this process and of those forked from it."""
    solve_each = _each(each.solve_each)
    for where, name in (
        (advising, "player_lip"), (shortlisting, "player_lip"), (finding, "shortlist_of"), (present, "present_of"),
        (handing_over, "outcomes_of"), (report, "report_page"), (animating, "_gif"),
    ):  # fmt: skip
        mock.patch.object(where, name, _once(getattr(where, name))).start()
    for module in (each, reporting):
        mock.patch.object(module, "solve_each", solve_each).start()


def _once(work: Callable[..., Any]) -> Callable[..., Any]:
    kept: list[Any] = []

    def again(*words: Any, **more: Any) -> Any:
        if not kept:
            kept.append(work(*words, **more))
        return kept[0]

    return again


def _each(solve: Callable[..., Iterator[tuple[int, Any]]]) -> Callable[..., Iterator[tuple[int, Any]]]:
    known: dict[bytes, Any] = {}

    def solve_again(problems: Sequence[Any], workers: int = 0) -> Iterator[tuple[int, Any]]:
        keys = [pickle.dumps(problem) for problem in problems]
        missing = [k for k, key in enumerate(keys) if key not in known]
        if missing:
            for number, result in solve([problems[k] for k in missing], workers):
                known[keys[missing[number]]] = result
        yield from ((k, known[key]) for k, key in enumerate(keys))

    return solve_again
