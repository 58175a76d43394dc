"""Every fault of a case file, gathered in one pass, each with its place."""

from __future__ import annotations

import re
from dataclasses import dataclass

from labrum.cases.case_file.toml_positions import KeyPath
from labrum.cases.exits import BadInput
from labrum.meshes.faults import Fault, printable


@dataclass(frozen=True)
class CaseFault:
    """A fault and where it stands; ``line`` is None where the case did not come from a text."""

    file: str
    line: int | None
    fault: Fault

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        hint = f" ({self.fault.hint})" if self.fault.hint else ""
        return printable(f"{place}: {self.fault.key}: got {self.fault.got}, allowed {self.fault.allowed}{hint}")


class InvalidCase(BadInput):
    """A case that cannot be used: every fault found, in the order of the file."""

    def __init__(self, faults: tuple[CaseFault, ...]) -> None:
        self.faults = faults
        super().__init__("\n".join(str(fault) for fault in faults))

    def __reduce__(self) -> tuple[type[InvalidCase], tuple[tuple[CaseFault, ...]]]:
        """Let the exception cross a process border."""
        return type(self), (self.faults,)


class Findings:
    """What a reading turns up: faults, which stop it in the end, and remarks, which do not."""

    def __init__(self) -> None:
        self.faults: list[tuple[KeyPath, Fault]] = []
        self.remarks: list[tuple[KeyPath, str]] = []

    def fault(self, path: KeyPath, got: str, allowed: str, hint: str = "") -> None:
        """Note that the value at ``path`` cannot be used."""
        self.faults.append((path, Fault(dotted(path), got, allowed, hint)))

    def adopt(self, fault: Fault) -> None:
        """Note a fault found by another part of the house, under the key it names."""
        self.faults.append((path_of(fault.key), fault))

    def remark(self, path: KeyPath, text: str) -> None:
        """Note something that deserves a second look."""
        self.remarks.append((path, text))


def dotted(path: KeyPath) -> str:
    """Write a path as one key, elements counted from 0: ``lip.layer[1].thickness_mm``."""
    text = "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in path)
    return printable(text.removeprefix(".")) or "file"


def path_of(key: str) -> KeyPath:
    """Read back what `dotted` writes."""
    parts = re.findall(r"\[(\d+)\]|([^.\[\]]+)", key)
    return tuple(int(index) if index else name for index, name in parts)
