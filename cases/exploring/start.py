"""Starts the page's server and says where it is."""

from __future__ import annotations

import os
import socket
import webbrowser
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

from labrum.cases.case_file.reading import read_case
from labrum.cases.exits import DONE, CannotDo, Terminated
from labrum.cases.manner import USUAL, Manner
from labrum.cases.solving.conduct import conducted
from labrum.cases.solving.screen import Narrator
from labrum.cases.workers.process import processors

LOOPBACK = "127.0.0.1"
JOBS = "labrum.cases.exploring.jobs"  # with all that a press draws on


@dataclass(frozen=True)
class ExploreOrder:
    """What the command line asked for."""

    place: str = "demo"
    port: int = 0
    browser: bool = True
    store: Path | None = None
    forget: bool = False
    workers: int = 0
    manner: Manner = USUAL


def run_explore(order: ExploreOrder) -> int:
    """Serve the page until interrupted and return the exit code."""
    return conducted(partial(_serve, order), order.manner)


def _serve(order: ExploreOrder, narrator: Narrator) -> int:
    start = starting_tables(order.place)
    try:
        from labrum.cases.exploring.server import House, application, server_of
    except ModuleNotFoundError as error:
        raise CannotDo(f"the page needs {error.name}: pip install 'labrum[explore]'") from None
    from labrum.cases.exploring.memory import Memory
    from labrum.cases.solving.fingerprint import solver_identity
    from labrum.cases.workers.page_crew import Crew

    try:
        door = socket.create_server((LOOPBACK, order.port))
    except OSError as error:
        raise CannotDo(f"cannot listen on port {order.port}: {error.strerror}; name another with --port") from None
    memory = Memory(None if order.forget else order.store or usual_memory(), solver_identity())
    house = House(start, Crew(order.workers or max(2, processors()) + 1, loaded=(JOBS,)), memory)
    address = f"http://{LOOPBACK}:{door.getsockname()[1]}/"
    print(address, flush=True)
    narrator.say(f"open {address} in a browser; Ctrl-C ends it ({len(memory)} solved cases remembered)")
    if order.browser:
        webbrowser.open(address)
    try:
        server_of(application(house)).run(sockets=[door])
    except Terminated:
        raise
    except KeyboardInterrupt:
        pass  # Ctrl-C is how it is meant to end
    return DONE


def starting_tables(place: str) -> dict[str, Any]:
    """Read the case to begin with, and all else the bench starts from."""
    from labrum.cases.exploring.asks.known import offered
    from labrum.cases.exploring.knobs import knobs
    from labrum.cases.exploring.players.form import sheet_form
    from labrum.cases.exploring.profile import dimensions_of
    from labrum.cases.exploring.tables import tables_of
    from labrum.cases.library.shelf import demo_names, library_lip, lip_names
    from labrum.cases.solving.result import CAUTIONS
    from labrum.reports.pages.first_reader import RANKINGS
    from labrum.simulate.measures.catalogue import CATALOGUE, GROUPS, OFF_AXIS

    case = read_case(place)
    groups = [
        [heading, [[e.name, e.unit, e.label, e.words, e.better.value] for e in entries]] for heading, entries in GROUPS
    ]
    shipped = {name: read_case(name) for name in demo_names()}
    calibration = library_lip(lip_names()[0]).calibration
    return {
        "case": tables_of(case), "dimensions": dimensions_of(case), "groups": groups, "off_axis": OFF_AXIS,
        "cautions": list(CAUTIONS), "calibration": calibration, "asks": offered(), "sheet": sheet_form(),
        "shipped": {name: tables_of(case) for name, case in shipped.items()},
        "shipped_dimensions": {name: said for name, case in shipped.items() if (said := dimensions_of(case))},
        "rankings": [asdict(ranking) for ranking in RANKINGS],
        "intervals": [m.name for m in CATALOGUE.values() if m.interval], **knobs(),
    }  # fmt: skip


def usual_memory() -> Path:
    """Return the file in the user's cache folder."""
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base, "labrum", "explored.sqlite")
