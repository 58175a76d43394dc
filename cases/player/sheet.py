"""Reads a player's sheet: every fault in one pass, each with its line, by the machinery that reads cases."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

from labrum.cases.case_file.faults import Findings, InvalidCase
from labrum.cases.case_file.reading import case_from_table, file_tables, invalid, read_case, text_tables
from labrum.cases.case_file.schema import SCHEMA
from labrum.cases.case_file.tables import read_table
from labrum.cases.case_file.toml_positions import KeyPath
from labrum.cases.case_file.values import nearest, shown
from labrum.cases.library.shelf import demo_names, demo_place, sheet_names, sheet_text
from labrum.cases.places import is_file
from labrum.cases.player.sheet_keys import (
    FORCES,
    MOST_PRESSES,
    PRINTS,
    SHEET_FORCES,
    SHEET_LIPS,
    SHEET_PRESENT,
    SHEET_PRESS,
    SHEET_TOP,
    SINK,
)
from labrum.cases.sweeping.settings import anchored
from labrum.meshes.rims.rim import Rim

TRACES = (".csv", ".dxf")
PRINT_BEYOND_MM = 3.0
"""How far, in radius, a print may lie outside the rim it is said to be of."""


@dataclass(frozen=True)
class KnownRim:
    """A rim that a sheet names: as written there, drawn, and as the ``[rim]`` table of a case that stands anywhere."""

    name: str
    rim: Rim
    table: dict[str, Any]

    @property
    def dimensions(self) -> dict[str, Any] | None:
        """The keys of `labrum.cases.case_file.schema.RIM_DIMENSIONS`; None where the rim is an outline or a trace."""
        return self.table if "width_mm" in self.table else None


@dataclass(frozen=True)
class Press:
    """A known rim pressed into the lip: ``force`` N; ``sink`` and the print's diameters mm, None where not measured."""

    rim: KnownRim
    force: float
    sink: float | None = None
    print_inner: float | None = None
    print_outer: float | None = None

    @property
    def lengths(self) -> tuple[float | None, float | None, float | None]:
        """Sink and the print's inner and outer diameter, mm."""
        return self.sink, self.print_inner, self.print_outer


@dataclass(frozen=True)
class SeenLips:
    """What is known of the lips by looking and measuring, mm; None where it is not known."""

    thickness: float | None = None
    thickness_by: str | None = None
    red_upper: float | None = None
    red_lower: float | None = None


@dataclass(frozen=True)
class Sheet:
    """A player's sheet. ``forces`` N by ``soft``, ``middling`` and ``loud``, only those known; ``file`` names it."""

    file: str
    instrument: str
    alias: str | None = None
    lips: SeenLips = field(default_factory=SeenLips)
    forces: dict[str, float] = field(default_factory=dict)
    presses: tuple[Press, ...] = ()
    present: KnownRim | None = None
    complaints: tuple[str, ...] = ()
    wishes: tuple[str, ...] = ()


def read_sheet(place: str) -> Sheet:
    """Read the sheet at a path, or the shipped one of that name where no such file exists.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    path = Path(place)
    if place in sheet_names() and not is_file(path):
        return sheet_from_text(sheet_text(place), f"{place}.toml", demo_place())
    tables, lines = file_tables(path)
    return _read(tables, lines, str(path), path.parent)


def sheet_from_text(text: str, file: str = "sheet.toml", folder: Path = Path()) -> Sheet:
    """Read a sheet from its text; ``file`` names it in faults, rims' paths count from ``folder``.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    tables, lines = text_tables(text, file)
    return _read(tables, lines, file, folder)


