"""Writes all lessons as one HTML file: every state solved beforehand, nothing asked of a network."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.exits import DONE, CannotDo, NoEquilibrium
from labrum.cases.exploring.lessons import lesson_data, lesson_names
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.start import usual_memory
from labrum.cases.exploring.tables import case_toml
from labrum.cases.exploring.teaching.states import drawn_state, planned, shown
from labrum.cases.manner import USUAL, Manner
from labrum.cases.overwriting import refuse_taken_file
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.fingerprint import solver_identity
from labrum.cases.solving.leftovers import sweep_files, written_whole
from labrum.cases.solving.run_folder import try_target
from labrum.cases.solving.screen import Narrator, show
from labrum.cases.workers.page_crew import Crew, JobFailed
from labrum.cases.workers.process import processors
from labrum.reports.pages.live import lessons_file


@dataclass(frozen=True)
class ExportOrder:
    """What the command line asked for."""

    out: Path
    workers: int = 0
    store: Path | None = None
    forget: bool = False
    manner: Manner = USUAL


def run_export(order: ExportOrder) -> int:
    """Do the job and return its exit code."""
    return conducted(partial(_run, order), order.manner, interrupted="; nothing was written, what is solved is kept")


def _run(order: ExportOrder, narrator: Narrator) -> int:
    if not order.out.parent.is_dir():
        raise CannotDo(f"cannot write {order.out}: there is no folder {order.out.parent}")
    asyncio.run(_export(order, narrator))
    return DONE


async def _export(order: ExportOrder, narrator: Narrator) -> None:
    refuse_taken_file(order.out, order.manner.force)
    try_target(order.out)
    sweep_files(order.out)
    lessons = [lesson_data(name) for name in lesson_names()]
    wanted = planned(lessons)
    memory = Memory(None if order.forget else order.store or usual_memory(), solver_identity())
    crew = Crew(order.workers or processors())
    await crew.start()
    try:
        solved = await _solved(wanted, crew, memory, narrator)
    finally:
        await crew.close()
        memory.close()
    written_whole(order.out, lessons_file(without_tables(lessons), solved).encode())
    show(str(order.out))


def without_tables(lessons: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Leave out what only a page with a program behind it needs."""
    return [
        {**lesson, "cases": [{k: v for k, v in case.items() if k != "tables"} for case in lesson["cases"]]}
        for lesson in lessons
    ]


async def _solved(
    wanted: dict[str, Case], crew: Crew, memory: Memory, narrator: Narrator
) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}

    async def one(name: str, case: Case) -> None:
        found[name] = {**drawn_state(await shown(case, crew, memory)), "case": case_toml(case)}
        narrator.say(f"solved {len(found)} of {len(wanted)}: {name}")

    try:
        async with asyncio.TaskGroup() as group:
            for name, case in wanted.items():
                group.create_task(one(name, case))
    except* (NoEquilibrium, JobFailed) as several:
        raise several.exceptions[0] from None
    return found
