"""What a living lip costs, against an older checkout: ``python -m tests.benchmarks.living_cost --before LABRUM``.

LABRUM is the command of the other checkout's own virtual environment. Both solve the same case files in turn, so that
what else the machine does falls on both alike, each in a process of its own; what is told is that process's CPU time
less that of one that only tells its version. The files use keys that the first living lips had, so the ratio holds what
the model itself has become, too.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median

RIM = "[rim]\ninner_diameter_mm = 16.5\nwidth_mm = 5.2\nbite_radius_mm = 0.6\n"
LIPS = ("thin", "average", "fleshy")
NOT_CONVERGED = 4


def cases() -> Iterator[tuple[str, str]]:
    """Yield each case's name and text: three lips, without friction and with, a muscle that pulls less and more."""
    for lip in LIPS:
        for friction in (0.0, 0.15):
            for activation in (0.15, 0.3):
                yield f"{lip}, friction {friction:g}, activation {activation:g}", (
                    f'schema = 1\ntitle = "living"\n{RIM}[lip]\ntype = "{lip}"\nbacking = "sliding"\n'
                    "tooth_gap_radius_mm = 6.0\nopening_radius_mm = 1.5\n[load]\nforce_n = 20.0\n"
                    f"mouth_pressure_kpa = 4.0\nfriction = {friction}\nmuscle_activation = {activation}\n"
                )


def spent(command: str, words: tuple[str, ...], place: Path) -> float | None:
    """CPU seconds of one process; None where the case did not converge.

    Raises
    ------
    RuntimeError
        Where the command ends in any other way than with a result.
    """
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run((command, *words), cwd=place, env={**os.environ, **threads}, capture_output=True, text=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode not in (0, NOT_CONVERGED):
        raise RuntimeError(f"{command} {' '.join(words)}: {done.stderr.strip()}")
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds if done.returncode == 0 else None


def measured(commands: tuple[str, str], words: tuple[str, ...], place: Path, repeats: int) -> list[float | None]:
    """Median CPU seconds of each command, the two taken in turn."""
    taken = [[spent(command, words, place) for command in commands] for _ in range(repeats)]
    medians: list[float | None] = []
    for column in zip(*taken, strict=True):
        known = [seconds for seconds in column if seconds is not None]
        medians.append(median(known) if len(known) == repeats else None)
    return medians


def told(name: str, seconds: list[float | None], idle: list[float | None]) -> str:
    """One line: what each took beside its imports, and the ratio."""
    net = [None if took is None or rest is None else took - rest for took, rest in zip(seconds, idle, strict=True)]
    words = ["   lost" if took is None else f"{took:7.2f}" for took in net]
    before, after = net
    ratio = "" if before is None or after is None else f"{before / after:8.2f}"
    return f"{name:44s} {words[0]} {words[1]} {ratio}"


def main() -> None:
    """Read the command line, measure and print."""
    parser = argparse.ArgumentParser("python -m tests.benchmarks.living_cost", description="Cost of a living solve.")
    parser.add_argument("--before", required=True, metavar="LABRUM", help="the other checkout's .venv/bin/labrum")
    parser.add_argument("--after", default=str(Path(sys.executable).with_name("labrum")), metavar="LABRUM")
    parser.add_argument("--repeats", type=int, default=5)
    asked = parser.parse_args()
    commands = (asked.before, asked.after)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        idle = measured(commands, ("--version",), place, asked.repeats)
        print(f"{'CPU s, one core, medians':44s}  before   after    ratio", flush=True)
        for name, text in cases():
            (place / "case.toml").write_text(text, encoding="utf-8")
            seconds = measured(commands, ("solve", "case.toml", "--json"), place, asked.repeats)
            print(told(name, seconds, idle), flush=True)


if __name__ == "__main__":
    main()
