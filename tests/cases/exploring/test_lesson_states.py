"""The lessons' states: known ones, the way from one to the bench, and solving the others while nobody waits."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import pytest

from labrum.cases.exploring.jobs import PressJob, Shown
from labrum.cases.exploring.lessons import lesson_data, lesson_names
from labrum.cases.exploring.memory import Memory, Remembered
from labrum.cases.exploring.teaching.states import Preparation, case_of_link, known_states, planned
from labrum.cases.solving.fingerprint import case_key, solver_identity

NAME = "five-people"


class PretendCrew:
    """Notes what it is asked to press, and whether somebody was at work then."""

    def __init__(self) -> None:
        self.is_busy = False
        self.pressed: list[str] = []

    async def run(self, job: PressJob, tell: Any) -> Shown:
        assert not self.is_busy
        self.pressed.append(job.case.problem.title)
        await asyncio.sleep(0)
        return Shown(json.dumps({"picture": {}, "result": {}}), None, None)  # type: ignore[arg-type]


def test_a_lesson_knows_the_states_that_were_solved() -> None:
    memory, cases = Memory(None, "s"), planned([lesson_data(NAME)])
    assert known_states(NAME, memory) == {}
    text = json.dumps({"picture": {"p": 1}, "result": {"r": 2}, "inputs": {}})
    memory.keep(Remembered(case_key(cases[f"{NAME}/1/2"], solver_identity()), text), None)  # type: ignore[arg-type]
    assert known_states(NAME, memory) == {f"{NAME}/1/2": {"picture": {"p": 1}, "result": {"r": 2}}}


def test_a_link_names_a_state_and_nonsense_names_none() -> None:
    case = case_of_link({"lesson": NAME, "rim": "1", "stop": "0"})
    assert case is not None
    assert (case.problem.rim.bite_radius, case.problem.load.force) == pytest.approx((1.2, 5.0))
    for wrong in ({}, {"lesson": "none"}, {"lesson": NAME}, {"lesson": NAME, "rim": "9", "stop": "0"},
                  {"lesson": NAME, "rim": "-1", "stop": "0"}, {"lesson": NAME, "rim": "0", "stop": "x"}):  # fmt: skip
        assert case_of_link(wrong) is None


def test_what_is_missing_is_solved_while_nobody_waits_the_opened_lesson_last() -> None:
    async def prepared() -> PretendCrew:
        crew, memory = PretendCrew(), Memory(None, "s")
        preparation = Preparation(crew, memory)  # type: ignore[arg-type]
        crew.is_busy = True
        preparation.begin(NAME)
        await asyncio.sleep(0.1)
        assert crew.pressed == []
        crew.is_busy = False
        wanted = {case_key(c, solver_identity()) for c in planned([lesson_data(n) for n in lesson_names()]).values()}
        async with asyncio.timeout(60.0):
            while len(memory) < len(wanted):
                await asyncio.sleep(0.01)
        preparation.end()
        return crew

    crew = asyncio.run(prepared())
    last = [title.startswith(lesson_data(NAME)["title"]) for title in crew.pressed]
    assert last == sorted(last)
