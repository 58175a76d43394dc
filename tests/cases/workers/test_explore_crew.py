"""The page's worker processes: jobs done, stopped, lost, and the processes fit for the next."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import replace
from typing import Any

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.halfway import Start
from labrum.cases.exploring.jobs import PressJob
from labrum.cases.workers import page_crew as crew_module
from labrum.cases.workers.page_crew import Crew, JobFailed
from labrum.simulate import solve
from tests.cases.stand_ins import stand_in_jobs as jobs


def with_crew(size: int, work: Callable[[Crew], Awaitable[Any]]) -> Any:
    async def go() -> Any:
        crew = Crew(size)
        await crew.start()
        try:
            return await work(crew)
        finally:
            await crew.close()

    return asyncio.run(go())


async def until_told(crew: Crew, job: Any) -> tuple[asyncio.Task[Any], dict[str, Any]]:
    """Begin a job and wait for its first news."""
    news: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
    task = asyncio.create_task(crew.run(job, news.put_nowait))
    return task, await news.get()


def test_stopped_jobs_leave_the_process_ready_for_the_next() -> None:
    async def work(crew: Crew) -> tuple[Any, Any, Any]:
        told: list[Any] = []
        first = await crew.run(jobs.Double(4), told.append)
        assert told == [{"share": 0.5}]
        task, news = await until_told(crew, jobs.Forever())
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        again, later = await until_told(crew, jobs.Forever())
        again.cancel()
        with pytest.raises(JobFailed, match="ValueError: no good"):
            await crew.run(jobs.Broken(), told.append)
        return first, news["pid"], later["pid"]

    first, before, after = with_crew(1, work)
    assert first == 8
    assert before == after


def test_a_process_that_dies_or_does_not_obey_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crew_module, "OBEYS_WITHIN_S", 0.1)

    async def work(crew: Crew) -> int:
        with pytest.raises(JobFailed, match="exit code -9"):
            await crew.run(jobs.Killed(), lambda news: None)
        assert await crew.run(jobs.Double(1), lambda news: None) == 2
        task, _ = await until_told(crew, jobs.Deaf())
        task.cancel()
        return int(await crew.run(jobs.Double(2), lambda news: None))

    assert with_crew(1, work) == 4


def test_two_processes_work_side_by_side() -> None:
    async def work(crew: Crew) -> set[int]:
        tasks = [await until_told(crew, jobs.Forever()) for _ in range(2)]
        for task, _ in tasks:
            task.cancel()
        return {news["pid"] for _, news in tasks}

    assert len(with_crew(2, work)) == 2


def test_long_jobs_leave_a_process_for_others() -> None:
    async def work(crew: Crew) -> int:
        news: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        long = [asyncio.create_task(crew.run_long(jobs.Forever(), news.put_nowait)) for _ in range(2)]
        await news.get()
        async with asyncio.timeout(30.0):  # with both processes at work it would wait for ever
            short = int(await crew.run(jobs.Double(3), lambda told: None))
        for task in long:
            task.cancel()
        return short

    assert with_crew(2, work) == 6


def test_a_press_comes_back_from_one_process_and_begins_the_next_in_another() -> None:
    """An equilibrium is at home in any process: what it holds of compiled kernels is each process's own."""
    case = read_case("round-ring")
    load = replace(case.problem.load, force=5.5)
    harder = replace(case, problem=replace(case.problem, load=load))

    async def work(crew: Crew) -> tuple[Any, Any]:
        first = await crew.run(PressJob(case), lambda news: None)
        hands = [task async for task in _both(crew, harder, Start(case.resolved, first.pressed))]
        return first, hands

    first, hands = with_crew(2, work)
    cold = solve(harder.problem).measures
    for found in hands:
        assert found.outcome.newton_iterations < first.outcome.newton_iterations
        assert found.outcome.measures.sink_mm == pytest.approx(cold.sink_mm, rel=1e-3)


async def _both(crew: Crew, case: Any, start: Any) -> AsyncIterator[Any]:
    """The same job twice at once, so that either process has it."""
    jobs_of_two = [asyncio.create_task(crew.run(PressJob(case, start), lambda news: None)) for _ in range(2)]
    for job in jobs_of_two:
        yield await job
