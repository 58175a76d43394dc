"""One page's conversation: it says what it wants shown, and hears of faults, equilibria, progress and solutions.

Everything that takes longer than a blink runs in a worker process or a thread. What the page asks next takes the place
of what it asked before: the older solve is stopped.
"""

from __future__ import annotations

import asyncio
import json
import math
import tempfile
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.exploring.asks.answer import Files
from labrum.cases.exploring.asks.known import AskJob
from labrum.cases.exploring.halfway import Start
from labrum.cases.exploring.jobs import AtOnce, PressJob
from labrum.cases.exploring.memory import Memory, Remembered
from labrum.cases.exploring.players.answers import ANSWERS, PlayerJob
from labrum.cases.exploring.players.handed_over import HandoverJob, handover_from_page
from labrum.cases.exploring.players.sent import sheet_from_page, sheet_toml
from labrum.cases.exploring.profile import dimensions_of, traced_profile
from labrum.cases.exploring.report import written_report
from labrum.cases.exploring.tables import case_from_page, case_toml, opened, tables_of
from labrum.cases.shortlisting.ready import rim_to_change
from labrum.cases.solving.fingerprint import case_key, solver_identity
from labrum.cases.solving.nearness import features
from labrum.cases.solving.result import invalid_result
from labrum.cases.workers.page_crew import Crew, JobFailed
from labrum.reports.pages.content import NoSolution

Send = Callable[[str], Awaitable[None]]
PROGRESS_EVERY_S = 0.1
READINGS = ("show", "open", "trace", "save")
"""Messages that have a case or a trace read, which the page may think better of."""


