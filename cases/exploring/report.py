"""A report from the page: what is already pressed is taken, the rest is pressed by the crew, all of it stoppable."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from labrum.cases.case_file.building import Case
from labrum.cases.exploring.jobs import PaperJob, SolveJob
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.tables import case_toml
from labrum.cases.reporting.job import PressedOrStopped, lips_tried, paper_of, pressed_case, provenance_of
from labrum.cases.solving.fingerprint import case_key, solver_identity
from labrum.cases.workers.page_crew import Crew
from labrum.reports.pages.content import MOST_RIMS
from labrum.simulate.conclusions.varied_lips import Variation, own_name

TellReport = Callable[[int, int], Awaitable[None]]


async def written_report(
    cases: Sequence[Case], thorough: bool, crew: Crew, memory: Memory, tell: TellReport
) -> str:
    """Press what is not remembered and write the report's page; ``tell`` hears steps done and steps in all.

    Raises
    ------
    ValueError
        With no cases or too many, or where not one of the rims finds an equilibrium.
    """
    if not 1 <= len(cases) <= MOST_RIMS:
        raise ValueError(f"a report shows 1 to {MOST_RIMS} rims, not {len(cases)}")
    started = datetime.now(UTC)
    problems = [case.problem for case in cases]
    lips = lips_tried(problems, thorough)
    steps, done = sum(len(some) for some in lips) + 1, 0
    await tell(0, steps)

    async def one(case: Case, lip: Variation) -> PressedOrStopped:
        nonlocal done
        own = lip.name == own_name(case.problem)
        known = memory.outcome(case_key(case, solver_identity())) if own else None
        found: PressedOrStopped = known or await crew.run(SolveJob(lip.problem), lambda news: None)
        done += 1
        await tell(done, steps)
        return found

    async with asyncio.TaskGroup() as group:
        rows = [[group.create_task(one(case, lip)) for lip in some] for case, some in zip(cases, lips, strict=True)]
    found = [
        pressed_case(problem, some, [task.result() for task in row])
        for problem, some, row in zip(problems, lips, rows, strict=True)
    ]
    given = [_as_given(case) for case in cases]
    paper = paper_of(given, found, provenance_of(given, ("labrum", "explore"), started))
    if paper is None:
        raise ValueError("not one of the rims finds an equilibrium under its force")
    page: str = await crew.run(PaperJob(paper), lambda news: None)
    return page


def _as_given(case: Case) -> Case:
    """Give a case of the page the text it would be saved as."""
    return replace(case, given=case_toml(case).encode())
