"""What was measured, as tables to read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

Found = Mapping[str, Any]
EFFORT = (
    ("CPU s", "cpu_seconds", ".2f"), ("wall s", "wall_seconds", ".2f"), ("iterations", "newton_iterations", "d"),
    ("peak MB", "peak_memory_mb", ".0f"), ("of it own", "own_memory_mb", ".0f"),
)  # fmt: skip
SHARES = (
    ("assembly %", "assembly_percent"), ("factorisation %", "factorisation_percent"),
    ("contact search %", "contact_search_percent"), ("all else %", "all_else_percent"),
)  # fmt: skip
SHOWN = (
    ("peak kPa", "peak_pressure_kpa", ".2f"),
    ("sink mm", "sink_mm", ".4f"),
    ("intrusion mm", "intrusion_height_mm", ".4f"),
)


def report(result: Found) -> str:
    """All that a run of the suite found."""
    found: Mapping[str, Found] = result["measurements"]
    parts = [
        _machine(result["machine"]), _efforts(found), *_floors(found), *_growths(found), *_cases(found),
        *_sums(found),
        _goals(result["goals"]), *_failures(found),
    ]  # fmt: skip
    return "\n\n".join(part for part in parts if part)


def columns(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Rows under a header, the first column to the left, the others to the right."""
    widths = [max(len(row[place]) for row in (header, *rows)) for place in range(len(header))]

    def line(row: Sequence[str]) -> str:
        first, *rest = (text.rjust(width) for text, width in zip(row, widths, strict=True))
        return "  ".join([first.strip().ljust(widths[0]), *rest]).rstrip()

    return "\n".join([line(header), *(line(row) for row in rows)])


def number(value: float | int | None, how: str) -> str:
    """A number as a table shows it; a dash where there is none."""
    return "-" if value is None else format(value, how)


def _machine(facts: Found) -> str:
    if "failed" in facts:
        return ""
    git = facts["git"] or {"commit": "unknown", "changed": False}
    libraries = ", ".join(f"{name} {version}" for name, version in facts["libraries"].items() if version)
    return (
        f"{facts['started_utc']}  commit {git['commit'][:12]}{', changed' if git['changed'] else ''}\n"
        f"{facts['processor']}, {facts['cores']} cores, load {facts['load_average']:.1f} at the start; "
        f"Python {facts['python']}, {libraries}, BLAS {facts['blas']}"
    )


def _efforts(found: Mapping[str, Found]) -> str:
    rows = [[label, *_effort(one), *_shares(one)] for label, one in found.items() if "shares" in one]
    return columns(["", *(head for head, _, _ in EFFORT), *(head for head, _ in SHARES)], rows) if rows else ""


def _effort(one: Found) -> list[str]:
    return [number(one[key], how) for _, key, how in EFFORT]


def _shares(one: Found) -> list[str]:
    return [number(one["shares"][key], ".1f") for _, key in SHARES]


def _floors(found: Mapping[str, Found]) -> Iterator[str]:
    for label, one in found.items():
        if "floor" in one:
            yield f"{label}\n{_floor(one)}"


def _floor(one: Found) -> str:
    least = one["floor"]
    rows = [
        [entry["name"], number(entry["fresh_seconds"], ".3f"), number(entry["reused_seconds"], ".3f"),
         number(entry["residual"], ".0e"), entry["refused"]]
        for entry in one["solvers"]
    ]  # fmt: skip
    return (
        f"{columns(['solver', 'fresh CPU s', 'analysis kept CPU s', 'residual', 'refused'], rows)}\n"
        f"{one['factorisations']} factorisations on {one['grids']} grids, "
        f"{one['equations_median']:.0f} equations in the middle, {one['equations_most']} at most\n"
        f"fresh {least['fresh_cpu_seconds']:.3f} s ({least['fresh_solver']}), "
        f"analysis kept within a grid {least['reused_cpu_seconds']:.3f} s ({least['reused_solver']})\n"
        f"cold {one['cold_cpu_seconds']:.2f} s = {one['ratio']:.1f} times the floor of {least['cpu_seconds']:.3f} s"
        f"{_missing(one['missing_solvers'])}"
    )