def sheet_from_tables(tables: dict[str, Any], file: str = "sheet", folder: Path = Path()) -> Sheet:
    """Read a sheet from tables already parsed; its faults have no lines.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    return _read(tables, {}, file, folder)


def _read(raw: dict[str, Any], lines: dict[KeyPath, int], file: str, folder: Path) -> Sheet:
    findings = Findings()
    top = read_table(SHEET_TOP, raw, (), findings)
    lips = _lips(raw.get("lips", {}), findings)
    forces = _forces(raw.get("forces", {}), findings)
    presses = _presses(raw.get("press", []), folder, findings)
    present = _present(raw["present"], folder, findings) if "present" in raw else None
    if findings.faults:
        raise invalid(findings, file, lines)
    return Sheet(
        file, top["instrument"], top.get("alias"), lips, forces, presses, present, top["complaints"], top["wishes"]
    )


def _lips(raw: Any, findings: Findings) -> SeenLips:
    values = read_table(SHEET_LIPS, raw, ("lips",), findings)
    if isinstance(raw, dict) and "thickness_mm" in raw and "thickness_by" not in raw:
        allowed = next(key.allowed for key in SHEET_LIPS.keys if key.name == "thickness_by")
        findings.fault(("lips", "thickness_by"), "nothing", allowed, "it is as sure as the way it was measured")
    return SeenLips(
        values.get("thickness_mm"), values.get("thickness_by"), values.get("red_upper_mm"), values.get("red_lower_mm")
    )


def _forces(raw: Any, findings: Findings) -> dict[str, float]:
    values = read_table(SHEET_FORCES, raw, ("forces",), findings)
    known = [(name, values[name]) for name in FORCES if name in values]
    for (before, less), (name, more) in pairwise(known):
        if more <= less:
            findings.fault(("forces", name), shown(more), f"more than {less:g} N, {before}")
    return {name.removesuffix("_n"): value for name, value in known}


def _presses(raw: Any, folder: Path, findings: Findings) -> tuple[Press, ...]:
    if not isinstance(raw, list) or len(raw) > MOST_PRESSES:
        hint = "two brackets: [[press]]" if isinstance(raw, dict) else ""
        findings.fault(("press",), shown(raw), f"up to {MOST_PRESSES} [[press]]", hint)
        return ()
    read = (_press(item, ("press", index), folder, findings) for index, item in enumerate(raw))
    return tuple(press for press in read if press is not None)


def _press(raw: Any, path: KeyPath, folder: Path, findings: Findings) -> Press | None:
    before = len(findings.faults)
    values = read_table(SHEET_PRESS, raw, path, findings)
    if isinstance(raw, dict) and not {SINK, *PRINTS} & set(raw):
        findings.fault(path, "neither a sink nor a print", f"one or more of {', '.join((SINK, *PRINTS))}")
    rim = _rim_at(values["rim"], (*path, "rim"), folder, findings) if "rim" in values else None
    if rim is not None:
        _note_strange_print(values, rim, path, findings)
    if rim is None or len(findings.faults) > before:
        return None
    return Press(rim, values["force_n"], values.get(SINK), *(values.get(name) for name in PRINTS))


def _note_strange_print(values: dict[str, Any], rim: KnownRim, path: KeyPath, findings: Findings) -> None:
    inner, outer = (values.get(name) for name in PRINTS)
    low, high = 2.0 * (rim.rim.bite[0] - PRINT_BEYOND_MM), 2.0 * (rim.rim.outer_radius + PRINT_BEYOND_MM)
    for name in PRINTS:
        if name in values and not low <= values[name] <= high:
            allowed = f"from {low:.4g} to {high:.4g} mm, about where this rim is"
            findings.fault((*path, name), shown(values[name]), allowed, "a diameter, not a radius; of another rim?")
    if inner is not None and outer is not None and outer <= inner:
        findings.fault((*path, PRINTS[1]), shown(outer), f"more than {inner:g} mm, the print's inner diameter")


def _present(raw: Any, folder: Path, findings: Findings) -> KnownRim | None:
    values = read_table(SHEET_PRESENT, raw, ("present",), findings)
    return _rim_at(values["rim"], ("present", "rim"), folder, findings) if "rim" in values else None


def _rim_at(name: str, path: KeyPath, folder: Path, findings: Findings) -> KnownRim | None:
    """The rim of a case, of a shipped case, or of a trace; its own faults become faults of the sheet's key."""
    try:
        case = anchored(_rim_case(name, folder))
    except InvalidCase as error:
        near = nearest(name, demo_names())
        for one in error.faults:
            hint = f'did you mean "{near}"?' if one.fault.key == "file" and near else one.fault.hint
            got = f"{shown(name)}, {one.fault.key}: {one.fault.got}"
            findings.fault(path, got, one.fault.allowed, hint)
        return None
    return KnownRim(name, case.problem.rim, case.resolved["rim"])


def _rim_case(name: str, folder: Path) -> Any:
    if Path(name).suffix.lower() in TRACES:
        table = {"schema": SCHEMA, "rim": {"trace": name}, "lip": {"type": "average"}, "load": {"force_n": 20.0}}
        return case_from_table(table, name, folder)
    if name in demo_names() and not is_file(folder / name):
        return read_case(name)
    return read_case(str(folder / name))
