"""The page's server: bound to this machine only, one line of talk to each open page.

A page of the wide web could try to reach a server on this machine through the visitor's browser. So only requests
that name this machine as their host are answered, and a line is only opened to a page that came from here.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from labrum.cases.case_file.building import Case
from labrum.cases.exploring.lessons import lesson_data, lesson_names, lessons_index
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.profile import dimensions_of
from labrum.cases.exploring.session import Talk
from labrum.cases.exploring.tables import tables_of
from labrum.cases.exploring.teaching.states import Preparation, case_of_link, known_states
from labrum.cases.workers.page_crew import Crew
from labrum.reports.pages.live import bench_page, lesson_page, lessons_page
from labrum.reports.pages.report import asset

LARGEST_MESSAGE = 8_000_000
ENDS_WITHIN_S = 2
HOSTS = ["127.0.0.1", "localhost"]
SCRIPTS = {
    **{f"{name}.js": "text/javascript" for name in
       ("draw", "parts", "cases", "knobs", "layers", "numbers", "asks", "player", "bench", "lesson")},
    "live.css": "text/css",
}  # fmt: skip
GUARDS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
        "connect-src 'self' ws://127.0.0.1:* ws://localhost:*; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}


@dataclass(frozen=True)
class House:
    """What every page shares: the start of the bench, the crew and the memory."""

    start: dict[str, Any]
    crew: Crew
    memory: Memory


def application(house: House) -> Starlette:
    """Put the pages and the line of talk together."""
    preparation = Preparation(house.crew, house.memory)

    async def bench(request: Request) -> Response:
        return _page(bench_page(_begun(house.start, case_of_link(request.query_params))))

    async def lessons(request: Request) -> Response:
        preparation.begin()
        return _page(lessons_page(lessons_index()))

    async def lesson(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in lesson_names():
            return PlainTextResponse("There is no such lesson.", 404, GUARDS)
        preparation.begin(name)
        solved = await asyncio.to_thread(known_states, name, house.memory)
        return _page(lesson_page(lesson_data(name), solved))

    async def script(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in SCRIPTS:
            return PlainTextResponse("There is no such file.", 404, GUARDS)
        return Response(asset(name), media_type=SCRIPTS[name], headers=GUARDS)

    async def talk(line: WebSocket) -> None:
        await _converse(line, house)

    async def nothing(request: Request) -> Response:
        return Response(status_code=204, headers=GUARDS)

    @asynccontextmanager
    async def open_house(app: Starlette) -> AsyncIterator[None]:
        await house.crew.start()
        yield
        preparation.end()
        await house.crew.close()
        house.memory.close()

    return Starlette(
        routes=[
            Route("/", bench),
            Route("/lessons", lessons),
            Route("/lessons/{name}", lesson),
            Route("/assets/{name}", script),
            Route("/favicon.ico", nothing),
            WebSocketRoute("/talk", talk),
        ],
        middleware=[Middleware(TrustedHostMiddleware, allowed_hosts=HOSTS)],
        lifespan=open_house,
    )


def _begun(start: dict[str, Any], case: Case | None) -> dict[str, Any]:
    """Begin the bench with a case that a lesson links to, whatever the page remembers."""
    if case is None:
        return start
    return {**start, "case": tables_of(case), "dimensions": dimensions_of(case), "linked": True}


def _page(html: str) -> Response:
    return HTMLResponse(html, headers=GUARDS)


def from_here(origin: str | None, host: str | None) -> bool:
    """Tell whether a page that opens a line came from this very server."""
    return origin is not None and host is not None and origin == f"http://{host}"


class NotOfUs(logging.Filter):
    """Lets no trace through of what somebody else did wrong: a message that is no UTF-8 is answered by closing."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Tell whether to say it."""
        return not (record.exc_info and isinstance(record.exc_info[1], UnicodeDecodeError))


def server_of(app: Starlette) -> uvicorn.Server:
    """A server that says only what somebody must know."""
    settings = uvicorn.Config(
        app, log_level="warning", ws_max_size=LARGEST_MESSAGE, timeout_graceful_shutdown=ENDS_WITHIN_S
    )
    logging.getLogger("uvicorn.error").addFilter(NotOfUs())
    return uvicorn.Server(settings)


async def _converse(line: WebSocket, house: House) -> None:
    if not from_here(line.headers.get("origin"), line.headers.get("host")):
        await line.close(code=1008)
        return
    await line.accept()
    turn = asyncio.Lock()

    async def send(text: str) -> None:
        # A page that has gone away needs no answer; that it is gone shows where its words are awaited.
        with suppress(WebSocketDisconnect, RuntimeError):
            async with turn:
                await line.send_text(text)

    talk = Talk(send, house.crew, house.memory)
    try:
        await talk.listen(_words_on(line))
    except WebSocketDisconnect:
        return
    finally:
        await talk.end()


async def _words_on(line: WebSocket) -> AsyncIterator[str]:
    """What a page says; bytes, which no page of ours sends, are words that nobody understands."""
    while True:
        message = await line.receive()
        if message["type"] == "websocket.disconnect":
            return
        yield message.get("text") or ""
