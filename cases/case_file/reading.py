"""Reads a case file: every fault in one pass, each with its line."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from labrum.cases.case_file.building import Case, build
from labrum.cases.case_file.faults import CaseFault, Findings, InvalidCase, dotted
from labrum.cases.case_file.toml_positions import MOST_PARTS, KeyPath, deep_key, key_lines, line_of
from labrum.cases.case_file.values import nearest, shown
from labrum.cases.library.shelf import demo_names, demo_place, demo_text
from labrum.cases.places import is_file, trouble_with
from labrum.meshes.faults import Fault, printable

LARGEST_BYTES = 256_000
MOST_FAULTS = 100
RESOLVED = "case.resolved.json"
READABLE = "a readable TOML file or the name of a shipped case"


def read_case(place: str) -> Case:
    """Read the case file at a path, or the shipped case of that name where no such file exists.

    The folder of an earlier run, or the resolved case in it, is read as the case of that run, with its own copy of a
    trace.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    path = Path(place)
    if place in demo_names() and not is_file(path):
        return case_from_text(demo_text(place), f"{place}.toml", demo_place())
    if trouble_with(path) == "a directory" and is_file(path / RESOLVED):
        path /= RESOLVED
    data = _file_bytes(path)
    if path.suffix.lower() == ".json":
        return _read_again(path, data)
    return replace(case_from_text(_decoded(data, path), str(path), path.parent), given=data)


def _read_again(path: Path, data: bytes) -> Case:
    """Read a resolved case, as the case file beside it where there is one: it says what came from the library."""
    raw = _json_tables(path, data)
    given = path.with_name("case.toml")
    if path.name != RESOLVED or not is_file(given):
        return replace(_checked(raw, path.parent, path.stem, str(path), None), given=data)
    tables, lines = file_tables(given)
    if isinstance(rim := raw.get("rim"), dict) and "trace" in rim:
        tables = {**tables, "rim": {**tables.get("rim", {}), "trace": rim["trace"]}}
    case = _checked(tables, path.parent, str(raw.get("title", given.stem)), str(given), lines)
    return replace(case, given=_file_bytes(given))


def _json_tables(path: Path, data: bytes) -> dict[str, Any]:
    text = _decoded(data, path)
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise _no_resolved_case(path, f"no JSON ({error})") from None
    if not isinstance(raw, dict):
        raise _no_resolved_case(path, shown(raw))
    return raw


def _no_resolved_case(path: Path, got: str) -> InvalidCase:
    return InvalidCase((CaseFault(str(path), None, Fault("file", got, "the tables of a resolved case, in JSON")),))


def case_from_text(text: str, file: str = "case.toml", folder: Path = Path()) -> Case:
    """Read a case from its text; ``file`` names it in faults, ``folder`` is where a trace's path counts from.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    raw, lines = text_tables(text, file)
    case = _checked(raw, folder, printable(Path(file).stem), file, lines)
    return replace(case, given=text.encode())


def case_from_table(raw: dict[str, Any], file: str = "case", folder: Path = Path()) -> Case:
    """Build a case from tables already parsed, such as a resolved case; its faults have no lines.

    Raises
    ------
    InvalidCase
        With every fault found.
    """
    return _checked(raw, folder, file, file, None)


def file_tables(path: Path) -> tuple[dict[str, Any], dict[KeyPath, int]]:
    """Parse a TOML file to its tables and the line each key stands on.

    Raises
    ------
    InvalidCase
        If the file cannot be read or is not TOML.
    """
    return text_tables(_decoded(_file_bytes(path), path), str(path))


def _checked(
    raw: dict[str, Any], folder: Path, title: str, file: str, lines: dict[KeyPath, int] | None
) -> Case:
    findings = Findings()
    case = build(raw, folder, title, findings)
    if case is None:
        raise invalid(findings, file, lines)
    return replace(case, warnings=tuple(f"{dotted(path)}: {text}" for path, text in findings.remarks))


def invalid(findings: Findings, file: str, lines: dict[KeyPath, int] | None) -> InvalidCase:
    """What to raise for the faults found in a file, in its order; ``lines`` is None where it was no text."""
    placed = [(None if lines is None else line_of(lines, path), fault) for path, fault in findings.faults]
    faults = [CaseFault(file, line, fault) for line, fault in sorted(placed, key=lambda p: p[0] or 0)]
    return InvalidCase(tuple(few_of(faults)))


def _file_bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise _unreadable(path, trouble_with(path) or str(error)) from None
    if len(data) > LARGEST_BYTES:
        raise _unreadable(path, f"more than {LARGEST_BYTES} bytes")
    return data


def _decoded(data: bytes, path: Path) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        fault = Fault("file", f"byte 0x{data[error.start]:02x}", "a text in UTF-8", "save the file as UTF-8")
        raise InvalidCase((CaseFault(str(path), line, fault),)) from None


def _unreadable(path: Path, got: str) -> InvalidCase:
    near = nearest(str(path), demo_names()) if got == "no such file" else None
    names = ", ".join(demo_names())
    hint = f'did you mean "{near}"?' if near else f"shipped cases: {names}" if got == "no such file" else ""
    return InvalidCase((CaseFault(str(path), None, Fault("file", got, READABLE, hint)),))


def few_of(faults: list[CaseFault]) -> list[CaseFault]:
    """Keep as many faults as a person may want to see, and count the others."""
    others = len(faults) - MOST_FAULTS
    if others <= 0:
        return faults
    return [*faults[:MOST_FAULTS], CaseFault(faults[0].file, None, Fault("file", f"{others} more faults", "none"))]


def text_tables(text: str, file: str) -> tuple[dict[str, Any], dict[KeyPath, int]]:
    """Parse a TOML text to its tables and the line each key stands on; ``file`` names it in faults.

    Raises
    ------
    InvalidCase
        If it is not TOML.
    """
    if (deep := deep_key(text)) is not None:
        fault = Fault("syntax", "a key of many parts", f"keys of at most {MOST_PARTS} parts")
        raise InvalidCase((CaseFault(file, deep, fault),))
    try:
        return tomllib.loads(text), key_lines(text)
    except RecursionError:
        fault, line = Fault("file", "brackets within brackets without end", "valid TOML"), 1
    except ValueError as error:
        fault, line = _syntax_fault(text, str(error))
    raise InvalidCase((CaseFault(file, line, fault),))


def _syntax_fault(text: str, message: str) -> tuple[Fault, int]:
    place = re.search(r"\(at line (\d+), column (\d+)\)", message)
    rows = text.splitlines() or [""]
    line = min(int(place[1]), len(rows)) if place else len(rows)
    reason = message.partition(" (at ")[0].lower()
    got = shown(rows[line - 1].strip())
    return Fault("syntax", got, "valid TOML", f"{reason}, column {place[2]}" if place else reason), line


def read_all(places: Sequence[str]) -> list[Case]:
    """Read several cases, or raise `InvalidCase` with the faults of all of them, each once."""
    cases: list[Case] = []
    faults: list[CaseFault] = []
    for place in places:
        try:
            cases.append(read_case(place))
        except InvalidCase as error:
            faults += error.faults
    if faults:
        raise InvalidCase(tuple(dict.fromkeys(faults)))
    return cases