def _missing(names: Sequence[str]) -> str:
    """A floor without the fastest solvers is too high, and the ratio to it flatters."""
    told = "\nNOT THE FLOOR YET: not installed, see requirements.txt beside the suite: "
    return f"{told}{', '.join(names)}" if names else ""


def _growths(found: Mapping[str, Found]) -> Iterator[str]:
    sizes = [size for one in found.values() for size in one.get("sizes", [])]
    if sizes:
        rows = [
            [str(size["unknowns"]), str(size["equations"]), str(size["newton_iterations"]),
             number(size["hold_cpu_seconds"], ".3f"), number(size["iteration_cpu_seconds"], ".4f")]
            for size in sizes
        ]  # fmt: skip
        yield columns(["unknowns", "equations", "iterations", "CPU s a hold", "CPU s an iteration"], rows)
    large = found.get("100,000 unknowns", {})
    if "unknowns" in large:
        yield (
            f"{large['unknowns']} unknowns: {large['peak_memory_mb']:.0f} MB at most, "
            f"{large['own_memory_mb']:.0f} of them beyond the imports; "
            f"{large['iteration_cpu_seconds']:.3f} CPU s an iteration"
        )


def _cases(found: Mapping[str, Found]) -> Iterator[str]:
    for label, one in found.items():
        if "failed_cases" in one:
            rows = [[name, *_case(case)] for name, case in one["each"].items()]
            header = [label, *(head for head, _, _ in SHOWN), "estimate %", "unknowns", "iterations", "CPU s"]
            yield columns(header, rows)


def _case(case: Found) -> list[str]:
    if "failed_because" in case:
        return [*["-"] * len(SHOWN), "no result", "-", "-", "-"]
    shown = [number(case["numbers"].get(key, {}).get("value"), how) for _, key, how in SHOWN]
    return [*shown, number(case["peak_pressure_error_percent"], ".2f"), str(case["unknowns"]),
            str(case["newton_iterations"]), number(case["cpu_seconds"], ".2f")]  # fmt: skip


def _sums(found: Mapping[str, Found]) -> Iterator[str]:
    """What is told in one line: all cases of a set, a sweep's pace and what a second core brings, a whole process."""
    for label, one in found.items():
        if "failed_cases" in one:
            yield (f"{label}: {one['cpu_seconds']:.2f} CPU s, {one['newton_iterations']} iterations, "
                   f"{len(one['each'])} cases, {one['failed_cases']} without a result")  # fmt: skip
        if "cases" in one:
            yield f"{label}: {3600.0 * one['cases'] / one['wall_seconds']:.0f} cases an hour{_gain(found, label)}"
        if "bare_cpu_seconds" in one:
            yield (f"{label}: {one['cpu_seconds']:.2f} CPU s in all, "
                   f"{one['bare_cpu_seconds']:.2f} of them to start Python, numpy and typer")  # fmt: skip


def _gain(found: Mapping[str, Found], label: str) -> str:
    """How many times as fast as on one core, where that was measured."""
    one = found.get(label.replace("2 cores", "1 core"), {})
    if label.endswith("1 core") or "wall_seconds" not in one:
        return ""
    return f", {one['wall_seconds'] / found[label]['wall_seconds']:.2f} times one core's"


def _goals(goals: Sequence[Found]) -> str:
    rows = [[goal["what"], f"{goal['value']:.4g}", goal["goal"], "met" if goal["met"] else "not met"] for goal in goals]
    return columns(["goal", "found", "wanted", ""], rows) if rows else ""


def _failures(found: Mapping[str, Found]) -> Iterator[str]:
    for label, one in found.items():
        if "failed" in one:
            yield f"{label}: not measured: {one['failed']}"
