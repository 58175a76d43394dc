"""What ``labrum gauge`` is given: measured profiles, and cases with the rims they draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from labrum.cases.case_file.faults import InvalidCase
from labrum.cases.case_file.reading import read_case
from labrum.cases.exits import BadInput
from labrum.cases.library.shelf import demo_names, demo_place
from labrum.cases.places import is_file, reason_of, trouble_with
from labrum.meshes.rims.rim import Rim
from labrum.meshes.traces.raw_trace import TraceError
from labrum.meshes.traces.trace import MeasuredRim, measured_rim

DEMO = "demo-trace"
CASE_ENDINGS = (".toml", ".json")


@dataclass(frozen=True)
class Profile:
    """A rim to be gauged; ``measured`` is None where it was drawn, ``invented`` what to say of a shipped trace."""

    rim: Rim
    measured: MeasuredRim | None
    invented: str = ""


class BadTraces(BadInput):
    """Files that cannot be gauged: every fault of every file, each with its place."""


def read_profiles(places: Sequence[str], unit: str | None, layer: str | None) -> list[Profile]:
    """Read every file before giving up, so that all faults are told at once.

    A case is a file that ends in .toml or .json, the folder of a run, or the name of a shipped case; one whose rim is a
    trace is gauged as that trace.

    Raises
    ------
    BadTraces
        With the faults of all.
    """
    rims, faults = [], []
    for place in places:
        try:
            rims.append(_read(place, unit, layer))
        except TraceError as error:
            faults += [f"{place}{'' if line is None else f':{line}'}: got {f.got}, allowed {f.allowed}"
                       f"{f' ({f.hint})' if f.hint else ''}" for f, line in zip(error.faults, error.lines, strict=True)]
        except InvalidCase as error:
            faults += str(error).splitlines()
        except (OSError, ValueError) as error:
            got = reason_of(error) if isinstance(error, OSError) else str(error)
            faults.append(f"{place}: got {got}, allowed a readable CSV or DXF file, or a case")
    if faults:
        raise BadTraces("\n".join(faults))
    return rims


def _read(place: str, unit: str | None, layer: str | None) -> Profile:
    path = Path(place)
    if place == DEMO and not is_file(path):
        measured = measured_rim(demo_place() / f"{DEMO}.csv")
        return Profile(measured.rim, measured, f"{DEMO} is an invented rim, not a measured one")
    if not _is_case(place, path):
        measured = measured_rim(path, unit, layer)
        return Profile(measured.rim, measured)
    case = read_case(place)
    if "trace" in case.resolved["rim"]:
        measured = measured_rim(case.inputs[0])
        return Profile(measured.rim, measured)
    return Profile(case.problem.rim, None)


def _is_case(place: str, path: Path) -> bool:
    if path.suffix.lower() in CASE_ENDINGS:
        return True
    return trouble_with(path) == "a directory" or (place in demo_names() and not is_file(path))
