"""What a person reads after a sweep, and before one: counts, failures with their reasons, ranges, time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from operator import itemgetter
from pathlib import Path

from labrum.cases.solving.result import written_error
from labrum.cases.sweeping.plan import SweepPlan
from labrum.cases.sweeping.progress import duration
from labrum.cases.sweeping.runner import Row
from labrum.simulate.measures.catalogue import GROUPS

GUESS_S = 4.0
MOST_REASONS = 8
WIDTHS_OF_A_BAND = 4  # that a band of widths is told from
WHERE = 24  # letters for a rim's settings


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
    """Each measure's least and most, the settings of the rim that has them, and the largest error of all."""
    done = [row for row in rows if row.converged]
    if not done:
        return []
    keys = " / ".join(name.rpartition(".")[2] for name in done[0].member.settings)
    lines = ["", f"  {'measure':<22}{'least':>10}  {'there':<{WHERE}}{'most':>10}  {'there':<{WHERE}}largest +-"]
    for _, entries in GROUPS:
        for entry in entries:
            found = [(float(value), row) for row in done if (value := row.measures.get(entry.name)) is not None]
            doubts = [error for row in done if (error := row.errors.get(entry.name)) is not None]
            if found:
                largest = f"+-{written_error(max(doubts))}" if doubts else ""
                lines.append(f"  {entry.label:<22}{_ends(found)}{largest:<10} {entry.unit}".rstrip())
    lines.append(f"  there: {keys}")
    return lines


def _ends(found: Sequence[tuple[float, Row]]) -> str:
    (least, at_least), (most, at_most) = (pick(found, key=itemgetter(0)) for pick in (min, max))
    if least == most:
        return f"{least:>10.4g}  {'in every case':<{WHERE}}{'':>10}  {'':<{WHERE}}"
    return f"{least:>10.4g}  {_settings(at_least):<{WHERE}}{most:>10.4g}  {_settings(at_most):<{WHERE}}"


def _settings(row: Row) -> str:
    return " / ".join(f"{v:g}" if isinstance(v, int | float) else v for v in row.member.settings.values())


def next_questions(place: Path, plan: SweepPlan, rows: Sequence[Row]) -> str:
    """Tell what may be asked of a sweep next, as commands that will answer; empty where none would."""
    done = [row for row in rows if row.converged]
    values = {name: {row.member.settings[name] for row in done} for name in plan.names}
    several = {name: seen for name, seen in values.items() if len(seen) > 1}
    numbers = [n for n, seen in several.items() if not any(isinstance(v, str) for v in seen)]
    rims = [name for name in numbers if name.startswith("rim.")]
    asked = []
    if len(several.get("rim.width_mm", ())) >= WIDTHS_OF_A_BAND:
        asked.append(f"labrum wide-enough {place}")
    if len(rims) > 1:
        asked.append(f"labrum map {place} {rims[0]} {rims[1]} peak_pressure_kpa{_at(several, rims[:2])}")
    if rims:
        others = [name for name in several if name.startswith("rim.") or "." not in name]
        asked.append(f"labrum trade-off {place}{_at(several, others)}")
    if rims and any(row.measures.get("rocking_stiffness_nmm_per_deg") is not None for row in done):
        asked.append(f"labrum steadiness {place} {rims[0]}")
    return "\n".join(["", "", "What to ask next:", *(f"  {line}" for line in asked)]) if asked else ""


def _at(several: dict[str, set[float | str]], free: Sequence[str]) -> str:
    """Options that fix all but the free names, each at its first value."""
    fixed = {name: sorted(seen, key=str)[0] for name, seen in several.items() if name not in free}
    return "".join(f' --at "{n}={v:g}"' if isinstance(v, int | float) else f' --at "{n}={v}"' for n, v in fixed.items())


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
