"""Starts the page's server and says where it is."""

from __future__ import annotations

import os
import socket
import sys
import traceback
import webbrowser
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cases.faults import InvalidCase
from cases.job import DONE, INVALID, OUR_FAULT, USAGE
from cases.reading import read_case
from cases.screen import Narrator
from cases.sweeping.local import processors
from cases.sweeping.work import THREADS

HERE = "127.0.0.1"
LARGEST_MESSAGE = 8_000_000


@dataclass(frozen=True)
class ExploreOrder:
    """What the command line asked for."""

    place: str = "demo"
    port: int = 0
    browser: bool = True
    memory: Path | None = None
    forget: bool = False
    workers: int = 0
    quiet: bool = False
    debug: bool = False


def run_explore(order: ExploreOrder) -> int:
    """Serve the page until interrupted and return the exit code."""
    narrator = Narrator(sys.stderr, order.quiet)
    try:
        return _serve(order, narrator)
    except InvalidCase as error:
        narrator.tell(str(error))
        return INVALID
    except ModuleNotFoundError as error:
        narrator.tell(f"labrum: the page needs {error.name}: pip install 'labrum[explore]'")
        return USAGE
    except KeyboardInterrupt:
        return DONE
    except Exception as error:  # the last line of defence: a person gets a sentence, not a traceback
        trace = traceback.format_exc() if order.debug else ""
        narrator.tell(f"{trace}labrum: a fault of our own: {type(error).__name__}: {error}; --debug shows where")
        return OUR_FAULT


def _serve(order: ExploreOrder, narrator: Narrator) -> int:
    start = starting_tables(order.place)
    import uvicorn

    from cases.exploring.crew import Crew
    from cases.exploring.memory import Memory
    from cases.exploring.server import House, application
    from cases.sweeping.identity import solver_identity

    try:
        door = socket.create_server((HERE, order.port))
    except OSError as error:
        narrator.tell(f"labrum: cannot listen on port {order.port}: {error.strerror}; name another with --port")
        return USAGE
    os.environ.update(THREADS)  # the workers inherit this: one thread each, for more slow one another down
    memory = Memory(None if order.forget else order.memory or usual_memory(), solver_identity())
    house = House(start, Crew(order.workers or max(2, processors()) + 1), memory)
    address = f"http://{HERE}:{door.getsockname()[1]}/"
    print(address, flush=True)
    narrator.say(f"open {address} in a browser; Ctrl-C ends it ({len(memory)} solved cases remembered)")
    if order.browser:
        webbrowser.open(address)
    settings = uvicorn.Config(
        application(house), log_level="warning", ws_max_size=LARGEST_MESSAGE, timeout_graceful_shutdown=2
    )
    uvicorn.Server(settings).run(sockets=[door])
    return DONE


def starting_tables(place: str) -> dict[str, Any]:
    """Read the case to begin with, and all else the bench starts from."""
    from cases.exploring.knobs import knobs
    from cases.exploring.tables import tables_of
    from cases.glossary import GROUPS
    from cases.library import demo_names, library_lip, lip_names
    from cases.result import CAUTIONS
    from simulate.resolution import FIXED, SHARE_OF_PEAK_ERROR

    case = read_case(place)
    groups = [[heading, [[e.name, e.unit, e.label, e.words] for e in entries]] for heading, entries in GROUPS]
    shipped = {name: tables_of(read_case(name)) for name in demo_names()}
    calibration = library_lip(lip_names()[0]).calibration
    return {"case": tables_of(case), "groups": groups, "cautions": list(CAUTIONS), "calibration": calibration,
            "shipped": shipped, "doubts": {"fixed": FIXED, "shares": SHARE_OF_PEAK_ERROR}, **knobs()}  # fmt: skip


def usual_memory() -> Path:
    """Return the file in the user's cache folder."""
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base, "labrum", "explored.sqlite")
