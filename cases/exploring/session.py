"""One page's conversation: it says what it wants shown, and hears of faults, estimates, progress and solutions.

Everything that takes longer than a blink runs in a worker process or a thread. What the page asks next takes the place
of what it asked before: the older solve is stopped.
"""

from __future__ import annotations

import asyncio
import json
import tempfile
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.faults import CaseFault, InvalidCase
from labrum.cases.exploring.jobs import PressJob
from labrum.cases.exploring.memory import Memory, Remembered
from labrum.cases.exploring.preview import RoughJob
from labrum.cases.exploring.profile import dimensions_of, traced_profile
from labrum.cases.exploring.report import written_report
from labrum.cases.exploring.tables import case_from_page, case_toml, opened, tables_of
from labrum.cases.solving.fingerprint import case_key, solver_identity
from labrum.cases.solving.nearness import features
from labrum.cases.solving.result import invalid_result
from labrum.cases.workers.page_crew import Crew, JobFailed
from labrum.reports.pages.content import NoSolution
from labrum.reports.pages.picture import rim_points
from labrum.reports.pages.report import flat

Send = Callable[[str], Awaitable[None]]
READINGS = ("show", "open", "trace", "save")
"""Messages that have a case or a trace read, which the page may think better of."""
QUIET_S = 0.12
"""How long the page must be quiet before a solve starts: a knob that is still turning would waste it."""


class Talk:
    """What one open page and this program say to each other."""

    def __init__(self, send: Send, crew: Crew, memory: Memory, quiet_s: float = QUIET_S) -> None:
        self._send = send
        self._crew = crew
        self._memory = memory
        self._quiet_s = quiet_s
        self._solve: asyncio.Task[None] | None = None
        self._report: asyncio.Task[None] | None = None
        self._rough = Latest(self._roughly)
        self._doing: dict[str, Callable[[dict[str, Any]], Awaitable[None]]] = {
            "show": self._show,
            "cancel": self._cancel,
            "open": self._open,
            "trace": self._trace,
            "save": self._save,
            "report": self._write_report,
            "cancel report": self._cancel_report,
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
        for task in (self._solve, self._report):
            if task is not None:
                task.cancel()
        self._rough.stop()

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
        await self._estimate(turn, case)
        if case.problem.load.friction == 0.0:
            self._rough.want((turn, case))
        self._solve = asyncio.get_running_loop().create_task(self._solved(turn, case, key))

    async def _estimate(self, turn: Any, case: Case) -> None:
        near = self._memory.nearest(features(case.problem))
        if near is None:
            await self._say("outline", turn=turn, rim=rim_points(case.problem.rim, 0.0),
                            thickness_mm=case.problem.lip.thickness)  # fmt: skip
            return
        shown = json.loads(near.shown)
        more = {
            "instead": differing(case.resolved, shown["inputs"]),
            "rim": rim_points(case.problem.rim, shown["picture"]["sink_mm"]),
        }
        await self._send(_with_head("estimate", turn, near.shown, more))

    async def _solved(self, turn: Any, case: Case, key: str) -> None:
        await asyncio.sleep(self._quiet_s)
        await self._say("progress", turn=turn, share=0.0, words="waiting for a free processor")
        news: asyncio.Queue[Any] = asyncio.Queue()
        teller = asyncio.get_running_loop().create_task(self._pass_on(turn, news))
        try:
            start = self._memory.start_near(features(case.problem))
            found = await self._crew.run(PressJob(case, start), news.put_nowait)
        except JobFailed as error:
            await self._say("failed", turn=turn, words=str(error).partition("\n")[0])
            return
        finally:
            teller.cancel()
        if isinstance(found, NoSolution):
            await self._say("stopped", turn=turn, force_n=case.problem.load.force,
                            reached_n=found.force_reached_n, cause=found.cause, advice=found.advice)  # fmt: skip
            return
        row = features(case.problem)
        self._memory.keep(Remembered(key, row, found.text), found.outcome)
        self._memory.keep_start(row, found.pressed)
        await self._send(_with_head("solved", turn, found.text, {"remembered": False}))

    async def _roughly(self, asked: tuple[Any, Case]) -> None:
        """Show an unchecked equilibrium of what the page asked last."""
        turn, case = asked
        row = features(case.problem)
        try:
            found = await self._crew.run(RoughJob(case, self._memory.start_near(row)), lambda news: None)
        except JobFailed:
            return  # the solve proper meets the same trouble, and tells it
        if found is not None:
            self._memory.keep_start(row, found.pressed)
            await self._send(_with_head("unchecked", turn, found.text, {}))

    async def _pass_on(self, turn: Any, news: asyncio.Queue[Any]) -> None:
        """Tell of progress, the newest only and ten times a second at most."""
        while True:
            latest = await news.get()
            while not news.empty():
                latest = news.get_nowait()
            await self._say("progress", turn=turn, **latest)
            await asyncio.sleep(0.1)

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


class Latest:
    """Does work on what was asked last: one piece at a time, what was asked meanwhile and overtaken left out."""

    def __init__(self, work: Callable[[Any], Awaitable[None]]) -> None:
        self._work = work
        self._next: Any = None
        self._task: asyncio.Task[None] | None = None

    def want(self, what: Any) -> None:
        """Ask for a piece of work."""
        self._next = what
        if self._task is None or self._task.done():
            self._task = asyncio.get_running_loop().create_task(self._run())

    def stop(self) -> None:
        """Stop, in the middle of a piece too."""
        self._next = None
        if self._task is not None:
            self._task.cancel()

    async def _run(self) -> None:
        while self._next is not None:
            what, self._next = self._next, None
            await self._work(what)


def differing(wanted: dict[str, Any], shown: dict[str, Any]) -> list[list[str]]:
    """List key, wanted and shown value where two resolved cases differ, their titles aside."""
    a, b = dict(flat(wanted)), dict(flat(shown))
    keys = [key for key in dict.fromkeys((*a, *b)) if key != "title" and a.get(key) != b.get(key)]
    return [[key, a.get(key, "–"), b.get(key, "–")] for key in keys]


def _fault_rows(faults: tuple[CaseFault, ...]) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = invalid_result(faults)["faults"]
    return rows


def _with_head(say: str, turn: Any, shown: str, more: dict[str, Any]) -> str:
    """Put a head before a text of JSON that is already written."""
    return json.dumps({"say": say, "turn": turn, **more})[:-1] + ", " + shown[1:]

