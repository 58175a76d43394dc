"""What a person reads after a sweep, and before one: counts, failures with their reasons, ranges, time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from labrum.cases.solving.result import written_error
from labrum.cases.sweeping.progress import duration
from labrum.cases.sweeping.runner import Row
from labrum.simulate.measures.catalogue import GROUPS

GUESS_S = 4.0
MOST_REASONS = 8


def summary(title: str, rows: Sequence[Row]) -> str:
    """Lay out how many cases came to what, why others failed, and the range of each measure."""
    counts = Counter(row.status for row in rows)
    lines = [title, "  " + ", ".join(f"{count} {status}" for status, count in counts.most_common())]
    reasons = Counter((row.status, row.reason) for row in rows if row.reason)
    for (status, reason), count in reasons.most_common(MOST_REASONS):
        lines.append(f"  {count} x {status}: {reason}")
    if len(reasons) > MOST_REASONS:
        lines.append(f"  and {len(reasons) - MOST_REASONS} more reasons: --export writes each case's")
    return "\n".join([*lines, *_ranges(rows)])


def _ranges(rows: Sequence[Row]) -> list[str]:
    done, errors = [row.measures for row in rows if row.converged], [row.errors for row in rows if row.converged]
    if not done:
        return []
    lines = ["", f"  {'measure':<24}{'least':>10}{'most':>10}  largest +-"]
    for _, entries in GROUPS:
        for entry in entries:
            values = [float(m[entry.name]) for m in done if m.get(entry.name) is not None]  # type: ignore[arg-type]
            if values:
                doubts = [error for one in errors if (error := one.get(entry.name)) is not None]
                largest = f"+-{written_error(max(doubts))}" if doubts else ""
                numbers = f"{min(values):>10.4g}{max(values):>10.4g}  {largest:<10}"
                lines.append(f"  {entry.label:<24}{numbers} {entry.unit}".rstrip())
    return lines


def forecast(rows: Sequence[Row], to_solve: int, mean_seconds: float | None, workers: int) -> str:
    """Say what a sweep would do and how long it may take, and what that rests on."""
    counts = Counter(row.status for row in rows)
    each = GUESS_S if mean_seconds is None else mean_seconds
    basis = "a guess: this store holds no case of this solver" if mean_seconds is None else "the mean of those kept"
    have = ", ".join(f"{count} {status}" for status, count in counts.most_common())
    time = duration(each * to_solve / workers)
    return (
        f"{len(rows)} cases: {have}\n{to_solve} to solve, about {time} on {workers} "
        f"worker{'s' * (workers != 1)} at {each:.1f} s a case ({basis})"
    )
