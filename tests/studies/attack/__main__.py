"""Attack every entry with mutated inputs and count what must not happen: ``python -m tests.studies.attack``.

Each process takes the entries in turn, mutates what it has, and keeps an input that takes a branch of the program
which none before it took (Python 3.12; on 3.11 the inputs are not guided). What an entry does with an input is watched:
an exception that is no refusal in words, more than 10 s of processor time, more than 1 GB, a character in what is told
that steers a terminal, a file where none may be.

    python -m tests.studies.attack --processes 15 --seconds 480 --out attack
    python -m tests.studies.attack --replay attack/found/DXF-3f2a.bin

OUT keeps the corpus, from which the next run goes on, and what was found, each input once for each place in the code.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import time
from collections import Counter
from pathlib import Path

from tests.studies.attack.attacker import attack, sandbox
from tests.studies.attack.entries import entries, stand_in

COLUMNS = ("inputs", "exceptions", "over 10 s", "over 1 GB", "control characters", "files elsewhere", "died")
SILENT_S = 90.0


def watch(out: Path, processes: int, seconds: float, seed: int) -> None:
    """Keep so many processes at it; one that dies, or says nothing for long, is counted and another takes its place."""
    ends, context, begun = time.monotonic() + seconds, multiprocessing.get_context("spawn"), 0
    team: dict[int, multiprocessing.process.BaseProcess] = {}
    while team or time.monotonic() < ends:
        while len(team) < processes and time.monotonic() < ends:
            team[begun] = context.Process(target=attack, args=(out, begun, ends - time.monotonic(), seed))
            team[begun].start()
            begun += 1
        time.sleep(1.0)
        for number, process in list(team.items()):
            now = out / f"now-{number}"
            if process.is_alive() and now.exists() and time.time() - now.stat().st_mtime > SILENT_S:
                process.kill()
                process.join()
            if not process.is_alive():
                del team[number]
                if process.exitcode != 0:
                    _died(out, now, process.exitcode)


def _died(out: Path, now: Path, code: int | None) -> None:
    name, _, content = now.read_bytes().partition(b"\n") if now.exists() else (b"start", b"", b"")
    place = out / "found" / f"{name.decode()}-died-{now.name}.bin"
    place.write_bytes(content)
    place.with_suffix(".txt").write_text(f"the process ended with {code}")
    now.unlink(missing_ok=True)


def table(out: Path) -> str:
    """What all processes of a run counted, by entry."""
    counts: dict[str, Counter[str]] = {}
    slowest: dict[str, float] = {}
    for place in out.glob("counts-*.json"):
        told = json.loads(place.read_text())
        for name, some in told["counts"].items():
            counts.setdefault(name, Counter()).update(some)
        for name, took in told["slowest"].items():
            slowest[name] = max(took, slowest.get(name, 0.0))
    for place in (out / "found").glob("*-died-*.bin"):
        counts.setdefault(place.name.split("-")[0], Counter())["died"] += 1
    rows = [[name, *(counts[name][column] for column in COLUMNS), f"{slowest.get(name, 0.0):.2f}"] for name in counts]
    total = [sum(counts[name][column] for name in counts) for column in COLUMNS]
    head = ["entry", *COLUMNS, "slowest, CPU s"]
    lines = [head, ["---"] * len(head), *rows, ["all", *total, f"{max(slowest.values(), default=0.0):.2f}"]]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def _read() -> argparse.Namespace:
    parser = argparse.ArgumentParser("python -m tests.studies.attack", description="Mutated inputs for every entry.")
    parser.add_argument("--processes", type=int, default=1, help="set OMP_NUM_THREADS=1 beside it")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("attack"))
    parser.add_argument("--replay", type=Path, metavar="INPUT", help="take one kept input; what it raises is seen")
    return parser.parse_args()


def main() -> None:
    """Read the command line and do what it asks."""
    asked = _read()
    if asked.replay is not None:
        content = asked.replay.read_bytes()
        stand_in()
        with sandbox():
            print(ascii(entries()[asked.replay.name.split("-")[0]].take(content)))
        return
    out = asked.out.absolute()
    for name in ("found", *(f"corpus/{name}" for name in entries())):
        (out / name).mkdir(parents=True, exist_ok=True)
    for old in out.glob("counts-*.json"):
        old.unlink()
    watch(out, asked.processes, asked.seconds, asked.seed)
    print(table(out))


if __name__ == "__main__":
    main()
