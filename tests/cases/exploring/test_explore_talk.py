"""The talk between a page and the program: every question answered, older solves stopped, nonsense survived."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.case_file.schema import TABLES
from labrum.cases.exploring.jobs import AtOnce, PaperJob, PressJob, Shown, SolveJob, words_of
from labrum.cases.exploring.knobs import LIP_KNOBS, LOAD_KNOBS, RIM_KNOBS, knobs
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.session import Talk
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.cases.library.shelf import demo_place, demo_text
from labrum.cases.workers.page_crew import JobFailed
from labrum.reports.pages.content import NoSolution
from labrum.simulate.outcome import Outcome
from labrum.simulate.problem import Problem, Progress

OutcomeOf = Callable[[Problem], Outcome]
TEXT = '{"picture": {"sink_mm": 2.0}, "result": {"peak_pressure_kpa": 1.0}, "inputs": {"load": {"force_n": 20.0}}}'


class PretendCrew:
    """Answers jobs at once, or never; counts what was asked and what was given up."""

    def __init__(self, outcome_of: OutcomeOf, answer: Any = None, never: bool = False) -> None:
        self.outcome_of, self.answer, self.never = outcome_of, answer, never
        self.asked: list[Any] = []
        self.starts: list[Any] = []
        self.first: AtOnce | None = None
        self.given_up = 0
        self.is_busy = True  # nothing is solved for nobody

    async def run(self, job: Any, tell: Callable[[Any], Any]) -> Any:
        self.asked.append(job)
        try:
            if self.never:
                await asyncio.Event().wait()
        except asyncio.CancelledError:
            self.given_up += 1
            raise
        tell({"share": 0.5, "words": "half way"})
        await asyncio.sleep(0)
        if isinstance(self.answer, Exception):
            raise self.answer
        if isinstance(job, PressJob):
            self.starts.append(job.start)
            if self.first is not None:
                tell(self.first)
            return self.answer or Shown(TEXT, self.outcome_of(job.case.problem), "a press")
        return "<!doctype html>" if isinstance(job, PaperJob) else self.outcome_of(job.problem)


def talk(crew: PretendCrew, *messages: Any, memory: Memory | None = None) -> list[dict[str, Any]]:
    """Say some things, wait for all that follows, return what was heard."""
    heard: list[dict[str, Any]] = []

    async def send(text: str) -> None:
        heard.append(json.loads(text))

    async def go() -> None:
        one = Talk(send, crew, memory or Memory(None, "s"))
        for message in messages:
            await one.hear(message if isinstance(message, str) else json.dumps(message))
            await asyncio.sleep(0.01)
        for _ in range(20):
            await asyncio.sleep(0.005)
        await one.end()
        await asyncio.sleep(0)

    asyncio.run(go())
    return heard


def show(turn: int = 1, **load: float) -> dict[str, Any]:
    tables = tables_of(read_case("demo"))
    return {"do": "show", "turn": turn, "case": {**tables, "load": {**tables["load"], **load}}}


def said(heard: list[dict[str, Any]]) -> list[str]:
    return [message["say"] for message in heard]


def test_progress_and_then_the_solution(outcome_of: OutcomeOf) -> None:
    heard = talk(PretendCrew(outcome_of), show())
    assert said(heard) == ["progress", "solved"]
    assert {m["turn"] for m in heard} == {1}
    assert heard[-1]["result"] == {"peak_pressure_kpa": 1.0}
    assert heard[-1]["remembered"] is False


def test_the_same_case_is_answered_from_memory(outcome_of: OutcomeOf) -> None:
    crew, memory = PretendCrew(outcome_of), Memory(None, "s")
    heard = talk(crew, show(), show(2, force_n=21.0), show(3), memory=memory)
    third = [m for m in heard if m["turn"] == 3]
    assert said(third) == ["solved"]
    assert third[0]["remembered"] is True
    assert len(crew.asked) == 2


def test_a_press_begins_where_the_last_one_ended_and_its_first_equilibrium_is_shown(outcome_of: OutcomeOf) -> None:
    crew = PretendCrew(outcome_of)
    crew.first = AtOnce(TEXT, "where it ended")  # type: ignore[arg-type]
    heard = talk(crew, show(), show(2, force_n=21.0))
    for turn in (1, 2):
        assert [what for what in said([m for m in heard if m["turn"] == turn]) if what != "progress"] == [
            "pressed", "solved"
        ]  # fmt: skip
    assert crew.starts[0] is None
    assert crew.starts[1].pressed in ("where it ended", "a press")
    assert crew.starts[1].tables["load"]["force_n"] == 20.0


def test_a_newer_question_stops_the_older_solve(outcome_of: OutcomeOf) -> None:
    crew = PretendCrew(outcome_of, never=True)
    talk(crew, show(), show(2, force_n=21.0), show(3, force_n=22.0))
    assert [job.case.problem.load.force for job in crew.asked] == [20.0, 21.0, 22.0]
    assert crew.given_up == 3  # the last when the page goes away


def test_cancelled_is_cancelled(outcome_of: OutcomeOf) -> None:
    crew = PretendCrew(outcome_of, never=True)
    heard = talk(crew, show(), {"do": "cancel", "turn": 1})
    assert said(heard)[-1] == "cancelled"
    assert crew.given_up == 1


def test_no_equilibrium_is_told_with_its_cause_and_is_not_remembered(outcome_of: OutcomeOf) -> None:
    memory = Memory(None, "s")
    heard = talk(PretendCrew(outcome_of, NoSolution(7.0, "a cause", "an advice")), show(), memory=memory)
    assert heard[-1] == {
        "say": "stopped", "turn": 1, "force_n": 20.0, "reached_n": 7.0, "cause": "a cause", "advice": "an advice"
    }  # fmt: skip
    assert len(memory) == 0


def test_a_lost_worker_is_told(outcome_of: OutcomeOf) -> None:
    heard = talk(PretendCrew(outcome_of, JobFailed("the worker process ended\ntrace")), show())
    assert heard[-1] == {"say": "failed", "turn": 1, "words": "the worker process ended"}


def test_faults_are_told_with_their_keys(outcome_of: OutcomeOf) -> None:
    crew = PretendCrew(outcome_of)
    heard = talk(crew, show(4, force_n=-1.0))
    assert said(heard) == ["faults"]
    assert heard[0]["turn"] == 4
    assert heard[0]["faults"][0]["key"] == "load.force_n"
    assert not crew.asked


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "3", "null", '{"do": "fly"}', '{"do": ["show"]}', "[" * 100_000, '{"turn": 1}']
)
def test_nonsense_is_answered_and_the_talk_goes_on(outcome_of: OutcomeOf, text: str) -> None:
    heard = talk(PretendCrew(outcome_of), text, show())
    assert said(heard)[0] == "trouble"
    assert said(heard)[-1] == "solved"


def test_a_case_is_saved_as_its_text(outcome_of: OutcomeOf) -> None:
    (heard,) = talk(PretendCrew(outcome_of), {"do": "save", "case": show()["case"]})
    assert 'type = "average"' in heard["text"]


def test_a_case_is_opened_and_a_bad_one_told_by_line(outcome_of: OutcomeOf) -> None:
    good = {"do": "open", "name": "a.toml", "text": demo_text("thin-wide"), "files": {}}
    bad = {**good, "name": "b.toml", "text": demo_text("demo").replace("width_mm", "widht_mm")}
    heard = talk(PretendCrew(outcome_of), good, bad)
    assert said(heard) == ["opened", "faults"]
    assert heard[0]["case"]["lip"]["type"] == "thin"
    assert ("b.toml", 7) in [(fault["file"], fault["line"]) for fault in heard[1]["faults"]]


def test_a_trace_becomes_an_outline_or_faults(outcome_of: OutcomeOf) -> None:
    text = (demo_place() / "demo-trace.csv").read_text()
    heard = talk(
        PretendCrew(outcome_of),
        {"do": "trace", "name": "../x/demo-trace.csv", "text": text},
        {"do": "trace", "name": "no.csv", "text": "a,b\n1,2"},
    )
    assert said(heard) == ["traced", "faults"]
    assert case_from_page({**show()["case"], "rim": {"outline_mm": heard[0]["outline_mm"]}}).problem.rim.bite
    gauged = heard[0]["dimensions"]["rim"]
    assert case_from_page({**show()["case"], "rim": gauged}).problem.rim.source == "dimensions"
    assert gauged["inner_diameter_mm"] == pytest.approx(16.6, abs=0.01)


@pytest.mark.parametrize(("thorough", "presses"), [(True, 9), (False, 1)])  # stiffness and friction varied
def test_a_report_presses_what_is_missing(outcome_of: OutcomeOf, thorough: bool, presses: int) -> None:
    crew = PretendCrew(outcome_of)
    heard = talk(crew, {"do": "report", "cases": [show()["case"]], "thorough": thorough})
    assert [type(job) for job in crew.asked] == [SolveJob] * presses + [PaperJob]
    assert heard[-1] == {"say": "report", "html": "<!doctype html>"}
    assert heard[-2] == {"say": "report progress", "done": presses, "of": presses + 1}
    known = talk(crew, show(), {"do": "report", "cases": [show()["case"]], "thorough": False}, memory=Memory(None, "s"))
    assert said(known)[-1] == "report"
    assert not isinstance(crew.asked[-2], SolveJob)


@pytest.mark.parametrize("cases", [[], [show()["case"]] * 7])
def test_reports_of_none_or_too_many_are_refused(outcome_of: OutcomeOf, cases: list[Any]) -> None:
    heard = talk(PretendCrew(outcome_of), {"do": "report", "cases": cases})
    assert heard[-1]["say"] == "report failed"
    assert "1 to 6 rims" in heard[-1]["words"]


def test_a_report_that_fails_says_so(outcome_of: OutcomeOf) -> None:
    heard = talk(PretendCrew(outcome_of, JobFailed("gone")), {"do": "report", "cases": [show()["case"]]})
    assert heard[-1] == {"say": "report failed", "words": "gone"}


def test_news_are_words() -> None:
    problem = read_case("demo").problem
    assert words_of(Progress("press", -0.0, 1, 0.1, 0.0, 9), problem) == "pressing: 0.0 of 20 N"
    assert words_of(Progress("hold", 20.0, 1, 0.1, 0.0, 900), problem) == "checking on a finer grid: 900 unknowns"


def test_every_knob_turns_a_key_of_the_case_within_what_it_allows() -> None:
    keys = {f"{t.name}.{k.name}": k for t in TABLES for k in t.keys}
    for knob in (*RIM_KNOBS, *LIP_KNOBS, *LOAD_KNOBS):
        for value in (knob.low, knob.high):
            assert keys[knob.key].take(value) == value
        assert knob.step < knob.high - knob.low
    assert set(knobs()) == {"knobs", "off_axis_knobs", "lips", "loads"}


def test_another_origin_is_not_from_here() -> None:
    pytest.importorskip("starlette")
    from labrum.cases.exploring.server import from_here

    assert from_here("http://127.0.0.1:80", "127.0.0.1:80")
    for origin in (None, "null", "https://127.0.0.1:80", "http://elsewhere", "http://127.0.0.1:81"):
        assert not from_here(origin, "127.0.0.1:80")


async def answer_of(app: Any, path: str, host: str) -> tuple[int, dict[str, str], str]:
    """Ask an ASGI application by hand."""
    scope = {
        "type": "http", "method": "GET", "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "",
        "scheme": "http", "http_version": "1.1", "headers": [(b"host", host.encode())], "server": ("127.0.0.1", 80),
        "client": ("127.0.0.1", 9), "asgi": {"version": "3.0"},
    }  # fmt: skip
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    def send(message: dict[str, Any]) -> Awaitable[None]:
        sent.append(message)
        return asyncio.sleep(0)

    await app(scope, receive, send)
    headers = {key.decode(): value.decode() for key, value in sent[0]["headers"]}
    return sent[0]["status"], headers, b"".join(m.get("body", b"") for m in sent[1:]).decode()


def test_the_server_answers_this_machine_only_and_shuts_its_pages_in(outcome_of: OutcomeOf) -> None:
    pytest.importorskip("starlette")
    from labrum.cases.exploring.server import House, application
    from labrum.cases.exploring.start import starting_tables

    app = application(House(starting_tables("demo"), PretendCrew(outcome_of), Memory(None, "s")))
    for path in ("/", "/lessons", "/lessons/the-bite", "/assets/draw.js", "/assets/live.css"):
        status, headers, text = asyncio.run(answer_of(app, path, "127.0.0.1:80"))
        assert status == 200
        assert "default-src 'none'" in headers["content-security-policy"]
        assert text
    assert asyncio.run(answer_of(app, "/", "evil.example"))[0] == 400
    for path in ("/assets/page.css", "/assets/../page.py", "/lessons/none", "/docs"):
        assert asyncio.run(answer_of(app, path, "127.0.0.1:80"))[0] == 404


def test_a_reading_can_be_cancelled_and_is_overtaken(outcome_of: OutcomeOf, monkeypatch: pytest.MonkeyPatch) -> None:
    """While one case is read without end, the page hears that it was cancelled, and the next case is shown."""
    heard: list[dict[str, Any]] = []
    released, started = threading.Event(), threading.Event()
    read = case_from_page

    def slowly(tables: Any) -> Any:
        if tables["title"] == "slow":
            started.set()
            released.wait()
        return read(tables)

    monkeypatch.setattr("labrum.cases.exploring.session.case_from_page", slowly)

    async def send(text: str) -> None:
        heard.append(json.loads(text))

    async def words() -> AsyncIterator[str]:
        tables = tables_of(read_case("demo"))
        for turn in (1, 2):
            started.clear()
            yield json.dumps({"do": "show", "turn": turn, "case": {**tables, "title": "slow"}})
            while not started.is_set():
                await asyncio.sleep(0.001)
            if turn == 1:
                yield json.dumps({"do": "cancel", "turn": 1})
        yield json.dumps({"do": "show", "turn": 3, "case": tables})
        while not any(message["say"] == "solved" for message in heard):
            await asyncio.sleep(0.001)

    async def go() -> None:
        one = Talk(send, PretendCrew(outcome_of), Memory(None, "s"))  # type: ignore[arg-type]
        await one.listen(words())
        await one.end()
        released.set()

    asyncio.run(go())
    assert heard[0] == {"say": "cancelled", "turn": 1}
    assert {message["turn"] for message in heard[1:]} == {3}
