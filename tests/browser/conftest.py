"""A real browser and a real page to drive; skipped, with the reason, where either is missing."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

ARGUMENTS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
NAMES = ("chromium", "chromium-browser", "google-chrome")
NEEDED = ("playwright", "starlette", "uvicorn", "websockets")
SLOWEST_MS = 60_000
OURS = ("http://127.0.0.1:", "ws://127.0.0.1:", "file://", "blob:", "data:")
ROOT = Path(__file__).parents[2]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


def chromium() -> str | None:
    """The browser of this machine: LABRUM_CHROMIUM, or what is installed."""
    return os.environ.get("LABRUM_CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        pytest.skip(f"{', '.join(missing)} not installed: pip install 'labrum[browser]'")
    program = chromium()
    if program is None:
        pytest.skip("no Chromium found: install it, or name it in LABRUM_CHROMIUM")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=program, args=list(ARGUMENTS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def memory_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Solved cases shared by the servers of one test session."""
    return tmp_path_factory.mktemp("memory") / "explored.sqlite"


@pytest.fixture(scope="session")
def address(browser: Any, memory_file: Path) -> Iterator[str]:
    """A server of our own, on a free port of this machine."""
    command = [sys.executable, "-m", "labrum.cases.command", "explore", "--no-browser", "--store", str(memory_file)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment) as server:
        assert server.stdout is not None
        yield server.stdout.readline().strip()
        server.terminate()


@dataclass
class Opened:
    """A page, and everything it asked for or complained of."""

    page: Any
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture
def visit(browser: Any) -> Iterator[Callable[..., Opened]]:
    """Open a page in a browser window of its own; at the end nothing may have gone wrong in it."""
    made: list[Opened] = []

    def go(url: str, width: int = 1440, height: int = 900, context: Any = None) -> Opened:
        window = context or browser.new_context(viewport={"width": width, "height": height}, accept_downloads=True)
        opened = Opened(window.new_page())
        opened.page.set_default_timeout(SLOWEST_MS)
        opened.page.on("request", lambda request: opened.asked.append(request.url))
        opened.page.on("websocket", lambda line: opened.asked.append(line.url))
        opened.page.on("console", lambda said: opened.complaints.append(said.text))
        opened.page.on("pageerror", lambda error: opened.complaints.append(str(error)))
        made.append(opened)
        opened.page.goto(url)
        return opened

    yield go
    try:
        for opened in made:
            assert opened.complaints == []
            assert [url for url in opened.asked if not url.startswith(OURS)] == []
    finally:
        for opened in made:
            opened.page.context.close()


@pytest.fixture(scope="session")
def axe() -> str:
    """The script of axe-core, where somebody has installed it."""
    places = [ROOT / "node_modules", *map(Path, filter(None, os.environ.get("NODE_PATH", "").split(os.pathsep)))]
    for place in places:
        script = place / "axe-core" / "axe.min.js"
        if script.is_file():
            return script.read_text(encoding="utf-8")
    pytest.skip("axe-core not found: npm install axe-core somewhere, and name its node_modules in NODE_PATH")
