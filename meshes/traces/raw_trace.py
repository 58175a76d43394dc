"""Points of a measured profile in mm, the unit they came in, and how a trace that cannot be used is refused."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from labrum.meshes.arrays import Floats
from labrum.meshes.faults import Fault, GeometryError, printable

CountsFrom = Literal["axis", "anywhere", "unsaid"]

KEY = "rim.trace"
UNITS_MM = {"mm": 1.0, "inch": 25.4, "um": 1e-3, "cm": 10.0, "m": 1000.0}
FEWEST_POINTS = 20
# Nothing a lip is pressed on is smaller or larger across than this.
SMALLEST_MM, LARGEST_MM = 3.5, 110.0
# Nothing of a rim's file lies farther from its origin than this, and no profile is higher or longer than that.
FARTHEST_MM, TALLEST_MM, LONGEST_MM = 10_000.0, 250.0, 1_000.0
LONGEST_WORDS = 300
ASK_UNIT = "name it in the header (r_mm,s_mm or x_in,z_in), or give --unit mm or --unit inch"


@dataclass(frozen=True)
class RawTrace:
    """Points of a file.

    Parameters
    ----------
    points
        (n, 2) mm: across and height, as the file has them.
    counts_from
        What the first column counts from: ``"axis"`` (a radius), ``"anywhere"`` (a place across) or
        ``"unsaid"``.
    unit
        The file's, or the one asked for.
    notes
        What was left out or worked out on the way.
    """

    points: Floats
    counts_from: CountsFrom
    unit: str
    notes: tuple[str, ...] = ()


class TraceError(GeometryError):
    """A trace that cannot be used: every fault, and in ``lines`` the file's line of each, None where it has none."""

    def __init__(self, faults: tuple[Fault, ...], lines: tuple[int | None, ...] = ()) -> None:
        self.lines = lines or (None,) * len(faults)
        super().__init__(faults)


def fault(got: str, allowed: str, hint: str = "") -> Fault:
    """State a fault of the trace as a whole; what is quoted of a file is cut short and safe to print."""
    return Fault(KEY, *(printable(part if len(part) <= LONGEST_WORDS else part[:LONGEST_WORDS] + " ...")
                        for part in (got, allowed, hint)))


def refuse(got: str, allowed: str, hint: str = "") -> TraceError:
    """Make an error of one fault."""
    return TraceError((fault(got, allowed, hint),))


def agreed_unit(said: str | None, asked: str | None, size: float) -> str:
    """Return the unit of the file, or of the user where the file says none; never a guess.

    Raises
    ------
    TraceError
        If neither says one, or they differ; ``size``, the file's greatest number across, lets the hint say
        which would suit.
    """
    if said is not None and asked is not None and said != asked:
        raise refuse(f"--unit {asked} for a file that says {said}", "one unit", "leave --unit out")
    if (unit := said or asked) is not None:
        return unit
    suits = [u for u in ("mm", "inch") if SMALLEST_MM <= size * UNITS_MM[u] <= LARGEST_MM]
    hint = f"; numbers up to {size:.4g} would suit {' or '.join(suits)}" if suits else ""
    raise refuse("no unit in the file", "mm or inch", ASK_UNIT + hint)
