"""The states of the lessons: which there are, which are solved already, and solving the others while nobody waits."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from functools import cache
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.exits import NoEquilibrium
from labrum.cases.exploring.jobs import PressJob
from labrum.cases.exploring.lessons import lesson_data, lesson_names
from labrum.cases.exploring.memory import Memory, Remembered
from labrum.cases.exploring.tables import case_from_page
from labrum.cases.solving.fingerprint import case_key, solver_identity
from labrum.cases.workers.page_crew import Crew, JobFailed
from labrum.reports.pages.content import NoSolution

LOOKS_AGAIN_S = 0.25


def planned(lessons: Sequence[dict[str, Any]]) -> dict[str, Case]:
    """Name every case of the lessons as their page does: lesson, rim, stop."""
    return {
        f"{lesson['name']}/{rim}/{stop}": case_from_page(tables)
        for lesson in lessons
        for rim, case in enumerate(lesson["cases"])
        for stop, tables in enumerate(case["tables"])
    }


async def shown(case: Case, crew: Crew, memory: Memory) -> str:
    """Return what a page draws a case from, solved now unless it is remembered; raises `NoEquilibrium`."""
    key = case_key(case, solver_identity())
    kept = memory.find(key)
    if kept is not None:
        return kept.shown
    found = await crew.run(PressJob(case), lambda news: None)
    if isinstance(found, NoSolution):
        raise NoEquilibrium(f"{case.problem.title}: stopped at {found.force_reached_n:.1f} N: {found.cause}")
    memory.keep(Remembered(key, found.text), found.outcome)
    return str(found.text)


def drawn_state(text: str) -> dict[str, Any]:
    """Take from what is shown of a case what a lesson draws."""
    one = json.loads(text)
    return {"picture": one["picture"], "result": one["result"]}


def known_states(name: str, memory: Memory) -> dict[str, dict[str, Any]]:
    """Return the states of a lesson that are solved already, by the names of `planned`."""
    found = {state: memory.find(key) for state, key in _keys(name).items()}
    return {state: drawn_state(kept.shown) for state, kept in found.items() if kept is not None}


@cache
def _keys(name: str) -> dict[str, str]:
    return {state: case_key(case, solver_identity()) for state, case in planned([lesson_data(name)]).items()}


def case_of_link(asked: Mapping[str, str]) -> Case | None:
    """Return the case that a lesson's link names by ``lesson``, ``rim`` and ``stop``; None where there is none."""
    if asked.get("lesson") not in lesson_names():
        return None
    try:
        case = lesson_data(asked["lesson"])["cases"][_place(asked["rim"])]
        return case_from_page(case["tables"][_place(asked["stop"])])
    except (KeyError, ValueError, IndexError):
        return None


def _place(text: str) -> int:
    if not text.isdecimal():
        raise ValueError(text)
    return int(text)


class Preparation:
    """Solves every lesson's states one by one while no page waits for a worker, once somebody cares for lessons."""

    def __init__(self, crew: Crew, memory: Memory) -> None:
        self._crew = crew
        self._memory = memory
        self._task: asyncio.Task[None] | None = None

    def begin(self, opened: str = "") -> None:
        """Begin, unless it has begun; a lesson that is ``opened`` comes last: its page asks for its states itself."""
        if self._task is None:
            names = sorted(lesson_names(), key=lambda name: name == opened)
            self._task = asyncio.get_running_loop().create_task(self._prepared(names))

    def end(self) -> None:
        """Leave what is not solved yet."""
        if self._task is not None:
            self._task.cancel()

    async def _prepared(self, names: Sequence[str]) -> None:
        for name in names:
            cases = await asyncio.to_thread(planned, [lesson_data(name)])
            for case in cases.values():
                while self._crew.is_busy:
                    await asyncio.sleep(LOOKS_AGAIN_S)
                with suppress(NoEquilibrium, JobFailed):  # the page tells that of the state itself, when it is asked
                    await shown(case, self._crew, self._memory)
