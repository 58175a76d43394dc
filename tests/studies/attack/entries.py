"""What takes input from outside, each with inputs to begin from and a function that takes one as the program does."""

from __future__ import annotations

import asyncio
import contextlib
import io
import json
import shlex
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

import typer

from labrum.cases.case_file.reading import read_case
from labrum.cases.command import app
from labrum.cases.exits import BadInput
from labrum.cases.exploring.asks.known import AskJob
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.players.answers import PlayerJob
from labrum.cases.exploring.session import Talk
from labrum.cases.exploring.tables import tables_of
from labrum.cases.library.shelf import demo_names, demo_text, sheet_text
from labrum.cases.player.sheet import read_sheet
from labrum.cases.sweeping.plan import read_plan
from labrum.cases.workers import pool
from labrum.cases.workers.page_crew import JobFailed
from labrum.meshes.faults import GeometryError
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.trace import measured_rim
from labrum.reports.pages.content import NoSolution
from labrum.simulate.problem import NotConverged
from tests import gauge_rims
from tests.fuzz.test_fuzz_inputs import DRAWINGS, PLAN, SHORT_TRACE

CASES = [demo_text(name).encode() for name in demo_names() if name != "demo-trace"]
UNHEARD = ("explore", "lessons")
"""Commands that the options' entry leaves out: one waits for Ctrl-C, the other solves for minutes."""
LAST_CODE = 5
UNSOLVED = "nothing is solved here"


class Unexpected(Exception):
    """What must not happen, and is no exception by itself."""


@dataclass(frozen=True)
class Entry:
    """A name, inputs to begin from, and what takes one: it returns what a person is told, or raises what it must not.

    It runs in a folder of its own, to which it may write what ``writes`` allows: all, or nothing but the input.
    """

    name: str
    seeds: Sequence[bytes]
    take: Callable[[bytes], str]
    writes: bool = False


def _told(read: Callable[[], object]) -> str:
    try:
        read()
    except (BadInput, GeometryError) as error:
        return str(error) or _silent()
    return ""


def _silent() -> str:
    raise Unexpected("a refusal without words")


def _of_a_file(name: str, read: Callable[[Path], object]) -> Callable[[bytes], str]:
    def take(content: bytes) -> str:
        path = Path(name)
        path.write_bytes(content)
        return _told(lambda: read(path))

    return take


def _traced(path: Path) -> None:
    read_file(path, "mm")
    measured_rim(path, "mm")


def _outlines() -> Iterator[bytes]:
    head = b'schema = 1\n[lip]\ntype = "average"\n[load]\nforce_n = 20.0\n[rim]\noutline_mm = '
    rows = gauge_rims.plain_rim().curve.vertices.tolist()
    for some in (rows, rows[:4], [[8.0, 1.0, 0.4], [9.0, 0.0, 0.0], [12.0, 0.5, 0.0]]):
        yield head + json.dumps(some).replace("], ", "],\n").encode()


SHEETS = [sheet_text("demo-player").encode(), sheet_text("sheet").encode()]


class _Nobody:
    """In place of the page's worker processes: what is asked is answered here, but nothing is solved."""

    is_busy = True

    async def run(self, job: Any, tell: Callable[[Any], Any]) -> Any:
        if not isinstance(job, AskJob | PlayerJob):
            return NoSolution(1.0, "a cause", "an advice")
        try:
            return job.run(tell)
        except NotConverged:
            raise JobFailed(UNSOLVED) from None


def _messages() -> list[bytes]:
    tables = tables_of(read_case("demo"))
    trace = SHORT_TRACE.decode()
    sheet = {"instrument": "trumpet", "press": [{"rim": "demo", "force_n": 10.0, "sink_mm": 1.9}]}
    return [json.dumps(message).encode() for message in (
        {"do": "show", "turn": 1, "case": tables},
        {"do": "save", "case": tables},
        {"do": "open", "name": "a.toml", "text": demo_text("demo-trace"), "files": {"demo-trace.csv": trace}},
        {"do": "trace", "name": "a.csv", "text": trace},
        {"do": "report", "cases": [tables], "thorough": False},
        {"do": "ask", "what": "gauges", "turn": 1, "case": tables, "files": {"a.csv": trace}},
        {"do": "player", "what": "lip", "turn": 1, "sheet": sheet, "rims": {"mine": tables},
         "case": tables},
        {"do": "save sheet", "sheet": sheet, "rims": {}},
        {"do": "cancel", "turn": 1}, {"do": "cancel ask"}, {"do": "cancel report"},
    )]  # fmt: skip


