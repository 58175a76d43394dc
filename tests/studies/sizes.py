"""What it takes to refuse, or to read, inputs that are made to be too much: ``python -m tests.studies.sizes``.

Every input is as large as the limits on files let through, or larger. Processor time, most of three.
"""

from __future__ import annotations

import math
import random
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import ezdxf

from labrum.cases.case_file.reading import case_from_text
from labrum.cases.exits import BadInput
from labrum.cases.sweeping.plan import read_plan
from labrum.meshes.faults import GeometryError
from labrum.meshes.traces.files import read_file
from labrum.meshes.traces.trace import measured_rim
from tests.meshes.traces.test_gauge_hostile_drawings import bomb, crowd, hedge, lattice, tower

RIM = "[rim]\ninner_diameter_mm = 16.5\nwidth_mm = 5.2\n"
LIP = '[lip]\ntype = "average"\n'
LOAD = "[load]\nforce_n = 20.0\n"
_CHANCE = random.Random(1)
Job = Callable[[Path], object]


def _case(text: str) -> Job:
    return lambda folder: case_from_text(text, "case.toml", folder)


def _outline(count: int) -> Job:
    rows = ",".join(f"[{5 + 10 * (i % 2)}, {(7 * i) % 10}, 0.3]" for i in range(count))
    return _case(f"schema = 1\n[rim]\noutline_mm = [{rows}]\n{LIP}{LOAD}")


def _layers(count: int) -> Job:
    layer = "[[lip.layer]]\nthickness_mm = 0.5\nshear_modulus_kpa = 10.0\n"
    return _case(f"schema = 1\n{RIM}{layer * count}{LOAD}")


def _plan(vary: str) -> Job:
    def read(folder: Path) -> object:
        (folder / "plan.toml").write_text(f'schema = 1\ncase = "demo"\n[vary]\n{vary}')
        return read_plan(folder / "plan.toml")

    return read


def _csv(row: Callable[[int], str], count: int) -> Job:
    text = "x_mm,z_mm\n" + "\n".join(row(i) for i in range(count))

    def read(folder: Path) -> object:
        (folder / "a.csv").write_text(text)
        return measured_rim(folder / "a.csv", "mm")

    return read


def _drawing(draw: Callable[[ezdxf.document.Drawing], object]) -> Job:
    def read(folder: Path) -> object:
        if not (folder / "a.dxf").exists():
            document = ezdxf.new("R2010")
            document.units = 4
            draw(document)
            document.saveas(folder / "a.dxf")
        return read_file(folder / "a.dxf")

    return read


MILLION = "rim.width_mm = { from = 4.0, to = 6.0, count = 1000 }\nload.force_n = { from = 1, to = 9, count = 1000 }\n"
INPUTS: dict[str, Job] = {
    "outline of 500 rows that cross": _outline(500),
    "outline of 4,000 rows": _outline(4_000),
    "2,000 layers": _layers(2_000),
    "40 kB of dotted keys": _case(".".join(["a"] * 20_000) + " = 1\n"),
    "250 kB of brackets": _case("a = " + "[" * 125_000 + "]" * 125_000 + "\n"),
    "250 kB of tables": _case("".join(f"[rim.t{i}]\n" for i in range(19_000))),
    "plan of a million cases": _plan(MILLION),
    "plan of a list of 10,001 values": _plan(f"load.force_n = {[1 + i / 1000 for i in range(10_001)]}\n"),
    "CSV of 99,999 points to and fro": _csv(lambda i: f"{(8 + i % 7) * (-1) ** i},{(i * 37) % 11}", 99_999),
    "CSV of 99,999 points at random": _csv(lambda i: f"{_CHANCE.uniform(-13, 13)},{_CHANCE.uniform(0, 3)}", 99_999),
    "CSV of 20,000 points on a sine": _csv(lambda i: f"{13 - 1.3e-3 * i:.4f},{math.sin(0.1 * i):.5f}", 20_000),
    "CSV of 200,000 rows of words": _csv(lambda i: "a,b", 200_000),
    "DXF: ten blocks of ten of ten …": _drawing(bomb),
    "DXF: a lattice of 900 million": _drawing(lattice),
    "DXF: blocks 40 deep": _drawing(tower),
    "DXF: 3,000 lines from one point": _drawing(crowd),
    "DXF: 4,000 lines and a zigzag": _drawing(hedge),
    "DXF: 20,000 lines": _drawing(
        lambda d: [d.modelspace().add_line((8, 1e-4 * i), (9, 1e-4 * i)) for i in range(20_000)]
    ),
    "DXF: a line of a kilometre": _drawing(lambda d: d.modelspace().add_line((8, 0), (1e6, 0))),
}


def taken(job: Job) -> tuple[float, str]:
    """Most processor time of three, s, and what was said."""
    most, words = 0.0, "read"
    with tempfile.TemporaryDirectory() as folder:
        for again in range(4):
            started = time.process_time()
            try:
                job(Path(folder))
            except (BadInput, GeometryError) as error:
                words = str(error).splitlines()[0]
            most = max(most, time.process_time() - started) if again else 0.0  # the first writes what it reads
    return most, words


def main() -> None:
    """Print the table."""
    print("| input | CPU s | what is said |\n| --- | --- | --- |")
    for name, job in INPUTS.items():
        seconds, words = taken(job)
        print(f"| {name} | {seconds:.2f} | {words[-110:]} |", flush=True)


if __name__ == "__main__":
    main()
