"""What a page, or whatever else talks to its port, may send: the server says nothing of it and goes on.

Frames are written by hand after RFC 6455, section 5.2, so that they can be wrong.
"""

from __future__ import annotations

import asyncio
import json
import logging
import os
import socket
import struct
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.tables import tables_of

pytest.importorskip("uvicorn")
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning:websockets", "ignore::DeprecationWarning:uvicorn")

TEXT, BINARY, PING, CLOSE = 0x81, 0x82, 0x89, 0x88


@dataclass
class NeverDone:
    """A crew whose jobs end only when they are given up."""

    given_up: int = 0
    is_busy: bool = True
    begun: asyncio.Event = field(default_factory=asyncio.Event)

    async def start(self) -> None:
        """Nobody is hired."""

    async def close(self) -> None:
        """Nobody is there."""

    async def run(self, job: Any, tell: Callable[[Any], Any]) -> Any:
        self.begun.set()
        try:
            await asyncio.Event().wait()
        finally:
            self.given_up += 1


def frame(kind: int, content: bytes, length: int | None = None, masked: bool = True) -> bytes:
    """One frame; its head may tell of another ``length`` than it has."""
    told = len(content) if length is None else length
    size = bytes([told]) if told < 126 else b"\x7e" + struct.pack(">H", told) if told < 65536 else (
        b"\x7f" + struct.pack(">Q", told))  # fmt: skip
    head = bytes([kind, size[0] | (0x80 if masked else 0)]) + size[1:]
    key = os.urandom(4)
    return head + key + bytes(b ^ key[k % 4] for k, b in enumerate(content)) if masked else head + content


SHOW = json.dumps({"do": "show", "turn": 1, "case": tables_of(read_case("demo"))}).encode()
FAULTS: dict[str, bytes] = {
    "half a head": b"\x81",
    "half a frame": frame(TEXT, b'{"do": "show"', 500),
    "a frame of nine megabytes": frame(TEXT, b"x" * 10, 9_000_000),
    "a frame of 2^62 bytes": frame(TEXT, b"x" * 10, 1 << 62),
    "no JSON": frame(TEXT, b"{{{"),
    "deep JSON": frame(TEXT, b"[" * 50_000),
    "bytes": frame(BINARY, b"\x00\x01\xff"),
    "no UTF-8": frame(TEXT, b"\xff\xfe\xfd"),
    "an unknown kind": frame(0x8B, b"x"),
    "an end without a beginning": frame(0x80, b"x"),
    "reserved bits": frame(0xF1, b"x"),
    "no mask": frame(TEXT, b'{"do": "cancel"}', masked=False),
    "a ping too long": frame(PING, b"x" * 200),
    "an odd goodbye": frame(CLOSE, b"\x03"),
    "no frame at all": b"GET / HTTP/1.1\r\n\r\n",
    "a solve": frame(TEXT, SHOW),
}


async def line_to(port: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    """Open a line as a page of the server's own does."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    head = (
        "GET /talk HTTP/1.1", f"Host: 127.0.0.1:{port}", f"Origin: http://127.0.0.1:{port}", "Upgrade: websocket",
        "Connection: Upgrade", "Sec-WebSocket-Version: 13", "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==", "", "",
    )  # fmt: skip
    writer.write("\r\n".join(head).encode())
    assert b"101" in (await reader.readuntil(b"\r\n\r\n")).split(b"\r\n")[0]
    return reader, writer


def cut(writer: asyncio.StreamWriter) -> None:
    """Break the connection off without a goodbye."""
    door = writer.get_extra_info("socket")
    door.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    writer.transport.abort()


async def send_faults(port: int, crew: NeverDone) -> None:
    """Send each fault and break off, then half a handshake; a solve is under way when its page is cut off."""
    for name, content in FAULTS.items():
        _, writer = await line_to(port)
        writer.write(content)
        await writer.drain()
        await (crew.begun.wait() if name == "a solve" else asyncio.sleep(0.005))
        cut(writer)
    for start in (b"GET /talk HTTP/1.1\r\nUpgrade: websocket\r\n\r\n", b"GET /ta", b"\x16\x03\x01\x02", b"\r\n" * 50):
        _, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(start)
        await writer.drain()
        cut(writer)


async def still_talks(port: int) -> None:
    """A page that comes afterwards is answered."""
    reader, writer = await line_to(port)
    writer.write(frame(TEXT, b"{{{"))
    head = await reader.readexactly(2)
    told = await reader.readexactly(head[1])
    assert json.loads(told)["say"] == "trouble"
    cut(writer)


@pytest.fixture
def loggers() -> Iterator[None]:
    """Put back what the server's own logging changes."""
    names = ("uvicorn", "uvicorn.error", "uvicorn.access", "uvicorn.asgi")
    before = [(one, one.handlers[:], one.propagate, one.level, one.filters[:]) for one in map(logging.getLogger, names)]
    yield
    for one, one.handlers, one.propagate, level, one.filters in before:
        one.setLevel(level)


def test_faults_on_the_line_leave_no_trace_and_stop_nothing(
    loggers: None, caplog: pytest.LogCaptureFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    from labrum.cases.exploring.server import House, application, server_of

    async def go() -> int:
        crew = NeverDone()
        server = server_of(application(House({}, crew, Memory(None, "s"))))  # type: ignore[arg-type]
        door = socket.create_server(("127.0.0.1", 0))
        port = door.getsockname()[1]
        serving = asyncio.create_task(server.serve(sockets=[door]))
        while not server.started:
            await asyncio.sleep(0.001)
        await send_faults(port, crew)
        await still_talks(port)
        while not crew.given_up:
            await asyncio.sleep(0.001)
        server.should_exit = True
        await serving
        return crew.given_up

    assert asyncio.run(go()) == 1
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    assert "ERROR" not in told.err
    assert told.out == ""
    assert [record.getMessage() for record in caplog.records if record.levelno >= logging.ERROR] == []
