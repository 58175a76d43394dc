"""What is measured, on how many cores, how exactly; and what each number should be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

EXACTNESS_PERCENT, CORES = (1.0, 0.2), (1, 2)
GROUPS = ("cold", "warm", "history", "sweep", "floor", "growth", "playing", "living", "process")
SIZES, QUICK_SIZES = (5_000, 10_000, 20_000, 40_000, 70_000, 100_000), (5_000, 10_000, 20_000)


@dataclass(frozen=True)
class Measurement:
    """A job of `tests.benchmarks.isolated` with its options; ``group`` is what ``--only`` asks for."""

    label: str
    group: str
    job: str
    cores: int
    options: Mapping[str, Any]


def measurements(quick: bool) -> list[Measurement]:
    """Everything the suite measures; ``quick`` takes one run of each, at 1 % and on one core, and fewer cases."""
    repeats, steps, cases = (1, 3, 4) if quick else (5, 20, 100)
    found = [
        *_varied("cold", quick, repeats=repeats),
        *_varied("warm", quick, repeats=min(repeats, 3)),
        *_varied("history", quick, steps=steps),
        *(_sweep(percent, cores, cases) for percent, cores in _ways(quick)),
        *(_alone(f"floor, {exact:g} %", "floor", percent=exact, repeats=min(repeats, 3)) for exact in _exact(quick)),
        _alone("growth", "growth", unknowns=QUICK_SIZES if quick else SIZES, repeats=min(repeats, 3)),
        _alone("playing", "playing", most=3 if quick else 27),
        _alone("playing, friction 0.3", "playing", most=3 if quick else 27, friction=0.3),
        _alone("living", "living", repeats=min(repeats, 3)),
        _alone("process", "process", repeats=repeats),
    ]
    large = Measurement("100,000 unknowns", "growth", "hundred-thousand", 1, {"unknowns": 100_000})
    return found if quick else [*found, large]


def _exact(quick: bool) -> tuple[float, ...]:
    return EXACTNESS_PERCENT[:1] if quick else EXACTNESS_PERCENT


def _ways(quick: bool) -> Iterator[tuple[float, int]]:
    """Every exactness on every number of cores."""
    for percent in _exact(quick):
        for cores in CORES[:1] if quick else CORES:
            yield percent, cores


def label_of(job: str, percent: float, cores: int) -> str:
    """How a measurement is called."""
    return f"{job}, {percent:g} %, {cores} core{'s' * (cores > 1)}"


def _varied(job: str, quick: bool, **options: Any) -> Iterator[Measurement]:
    for percent, cores in _ways(quick):
        yield Measurement(label_of(job, percent, cores), job, job, cores, {"percent": percent, **options})


def _sweep(percent: float, cores: int, cases: int) -> Measurement:
    options = {"percent": percent, "cases": cases, "workers": cores}
    return Measurement(label_of("sweep", percent, cores), "sweep", "sweep", cores, options)


def _alone(label: str, job: str, **options: Any) -> Measurement:
    return Measurement(label, job, job, 1, options)


@dataclass(frozen=True)
class Goal:
    """What a number of a measurement should be, at most or (``below``) less than ``limit``."""

    what: str
    label: str
    key: str
    limit: float
    below: bool = False

    @property
    def wanted(self) -> str:
        """The goal in signs."""
        return f"{'<' if self.below else '<='} {self.limit:g}"

    def met(self, value: float) -> bool:
        """Is the goal met?"""
        return value < self.limit if self.below else value <= self.limit


def _goals() -> Iterator[Goal]:
    for percent in EXACTNESS_PERCENT:
        cold, warm = (label_of(job, percent, 1) for job in ("cold", "warm"))
        yield Goal(f"Newton iterations from cold at 20 N, {percent:g} %", cold, "newton_iterations", 40, below=True)
        yield Goal(f"Newton iterations from a neighbour, the most, {percent:g} %", warm, "most_newton_iterations", 8)
    yield Goal("exponent of a hold's time over the unknowns", "growth", "exponent_hold", 1.3)
    yield Goal("exponent of an iteration's time over the unknowns", "growth", "exponent_iteration", 1.3)
    yield Goal("a whole process of the demo, CPU s", "process", "cpu_seconds", 0.45)
    yield Goal("peak memory at 100,000 unknowns, MB", "100,000 unknowns", "peak_memory_mb", 500, below=True)


GOALS = tuple(_goals())


def judged(found: Mapping[str, Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Every goal whose number was measured, with the number and whether it is met."""
    return [
        {"what": goal.what, "value": value, "goal": goal.wanted, "met": goal.met(value)}
        for goal in GOALS
        if (value := found.get(goal.label, {}).get(goal.key)) is not None
    ]