class Talk:
    """What one open page and this program say to each other."""

    def __init__(self, send: Send, crew: Crew, memory: Memory) -> None:
        self._send = send
        self._crew = crew
        self._memory = memory
        self._solve: asyncio.Task[None] | None = None
        self._report: asyncio.Task[None] | None = None
        self._asking: asyncio.Task[None] | None = None
        self._doing: dict[str, Callable[[dict[str, Any]], Awaitable[None]]] = {
            "show": self._show,
            "cancel": self._cancel,
            "open": self._open,
            "trace": self._trace,
            "save": self._save,
            "report": self._write_report,
            "cancel report": self._cancel_report,
            "ask": self._ask,
            "player": self._player,
            "hand over": self._hand_over,
            "save sheet": self._save_sheet,
            "cancel ask": self._cancel_ask,
        }

    async def hear(self, text: str) -> None:
        """Take one message of the page; what cannot be understood is answered, not obeyed."""
        try:
            message = json.loads(text)
            do, turn = self._doing[message["do"]], message.get("turn")
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            await self._say("trouble", words="the page sent something that is not understood")
            return
        try:
            await do(message)
        except InvalidCase as error:
            await self._say("faults", turn=turn, faults=_fault_rows(error.faults))
        except Exception as error:  # the last line of defence: the page gets a sentence and can go on
            await self._say("failed", turn=turn, words=f"{type(error).__name__}: {error}")

    async def listen(self, words: AsyncIterator[str]) -> None:
        """Take a page's messages in their order; one that overtakes what is being read stops that reading.

        A reading goes on in its thread until it is done, which the limits of a case keep short; nobody waits for it.
        """
        reading, about = None, ""
        try:
            async for text in words:
                asked = _asked(text)
                if reading is not None and not reading.done():
                    if asked == "cancel" or asked == about == "show":
                        reading.cancel()
                    await asyncio.wait({reading})
                reading, about = asyncio.get_running_loop().create_task(self.hear(text)), asked
                if asked not in READINGS:
                    await asyncio.wait({reading})
        finally:
            if reading is not None:
                reading.cancel()

    async def end(self) -> None:
        """The page is gone: stop what it waited for."""
        for task in (self._solve, self._report, self._asking):
            if task is not None:
                task.cancel()

    async def _say(self, what: str, **more: Any) -> None:
        await self._send(json.dumps({"say": what, **more}))

    async def _show(self, message: dict[str, Any]) -> None:
        self._stop_solve()
        turn = message.get("turn")
        case = await asyncio.to_thread(case_from_page, message.get("case"))
        key = case_key(case, solver_identity())
        kept = self._memory.find(key)
        if kept is not None:
            await self._send(_with_head("solved", turn, kept.shown, {"remembered": True}))
            return
        self._solve = asyncio.get_running_loop().create_task(self._solved(turn, case, key))

    async def _solved(self, turn: Any, case: Case, key: str) -> None:
        row = features(case.problem)
        news: asyncio.Queue[Any] = asyncio.Queue()
        teller = asyncio.get_running_loop().create_task(self._pass_on({"say": "progress", "turn": turn}, news))

        def hear(told: Any) -> None:
            if isinstance(told, AtOnce):
                self._memory.keep_start(row, Start(case.resolved, told.pressed))
            news.put_nowait(told)

        try:
            found = await self._crew.run(PressJob(case, self._memory.start_near(row)), hear)
            await news.join()  # the first equilibrium goes before the solution
        except JobFailed as error:
            await self._say("failed", turn=turn, words=str(error).partition("\n")[0])
            return
        finally:
            teller.cancel()
        if isinstance(found, NoSolution):
            await self._say("stopped", turn=turn, force_n=case.problem.load.force,
                            reached_n=found.force_reached_n, cause=found.cause, advice=found.advice)  # fmt: skip
            return
        self._memory.keep(Remembered(key, found.text), found.outcome)
        self._memory.keep_start(row, Start(case.resolved, found.pressed))
        await self._send(_with_head("solved", turn, found.text, {"remembered": False}))

    async def _pass_on(self, head: dict[str, Any], news: asyncio.Queue[Any]) -> None:
        """Tell of a first equilibrium as soon as it is there, and under ``head`` of progress ten times a second."""
        told_at = -math.inf
        while True:
            latest = await news.get()
            try:
                if isinstance(latest, AtOnce):
                    await self._send(_with_head("pressed", head["turn"], latest.text, {}))
                elif time.monotonic() - told_at > PROGRESS_EVERY_S:
                    told_at = time.monotonic()
                    await self._send(json.dumps({**head, **latest}))
            finally:
                news.task_done()

    async def _cancel(self, message: dict[str, Any]) -> None:
        self._stop_solve()
        await self._say("cancelled", turn=message.get("turn"))

    def _stop_solve(self) -> None:
        if self._solve is not None:
            self._solve.cancel()
            self._solve = None

    async def _open(self, message: dict[str, Any]) -> None:
        name, text, files = str(message.get("name")), message.get("text"), message.get("files")
        with tempfile.TemporaryDirectory() as folder:
            beside = {str(k): str(v) for k, v in files.items()} if isinstance(files, dict) else {}
            case = await asyncio.to_thread(opened, name, str(text), beside, Path(folder))
        dimensions = await asyncio.to_thread(dimensions_of, case)
        await self._say("opened", name=name, case=tables_of(case), warnings=list(case.warnings), dimensions=dimensions)

    async def _trace(self, message: dict[str, Any]) -> None:
        name = str(message.get("name"))
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder, Path(name).name or "trace")
            place.write_text(str(message.get("text")), encoding="utf-8")
            found = await asyncio.to_thread(traced_profile, place, name)
        await self._say("traced", name=name, **found)

    async def _save(self, message: dict[str, Any]) -> None:
        case = await asyncio.to_thread(case_from_page, message.get("case"))
        await self._say("saved", text=case_toml(case))

    async def _write_report(self, message: dict[str, Any]) -> None:
        await self._cancel_report(message)
        cases = [case_from_page(tables) for tables in message.get("cases", ())]
        work = self._reported(cases, bool(message.get("thorough", True)))
        self._report = asyncio.get_running_loop().create_task(work)

    async def _reported(self, cases: list[Case], thorough: bool) -> None:
        async def tell(done: int, of: int) -> None:
            await self._say("report progress", done=done, of=of)

        try:
            html = await written_report(cases, thorough, self._crew, self._memory, tell)
        except* (JobFailed, ValueError) as group:
            first = group.exceptions[0]
            while isinstance(first, ExceptionGroup):
                first = first.exceptions[0]
            await self._say("report failed", words=str(first).partition("\n")[0])
        else:
            await self._say("report", html=html)

    async def _ask(self, message: dict[str, Any]) -> None:
        await self._cancel_ask(message)
        case = await asyncio.to_thread(case_from_page, message.get("case"))
        job = AskJob(str(message.get("what")), case, _files(message.get("files")))
        self._asking = asyncio.get_running_loop().create_task(self._asked_further(job))

    async def _player(self, message: dict[str, Any]) -> None:
        await self._cancel_ask(message)
        what, case = str(message.get("what")), await asyncio.to_thread(case_from_page, message.get("case"))
        if what not in ANSWERS:
            await self._say("ask failed", about=what, words=f"there is no question {what!r}")
            return
        try:
            sheet = await asyncio.to_thread(sheet_from_page, message.get("sheet"), message.get("rims"))
            if what == "shortlist":
                await asyncio.to_thread(rim_to_change, sheet)
        except InvalidCase as error:
            await self._say("sheet faults", faults=_fault_rows(error.faults))
            return
        self._asking = asyncio.get_running_loop().create_task(self._asked_further(PlayerJob(what, sheet, case)))

    async def _hand_over(self, message: dict[str, Any]) -> None:
        await self._cancel_ask(message)
        job = await asyncio.to_thread(handover_from_page, message.get("kept"), message.get("rim"))
        self._asking = asyncio.get_running_loop().create_task(self._asked_further(job))

    async def _save_sheet(self, message: dict[str, Any]) -> None:
        try:
            await asyncio.to_thread(sheet_from_page, message.get("sheet"), message.get("rims"))
        except InvalidCase as error:
            await self._say("sheet faults", faults=_fault_rows(error.faults))
            return
        await self._say("saved sheet", text=sheet_toml(message["sheet"]))

    async def _asked_further(self, job: AskJob | PlayerJob | HandoverJob) -> None:
        news: asyncio.Queue[Any] = asyncio.Queue()
        head = {"say": "ask progress", "about": job.what}
        teller = asyncio.get_running_loop().create_task(self._pass_on(head, news))
        try:
            await self._say("ask progress", about=job.what, share=0.0, words="waiting for a free process")
            found = await self._crew.run_long(job, news.put_nowait)
        except JobFailed as error:
            await self._say("ask failed", about=job.what, words=str(error).partition("\n")[0])
        else:
            await self._say("answered", about=job.what, **found)
        finally:
            teller.cancel()

    async def _cancel_ask(self, message: dict[str, Any]) -> None:
        if self._asking is not None:
            self._asking.cancel()
            self._asking = None

    async def _cancel_report(self, message: dict[str, Any]) -> None:
        if self._report is not None:
            self._report.cancel()
            self._report = None


def _asked(text: str) -> str:
    """Tell what a message asks for; nothing where it is not understood, which hearing it will tell."""
    try:
        return str(json.loads(text)["do"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return ""


def _files(given: Any) -> Files:
    """The files a page sent along, by name."""
    return {Path(str(name)).name: str(text) for name, text in given.items()} if isinstance(given, dict) else {}


def _fault_rows(faults: tuple[CaseFault, ...]) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = invalid_result(faults)["faults"]
    return rows


def _with_head(say: str, turn: Any, shown: str, more: dict[str, Any]) -> str:
    """Put a head before a text of JSON that is already written."""
    return json.dumps({"say": say, "turn": turn, **more})[:-1] + ", " + shown[1:]

