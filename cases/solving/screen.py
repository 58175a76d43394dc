"""What a person reads: the table of results on stdout, narration and progress on stderr."""

from __future__ import annotations

import os
import re
import textwrap
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from typing import TextIO

from labrum.cases.solving.meter import Meter
from labrum.cases.solving.result import CAUTIONS, errors_told, measured, written_error
from labrum.meshes.faults import printable_lines
from labrum.simulate.measures.catalogue import groups_of
from labrum.simulate.measures.declaration import Measure
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem, Progress

BOLD, PLAIN, WIPE = "\x1b[1m", "\x1b[0m", "\r\x1b[K"
REDRAWN_EVERY_S = 0.1
WIDTH = 110
_OUR_OWN = re.compile(f"({re.escape(BOLD)}|{re.escape(PLAIN)})")


def may_colour(stream: TextIO) -> bool:
    """Colour only on a terminal that can show it, and never under NO_COLOR (any value but the empty one)."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def result_table(title: str, outcome: Outcome, colour: bool = False) -> str:
    """Lay out every measure: label, value, unit, error where one is estimated, and what it means."""
    measures, errors = measured(outcome.measures), errors_told(outcome.measures)
    lines = [bold(title, colour), f"converged at {outcome.force_n:g} N"]
    for heading, entries in groups_of(outcome.measures):
        lines += ["", bold(heading, colour), *(_row(entry, measures, errors) for entry in entries)]
    lines += ["", "+- is the estimated discretisation error; what the model leaves out is no smaller for it."]
    cost = (
        f"{outcome.unknowns} unknowns, {outcome.newton_iterations} iterations, {outcome.solve_seconds:.2f} s"
    )
    return "\n".join([*lines, f"{cost}, largest penetration {outcome.largest_penetration_mm:.1e} mm"])


def show(text: str) -> None:
    """Print what was asked for on stdout; what a title or a file's name holds cannot steer the terminal."""
    parts = (part if part in (BOLD, PLAIN) else printable_lines(part) for part in _OUR_OWN.split(text))
    print("".join(parts), flush=True)


def cautions_text() -> str:
    """Lay out the cautions that go with every number."""
    return "\n".join(
        textwrap.fill(text, WIDTH, initial_indent="caution: ", subsequent_indent="  ") for text in CAUTIONS
    )


def bold(text: str, colour: bool) -> str:
    """Make a heading stand out where colour may be."""
    return f"{BOLD}{text}{PLAIN}" if colour else text


def _row(entry: Measure, measures: dict[str, float | bool | None], errors: dict[str, float | None]) -> str:
    value, error = written_cell(measures[entry.name]), written_error(errors.get(entry.name))
    unit = entry.unit if value != "-" else ""
    words = entry.words if value != "-" else f"does not apply: {entry.absent}"
    return f"  {entry.label:<19}{value:>10} {f'+-{error}' if error else '':<9} {unit:<7} {words}"


def written_cell(value: float | bool | None) -> str:
    """Write a measure in a table's cell: four digits, six decimals at most, yes or no; a dash where there is none."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if abs(value) < 1e-3:  # with an exponent no one would read it
        return f"{round(value, 6) + 0.0:.6f}".rstrip("0").rstrip(".")
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"


@dataclass
class Narrator:
    """Tells on ``stream`` how a job goes.

    On a terminal one line, written over and over, tells where a solve is; elsewhere nothing does. With ``verbose``
    every iteration has a line. What cannot be told, because the stream is full or nobody hears it, costs nothing else.
    """

    stream: TextIO
    quiet: bool = False
    verbose: bool = False
    clock: Callable[[], float] = time.monotonic
    _drawn_at: float | None = None

    def tell(self, text: str) -> None:
        """Tell what must be known, quiet or not."""
        with suppress(OSError):
            if self._drawn_at is not None:
                print(WIPE, end="", file=self.stream)
                self._drawn_at = None
            print(printable_lines(text), file=self.stream, flush=True)

    def say(self, text: str) -> None:
        """Tell something worth knowing."""
        if not self.quiet:
            self.tell(text)

    def listener(self, problem: Problem) -> Callable[[Progress], None]:
        """Return what hears of every iteration of a solve of ``problem``."""
        if self.quiet:
            return lambda report: None
        if self.verbose:
            return lambda report: self.tell(progress_line(report))
        if not self.stream.isatty() or os.environ.get("TERM") == "dumb":
            return lambda report: None
        return partial(self._redraw, Meter(problem, self.clock))

    def _redraw(self, meter: Meter, report: Progress) -> None:
        line, now = meter.line(report), self.clock()
        if self._drawn_at is None or now - self._drawn_at >= REDRAWN_EVERY_S:
            with suppress(OSError):
                print(f"{WIPE}{line}", end="", file=self.stream, flush=True)
            self._drawn_at = now


def progress_line(report: Progress) -> str:
    """Write an iteration as one line."""
    return (
        f"{report.stage:<12} force {report.force:8.3f} N  iteration {report.iteration:2d}  residual "
        f"{report.residual:.1e}  sink {report.sink:6.3f} mm  {report.unknowns} unknowns"
    )
