"""Writes all lessons as one HTML file: every state solved beforehand, nothing asked of a network."""

from __future__ import annotations

import asyncio
import json
import os
import sys
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cases.building import Case
from cases.exploring.crew import Crew, JobFailed
from cases.exploring.jobs import PressJob
from cases.exploring.lessons import lesson_data, lesson_names
from cases.exploring.memory import Memory, Remembered
from cases.exploring.start import usual_memory
from cases.exploring.tables import case_from_page
from cases.job import DONE, INTERRUPTED, NOT_CONVERGED, OUR_FAULT, USAGE
from cases.nearness import features
from cases.screen import Narrator
from cases.sweeping.identity import case_key, solver_identity
from cases.sweeping.local import processors
from cases.sweeping.work import THREADS
from reports.explorer.pages import lessons_file
from reports.page_content import Stopped


@dataclass(frozen=True)
class ExportOrder:
    """What the command line asked for."""

    out: Path
    workers: int = 0
    memory: Path | None = None
    forget: bool = False
    quiet: bool = False
    debug: bool = False


class NoEquilibrium(RuntimeError):
    """A prepared case that did not converge."""


def run_export(order: ExportOrder) -> int:
    """Do the job and return its exit code."""
    narrator = Narrator(sys.stderr, order.quiet)
    if not order.out.parent.is_dir():
        narrator.tell(f"labrum: cannot write {order.out}: there is no folder {order.out.parent}")
        return USAGE
    try:
        os.environ.update(THREADS)
        asyncio.run(_export(order, narrator))
    except NoEquilibrium as error:
        narrator.tell(f"labrum: {error}")
        return NOT_CONVERGED
    except KeyboardInterrupt:
        narrator.tell("labrum: interrupted; nothing was written, but what is solved is remembered")
        return INTERRUPTED
    except Exception as error:  # the last line of defence: a person gets a sentence, not a traceback
        trace = traceback.format_exc() if order.debug else ""
        narrator.tell(f"{trace}labrum: a fault of our own: {type(error).__name__}: {error}; --debug shows where")
        return OUR_FAULT
    return DONE


async def _export(order: ExportOrder, narrator: Narrator) -> None:
    lessons = [lesson_data(name) for name in lesson_names()]
    wanted = planned(lessons)
    memory = Memory(None if order.forget else order.memory or usual_memory(), solver_identity())
    crew = Crew(order.workers or processors())
    await crew.start()
    try:
        solved = await _solved(wanted, crew, memory, narrator)
    finally:
        await crew.close()
        memory.close()
    part = order.out.with_name(f".{order.out.name}.part-{os.getpid()}")
    part.write_text(lessons_file(without_tables(lessons), solved), encoding="utf-8")
    part.replace(order.out)
    print(order.out, flush=True)


def planned(lessons: Sequence[dict[str, Any]]) -> dict[str, Case]:
    """Name every case of the lessons as their page does: lesson, rim, stop."""
    return {
        f"{lesson['name']}/{rim}/{stop}": case_from_page(tables)
        for lesson in lessons
        for rim, case in enumerate(lesson["cases"])
        for stop, tables in enumerate(case["tables"])
    }


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
        found[name] = _slim(json.loads(await shown(case, crew, memory)))
        narrator.say(f"solved {len(found)} of {len(wanted)}: {name}")

    try:
        async with asyncio.TaskGroup() as group:
            for name, case in wanted.items():
                group.create_task(one(name, case))
    except* (NoEquilibrium, JobFailed) as several:
        raise several.exceptions[0] from None
    return found


async def shown(case: Case, crew: Crew, memory: Memory) -> str:
    """Return what a page draws a case from, solved now unless it is remembered; raises `NoEquilibrium`."""
    key = case_key(case, solver_identity())
    kept = memory.find(key)
    if kept is not None:
        return kept.shown
    found = await crew.run(PressJob(case), lambda news: None)
    if isinstance(found, Stopped):
        raise NoEquilibrium(f"{case.problem.title}: stopped at {found.force_reached_n:.1f} N: {found.cause}")
    memory.keep(Remembered(key, features(case.problem), found.text), found.outcome)
    return str(found.text)


def _slim(one: dict[str, Any]) -> dict[str, Any]:
    return {"picture": one["picture"], "result": one["result"]}
