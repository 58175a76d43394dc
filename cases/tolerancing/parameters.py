"""What may be off in a case: dimensions of the rim by their tolerances, or the lip by what nobody knows of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from labrum.cases.case_file.building import Case
from labrum.cases.case_file.values import nearest
from labrum.cases.exits import CannotDo
from labrum.cases.sweeping.settings import Change
from labrum.cases.tolerancing.tolerances import tolerance_of
from labrum.meshes.machining.iso_2768 import SizeKind

KINDS: dict[str, SizeKind] = {
    "inner_diameter_mm": "length",
    "width_mm": "length",
    "high_point": "length",
    "bite_radius_mm": "radius",
    "inner_crown_radius_mm": "radius",
    "outer_crown_radius_mm": "radius",
    "shoulder_radius_mm": "radius",
}


@dataclass(frozen=True)
class Parameter:
    """A key that is ``nominal`` and may be off by ``half`` either way, anything between being as likely (rectangular).

    ``shown`` says how much, with a unit.
    """

    path: tuple[str, str]
    nominal: float
    half: float
    shown: str

    @property
    def name(self) -> str:
        """The key as in a case file."""
        return ".".join(self.path)

    def change(self, place: float) -> Change:
        """Put the key at a place from -1 to 1 within what is allowed."""
        return Change(self.path, round(self.nominal + place * self.half, 9))


def rim_parameters(case: Case, overall: str, single: Sequence[str]) -> list[Parameter]:
    """Give each dimension of the rim its tolerance: its own, written ``name=0.02mm``, or the overall one.

    Raises
    ------
    CannotDo
        For a rim that has no dimensions, an unknown name, or a tolerance that cannot be read or given.
    """
    rim = case.resolved["rim"]
    if "width_mm" not in rim:
        raise CannotDo("this rim is an outline, not dimensions: there is nothing to give a tolerance to")
    own = dict(_named(text) for text in single)
    found = []
    for name, kind in KINDS.items():
        if isinstance(rim[name], str):  # a flat crown has no radius to be off
            continue
        size = rim[name] * rim["width_mm"] if name == "high_point" else rim[name]
        half = tolerance_of(own.get(name, overall))(size, kind)
        found.append(_parameter(rim, name, half))
    return found


def lip_parameters(thickness_percent: float, stiffness_percent: float) -> list[Parameter]:
    """What is not known of the lip: thickness and stiffness of all its layers, in per cent either way."""
    both = (("thickness_factor", thickness_percent), ("stiffness_factor", stiffness_percent))
    return [Parameter(("lip", name), 1.0, percent / 100, f"{percent:g} %") for name, percent in both if percent > 0]


def _parameter(rim: dict[str, Any], name: str, half: float) -> Parameter:
    own = half / rim["width_mm"] if name == "high_point" else half
    if own >= rim[name]:
        raise CannotDo(f"rim.{name} is {rim[name]:g}: a tolerance of {half:g} mm leaves nothing of it")
    return Parameter(("rim", name), rim[name], own, f"{half:.4g} mm")


def _named(text: str) -> tuple[str, str]:
    name, _, tolerance = text.partition("=")
    name = name.strip().removeprefix("rim.")
    if name not in KINDS:
        near = nearest(name, tuple(KINDS))
        hint = f" did you mean {near}?" if near else ""
        raise CannotDo(f'--dimension "{text}": unknown;{hint} there are: {", ".join(KINDS)}')
    return name, tolerance
