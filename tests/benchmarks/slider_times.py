"""How soon a moved slider is drawn as an equilibrium, and how soon its error is known, in a real browser.

    python -m tests.benchmarks.slider_times --moves 50 --seed 1 --case demo
    python -m tests.benchmarks.slider_times --alone    # the solver's own CPU time over the same moves, without a page

Each move sets one slider of the page to a value drawn at random between the ends of what players and makers use, every
fifth one the bite's to 0.1 to 0.25 mm; the next move waits until the last is solved. Times are wall times in the page,
from the slider's event to the frame that shows the picture: they hold what other work the machine does meanwhile.
"""

from __future__ import annotations

import argparse
import os
import random
import subprocess
import sys
import time
from typing import Any

import numpy as np

from labrum.cases.case_file.reading import read_case
from labrum.cases.exploring.halfway import Start
from labrum.cases.exploring.jobs import AtOnce, PressJob, Shown
from labrum.cases.exploring.memory import Memory
from labrum.cases.exploring.tables import case_from_page, tables_of
from labrum.cases.solving.nearness import features
from tests.browser.conftest import ARGUMENTS, chromium

RANGES = {
    "rim.inner_diameter_mm": (15.0, 19.0),
    "rim.width_mm": (3.8, 6.4),
    "rim.high_point": (0.3, 0.6),
    "rim.bite_radius_mm": (0.25, 1.4),
    "rim.inner_crown_radius_mm": (4.0, 10.0),
    "rim.outer_crown_radius_mm": (4.0, 12.0),
    "rim.shoulder_radius_mm": (0.8, 2.0),
    "rim.cup_wall_angle_deg": (52.0, 80.0),
    "load.force_n": (5.0, 40.0),
    "lip.radius_mm": (22.0, 32.0),
}
SHARP = (0.1, 0.25)
GOALS_S = (0.15, 0.5)
MOVE = """([key, value]) => {
    performance.clearMarks();
    const slider = document.querySelector(`[data-key="${key}"][type=range]`);
    slider.value = Knobs.positionOf(key, value);
    performance.mark("moved");
    slider.dispatchEvent(new Event("input", { bubbles: true }));
}"""
ENDED = (
    "body:not([data-asking]) #chip:is([data-state=solved], [data-state=stopped], [data-state=faulty], "
    "[data-state=failed])"
)
MARKS = """() => {
    const at = name => {
        const found = performance.getEntriesByType("mark").filter(mark => mark.name.endsWith(name));
        return found.length ? found.at(-1).startTime : null;
    };
    return [at("moved"), at("-pressed"), at("-solved"), document.getElementById("chip").dataset.state];
}"""


def moves(count: int, seed: int) -> list[tuple[str, float]]:
    """Draw moves: a key and its value; every fifth is a sharp bite."""
    dice = random.Random(seed)
    drawn = []
    for number in range(count):
        key = "rim.bite_radius_mm" if number % 5 == 4 else dice.choice(sorted(RANGES))
        low, high = SHARP if number % 5 == 4 else RANGES[key]
        drawn.append((key, round(dice.uniform(low, high), 3)))
    return drawn


def timed(page: Any, key: str, value: float) -> tuple[float | None, float | None, str]:
    """Move one slider; seconds to the first picture and to the solution, and how it ended."""
    page.evaluate(MOVE, [key, value])
    page.wait_for_timeout(5)
    page.wait_for_selector(ENDED)
    page.wait_for_timeout(60)  # the frame that marks it
    moved, pressed, solved, state = page.evaluate(MARKS)
    first = pressed if pressed is not None else solved
    return (None if first is None else (first - moved) / 1e3, None if solved is None else (solved - moved) / 1e3, state)


def told(name: str, seconds: list[float]) -> str:
    """Median, 95th percentile and worst, in words."""
    middle, late, worst = np.median(seconds), np.quantile(seconds, 0.95), max(seconds)
    return f"{name:<22} median {middle:.3f} s, 95th percentile {late:.3f} s, worst {worst:.3f} s of {len(seconds)}"


def run(arguments: argparse.Namespace, address: str) -> None:
    """Open the page, move its sliders, print what was measured."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        window = play.chromium.launch(executable_path=chromium(), args=list(ARGUMENTS))
        page = window.new_page(viewport={"width": 1440, "height": 900})
        page.set_default_timeout(120_000)
        page.goto(address)
        page.wait_for_selector(ENDED)
        rows = [(key, value, *timed(page, key, value)) for key, value in moves(arguments.moves, arguments.seed)]
        window.close()
    for key, value, first, whole, state in rows:
        if arguments.each:
            print(f"{key:<28} {value:>8g} {first} {whole} {state}")
    good = [(first, whole) for *_, first, whole, state in rows if state == "solved"]
    print(told("first equilibrium", [first for first, _ in good if first is not None]))
    print(told("with its error", [whole for _, whole in good if whole is not None]))
    print(f"goals {GOALS_S[0]} and {GOALS_S[1]} s; without a result: {len(rows) - len(good)}")


def alone(arguments: argparse.Namespace) -> None:
    """Press the same moves in this process, each begun where the nearest of those before ended; print CPU times."""
    tables, memory, rows = tables_of(read_case(arguments.case)), Memory(None, "alone"), []
    for number, (key, value) in enumerate([("load.force_n", 20.0), *moves(arguments.moves, arguments.seed)]):
        table, name = key.split(".")
        tables[table][name] = value
        case, begun, first = case_from_page(tables), time.process_time(), [0.0]
        place = features(case.problem)

        def hear(news: Any, begun: float = begun, first: list[float] = first) -> None:
            if isinstance(news, AtOnce):
                first[0] = time.process_time() - begun

        found = PressJob(case, memory.start_near(place)).run(hear)
        if isinstance(found, Shown):
            memory.keep_start(place, Start(case.resolved, found.pressed))
            rows.append((first[0], time.process_time() - begun))
        if arguments.each:
            print(f"{key:<28} {value:>8g} {first[0]:.3f} s, {time.process_time() - begun:.3f} s")
        if number == 0:
            rows.clear()  # where the page begins
    print("CPU time, without a page")
    print(told("first equilibrium", [first for first, _ in rows]))
    print(told("with its error", [whole for _, whole in rows]))


def main() -> None:
    """Read the command line, serve the page, measure."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--moves", type=int, default=50)
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--case", default="demo")
    reader.add_argument("--each", action="store_true", help="print every move")
    reader.add_argument("--alone", action="store_true", help="the solver's CPU time alone, no page")
    arguments = reader.parse_args()
    if arguments.alone:
        alone(arguments)
        return
    explore = ("explore", arguments.case, "--no-browser", "--forget", "-q")
    command = [sys.executable, "-m", "labrum.cases.command", *explore]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=dict(os.environ)) as server:
        assert server.stdout is not None
        try:
            run(arguments, server.stdout.readline().strip())
        finally:
            server.terminate()


if __name__ == "__main__":
    main()
