"""The command ``labrum compare``: several cases solved, laid side by side, and put to the test of other lips."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.reading import read_all
from labrum.cases.comparing.hold import Hold
from labrum.cases.comparing.holding import Lips, held_cases, tried_held
from labrum.cases.comparing.result import Compared, beforehand, comparison_result, unlike
from labrum.cases.comparing.text import comparison_text
from labrum.cases.drawing import AS_DRAWN, Drawn
from labrum.cases.exits import DONE, NOT_CONVERGED, OUR_FAULT
from labrum.cases.manner import USUAL, Manner
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.provenance import provenance
from labrum.cases.solving.result import FIGURE_NOTE, as_json
from labrum.cases.solving.robust import counter
from labrum.cases.solving.run_folder import RunFolder, free_name, whole_or_gone
from labrum.cases.solving.screen import Narrator, cautions_text, may_colour, show
from labrum.cases.workers.aloud import solver_told
from labrum.cases.workers.each import solve_each
from labrum.simulate.conclusions.robustness import Stopped, Trial, tried
from labrum.simulate.conclusions.varied_lips import Variation, own_name, varied_lips

COMPARISON_FORMATS = ("svg", "png")


@dataclass(frozen=True)
class CompareOrder:
    """What the command line asked for: ``out`` is the folder to make, None for the usual place.

    ``hold`` is what is the same for every rim, None where each case's own load stands; ``workers`` processes solve, 0
    being one a processor.
    """

    places: tuple[str, ...]
    robust: bool = False
    hold: Hold | None = None
    out: Path | None = None
    workers: int = 0
    drawn: Drawn = AS_DRAWN
    manner: Manner = USUAL


def run_compare(order: CompareOrder, command: tuple[str, ...]) -> int:
    """Do the job and return its exit code: the comparison goes to stdout, all else to stderr."""
    return conducted(partial(_compare, order, command), order.manner, reading="case")


def _compare(order: CompareOrder, command: tuple[str, ...], narrator: Narrator) -> int:
    started = datetime.now(UTC)
    order.drawn.size()  # a wrong one should be heard of before anything is solved
    cases, names = held_cases(read_all(order.places), order.hold), names_of(order.places)
    for text in beforehand(names, cases):
        narrator.say(f"warning: {text}")
    with _folder(_target(order, started), order.manner.force, narrator) as folder:
        compared = _solved(names, cases, order, narrator)
        found = comparison_result(compared, order.robust, order.hold)
        if folder is not None:
            inputs = _inputs(compared)
            folder.write_json("comparison.json", found)
            folder.write("table.txt", comparison_text(compared, found, order.robust) + "\n")
            folder.write_json("provenance.json", provenance(command, started, datetime.now(UTC), inputs))
            for name, data in inputs.items():
                folder.write(name, data)
            _draw(compared, folder.place / "figures", order.drawn)
    return _tell(order, compared, found, narrator)


def _tell(order: CompareOrder, compared: Sequence[Compared], found: dict[str, Any], narrator: Narrator) -> int:
    for rim in compared:
        if rim.outcome is not None:
            for text in rim.outcome.warnings:
                narrator.say(f"warning: {rim.name}: {text}")
    stopped = {rim.name: rim.result for rim in compared if isinstance(rim.result, Stopped)}
    for name, result in stopped.items():
        narrator.tell(f"labrum: {name}: {result.kind}: {result.reason}")
    narrator.say(cautions_text())
    colour = may_colour(sys.stdout)
    show(as_json(found) if order.manner.json else comparison_text(compared, found, order.robust, colour))
    if any(result.kind == "failed" for result in stopped.values()):
        return OUR_FAULT
    return NOT_CONVERGED if stopped else DONE


def names_of(places: Sequence[str]) -> list[str]:
    """Name each case by its file, with a number where two files have one name."""
    stems = [Path(place).stem for place in places]
    return [stem if stems.count(stem) == 1 else f"{stem}-{i}" for i, stem in enumerate(stems, 1)]


def _solved(names: Sequence[str], cases: Sequence[Case], order: CompareOrder, narrator: Narrator) -> list[Compared]:
    """Solve every case in its own lip or in all varied ones."""
    problems = [case.problem for case in cases]
    rims = [
        Lips(name, varied_lips(p, problems) if order.robust else (Variation(own_name(p), p),))
        for name, p in zip(names, problems, strict=True)
    ]
    tried = tried_held(rims, order.hold, lambda some: _tried(some, order, narrator))
    return [Compared(name, case, trials) for name, case, trials in zip(names, cases, tried, strict=True)]


def _tried(rims: Sequence[Lips], order: CompareOrder, narrator: Narrator) -> list[tuple[Trial, ...]]:
    """Solve as one list, so that no processor waits."""
    flat = [
        Variation(f"{rim.name}, {lip.name}" if order.robust else rim.name, lip.problem)
        for rim in rims
        for lip in rim.few
    ]
    narrator.say(f"solving {len(flat)} cases")
    each = partial(solve_each, workers=order.workers, solver=solver_told(order.manner))
    trials = iter(tried(flat, each, counter(len(flat), narrator, "case")))
    return [tuple(Trial(lip.name, next(trials).result) for lip in rim.few) for rim in rims]


def _target(order: CompareOrder, started: datetime) -> Path | None:
    if order.out is None and order.manner.json:
        return None
    return order.out or free_name(Path("runs", f"compare-{started:%Y%m%d-%H%M%S}"))


@contextmanager
def _folder(target: Path | None, force: bool, narrator: Narrator) -> Iterator[RunFolder | None]:
    """Make the folder under a temporary name, and give it its own when all is in it."""
    if target is None:
        yield None
        return
    with whole_or_gone(target, force) as kept:
        yield kept.folder
    narrator.say(f"kept in {kept.at}")


def _inputs(compared: Sequence[Compared]) -> dict[str, bytes]:
    """Every case as given and the files it drew on, each rim's in a folder of its own."""
    given = {f"{rim.name}/case.toml": rim.case.given for rim in compared}
    return given | {f"{rim.name}/{path.name}": path.read_bytes() for rim in compared for path in rim.case.inputs}


def _draw(compared: Sequence[Compared], figures: Path, how: Drawn) -> None:
    from labrum.reports.figures.side_by_side import (  # loads the plotting library
        compare_figure,
        compare_table,
        overlay_figure,
    )
    from labrum.reports.house_style.paper import laid_out
    from labrum.reports.house_style.saving import save

    drawn = [(rim.name, rim.outcome) for rim in compared if rim.outcome is not None]
    if not drawn:
        return
    names, outcomes = [name for name, _ in drawn], [outcome for _, outcome in drawn]
    alike = not unlike([rim.name for rim in compared], [rim.case for rim in compared])
    title = "Rims compared" if alike else "Cases compared: lips or loads differ"
    table = compare_table(outcomes, names)
    size, top = how.size(), how.pressure_to_kpa
    for name, draw in (("side-by-side", compare_figure), ("pressures", overlay_figure)):
        with laid_out(size):
            figure = draw(outcomes, names, title, FIGURE_NOTE, top)
        save(figure, table, figures, name, COMPARISON_FORMATS, size)