def _spoken() -> Callable[[bytes], str]:
    """A page that says one thing; an exception of ours is told to it as a failure, and so found here."""
    loop, lost = asyncio.new_event_loop(), list[str]()
    loop.set_exception_handler(lambda loop, about: lost.append(str(about.get("exception") or about["message"])))

    async def say(text: str) -> list[str]:
        heard: list[str] = []

        async def send(answer: str) -> None:
            heard.append(answer)

        talk = Talk(send, _Nobody(), Memory(None, "s"))  # type: ignore[arg-type]
        await talk.hear(text)
        for _ in range(4):
            await asyncio.sleep(0)
        await talk.end()
        return heard

    def take(content: bytes) -> str:
        for answer in loop.run_until_complete(say(content.decode("utf-8", "replace"))):
            told = json.loads(answer)
            if told["say"] == "failed" and told["words"] != UNSOLVED:
                raise Unexpected(told["words"][:200])
        if lost:
            raise Unexpected(lost.pop()[:200])
        return ""

    return take


def _words() -> list[bytes]:
    """Every option of every command, taken from the program itself, on small things."""
    found = []
    for name, command in typer.main.get_command(app).commands.items():  # type: ignore[attr-defined]
        if name in UNHEARD:
            continue
        options = [option for one in command.params for option in one.opts if option.startswith("--")]
        place = "plan.toml" if name in ("sweep", "search", "map", "wide-enough", "trade-off", "steadiness") else "demo"
        found += [f"{name} {place} {option} 1".encode() for option in options]
        found += [f"{name} a.toml --out here --force".encode(), f"{name} --help".encode(), f"{name} \x1b[31m".encode()]
    return found


def _commanded(words: bytes) -> str:
    """Run the command line; what is solved does not converge, and worker processes are this one."""
    try:
        split = shlex.split(words.decode("utf-8", "replace"))
    except ValueError:
        return ""
    if not split or split[0] in UNHEARD or any("/" in word or "~" in word or ".." in word for word in split):
        return ""  # what is named by a path elsewhere may be written there
    out, code = io.StringIO(), 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        try:
            app(split, prog_name="labrum")
        except SystemExit as end:
            code = int(end.code or 0)
    if code not in range(LAST_CODE + 1) or code == 1 or "Traceback" in out.getvalue():
        raise Unexpected(f"exit code {code}: {out.getvalue()[-200:]}")
    return out.getvalue()


def stand_in() -> None:
    """For the rest of this process: nothing is solved, and no process is started."""
    mock.patch("labrum.simulate.solve", _unsolved).start()
    for module in ("pool", "each", "local"):
        mock.patch(f"labrum.cases.workers.{module}.done_in_processes", _done_here).start()


def _unsolved(problem: Any, progress: Any = None, **more: Any) -> Any:
    raise NotConverged(0.0, UNSOLVED, "nothing")


def _done_here(begin: pool.Begin[Any, Any], tasks: Sequence[Any], workers: int = 0) -> Iterator[tuple[int, Any]]:
    with begin() as do:
        for number, task in enumerate(tasks):
            yield number, do(task)


def entries() -> dict[str, Entry]:
    """Every entry by its name."""
    every = (
        Entry("case", CASES, _of_a_file("a.toml", lambda path: read_case(str(path)))),
        Entry("outline", list(_outlines()), _of_a_file("a.toml", lambda path: read_case(str(path)))),
        Entry("plan", [PLAN], _of_a_file("plan.toml", read_plan)),
        Entry("sheet", SHEETS, _of_a_file("sheet.toml", lambda path: read_sheet(str(path)))),
        Entry("CSV", [SHORT_TRACE, SHORT_TRACE[:600], SHORT_TRACE.replace(b",", b";")], _of_a_file("a.csv", _traced)),
        Entry("DXF", list(DRAWINGS.values()), _of_a_file("a.dxf", _traced)),
        Entry("options", _words(), _commanded, writes=True),
        Entry("websocket", _messages(), _spoken()),
    )
    return {entry.name: entry for entry in every}
