"""The ``[load]`` table: values of one's own over those of a preset."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.faults import Findings
from labrum.cases.case_file.lip import MPA_PER_KPA
from labrum.cases.case_file.schema import HELD, LOAD
from labrum.cases.case_file.tables import read_table
from labrum.cases.library.shelf import library_load, load_names
from labrum.simulate.problem import Aim, Load

FIRST_GUESS_N = 20.0  # where the search for a force begins


@dataclass(frozen=True)
class ReadLoad:
    """What ``[load]`` gave: ``load`` is None where it has faults.

    ``breath_asked_for``: the mouth's pressure stands in the case itself, not in a preset alone.
    """

    load: Load | None
    resolved: dict[str, Any]
    breath_asked_for: bool = False


def read_load(raw: Any, findings: Findings) -> ReadLoad:
    """Read the table, fill it from the preset it names, and note every fault."""
    before = len(findings.faults)
    whole = _over_preset(raw)
    values = read_table(LOAD, whole, ("load",), findings)
    _note_not_one_held(whole, findings)
    if len(findings.faults) > before:
        return ReadLoad(None, {})
    values.pop("preset", None)
    aim = _aim(values)
    load = Load(
        force=FIRST_GUESS_N if aim else values["force_n"],
        mouth_pressure=values["mouth_pressure_kpa"] * MPA_PER_KPA,
        friction=values["friction"],
        muscle_activation=values["muscle_activation"],
        aim=aim,
    )
    return ReadLoad(load, values, "mouth_pressure_kpa" in raw)


def _aim(values: dict[str, Any]) -> Aim | None:
    if "mean_pressure_kpa" in values:
        return Aim("mean_pressure_kpa", values["mean_pressure_kpa"])
    return Aim("sink_mm", values["sink_mm"]) if "sink_mm" in values else None


def _note_not_one_held(raw: Any, findings: Findings) -> None:
    if not isinstance(raw, dict):
        return
    given = [name for name in HELD if name in raw]
    if not given:
        allowed = next(key.allowed for key in LOAD.keys if key.name == HELD[0])
        findings.fault(("load", HELD[0]), "nothing", allowed, "the key is missing")
    for name in given[1:]:
        findings.fault(("load", name), f"{given[0]} besides", f"one of {', '.join(HELD)}", "the others follow from it")


def _over_preset(raw: Any) -> Any:
    """Fill in a preset's values; what is held in place of its force replaces that."""
    preset = raw.get("preset") if isinstance(raw, dict) else None
    if preset is None:
        return raw
    # An unknown preset is a fault of its own; the values it would have given are not missing besides.
    known = isinstance(preset, str) and preset in load_names()
    values = library_load(preset if known else load_names()[0]).values
    kept = {name: value for name, value in values.items() if name not in HELD or not set(HELD) & set(raw)}
    return {**kept, **raw}
