"""Two runs of the suite side by side: the times, and every number against the sum of both estimated errors."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from .table import columns, number

Found = Mapping[str, Any]
COMPARED = ("peak_pressure_error_percent", "cpu_seconds", "wall_seconds", "newton_iterations",
            "most_newton_iterations", "peak_memory_mb", "cold_cpu_seconds", "ratio", "exponent_hold",
            "exponent_iteration", "hold_cpu_seconds", "unknowns")  # fmt: skip


@dataclass(frozen=True)
class Change:
    """A number before and after, and by how much they may differ: the sum of both estimated errors."""

    case: str
    measure: str
    before: float
    after: float
    allowed: float

    @property
    def outside(self) -> bool:
        """Do they differ by more than both errors explain?"""
        return abs(self.after - self.before) > self.allowed

    @property
    def share(self) -> float:
        """The difference as a share of what is allowed."""
        return abs(self.after - self.before) / self.allowed if self.allowed else float("inf") * self.outside


def comparison(before: Found, after: Found) -> str:
    """The tables of two results of the suite."""
    old, new = before["measurements"], after["measurements"]
    left_out = [f"not compared: {name}" for name in strangers(old, new)]
    alike = {label: one for label, one in new.items() if _asked_alike(old.get(label, {}), one)}
    parts = [_heads(before, after), _efforts(old, alike), _numbers(list(changes_of(old, alike))), "\n".join(left_out)]
    return "\n\n".join(part for part in parts if part)


def strangers(before: Mapping[str, Found], after: Mapping[str, Found]) -> list[str]:
    """What only one of the runs has, a case that found no equilibrium say, or was asked otherwise in the two."""
    otherwise = [f"{label}, asked otherwise" for label, old, new in _both(before, after) if not _asked_alike(old, new)]
    names = [{*_names(before)}, {*_names(after)}]
    once = [f"{name}, only {when}" for when, here, there in zip(("before", "after"), names, names[::-1], strict=True)
            for name in sorted(here - there)]  # fmt: skip
    return otherwise + once


def _names(found: Mapping[str, Found]) -> Iterator[str]:
    """Measurements and cases that came to something."""
    return (name for name, one in _flat(found) if "failed" not in one and "failed_because" not in one)


def _asked_alike(before: Found, after: Found) -> bool:
    """Had they the same options, and a floor the same solvers to choose from?"""
    asked = [(one.get("asked"), [solver["name"] for solver in one.get("solvers", [])]) for one in (before, after)]
    return asked[0] == asked[1]


def changes_of(before: Mapping[str, Found], after: Mapping[str, Found]) -> Iterator[Change]:
    """Every number both runs have, case by case."""
    for case, old, new in _both(dict(_numbered(before)), dict(_numbered(after))):
        for measure, first, second in _both(old, new):
            yield Change(case, measure, first["value"], second["value"], first["error"] + second["error"])


def _numbered(found: Mapping[str, Found]) -> Iterator[tuple[str, Found]]:
    """Names of measurements and of the cases in them that have numbers, with these."""
    for label, one in found.items():
        for name, case in ((label, one), *((f"{label}: {key}", part) for key, part in one.get("each", {}).items())):
            if "numbers" in case:
                yield name, case["numbers"]


def _both(before: Found, after: Found) -> Iterator[tuple[str, Any, Any]]:
    for name in before:
        if name in after:
            yield name, before[name], after[name]


def _heads(before: Found, after: Found) -> str:
    commits = [(one["machine"].get("git") or {}).get("commit", "unknown")[:12] for one in (before, after)]
    return f"before: {commits[0]}\nafter:  {commits[1]}"


def _efforts(before: Mapping[str, Found], after: Mapping[str, Found]) -> str:
    rows = []
    for label, old, new in _both(dict(_flat(before)), dict(_flat(after))):
        for key in COMPARED:
            first, second = old.get(key), new.get(key)
            if isinstance(first, int | float) and isinstance(second, int | float):
                ratio = second / first if first else None
                rows.append([label, key, number(first, ".4g"), number(second, ".4g"), number(ratio, ".2f")])
    return columns(["", "", "before", "after", "after/before"], rows)


def _flat(found: Mapping[str, Found]) -> Iterator[tuple[str, Found]]:
    for label, one in found.items():
        yield label, one
        yield from ((f"{label}: {key}", part) for key, part in one.get("each", {}).items())


def _numbers(changes: list[Change]) -> str:
    outside = [change for change in changes if change.outside]
    rows = [
        [change.case, change.measure, f"{change.before:.6g}", f"{change.after:.6g}",
         f"{change.after - change.before:+.2g}", f"{change.allowed:.2g}", "OUTSIDE" if change.outside else ""]
        for change in sorted(changes, key=lambda change: -change.share)
        if change.outside or change.measure == "peak_pressure_kpa"
    ]  # fmt: skip
    cases, flagged = {change.case for change in changes}, {change.case for change in outside}
    told = (
        f"{len(changes)} numbers of {len(cases)} cases; {len(outside)}, in {len(flagged)} cases, differ by more than "
        "both estimated errors; below, those and every peak"
    )
    return f"{told}\n{columns(['', '', 'before', 'after', 'change', 'both errors', ''], rows)}"
