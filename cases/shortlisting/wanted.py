"""What a complaint or a wish wants of another rim, and what must not get worse on the way to it.

All amounts are judgement, no source: what counts as a relief is about what a player tells apart with ease, what is
allowed to get worse is less than that.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from labrum.cases.exits import NoEquilibrium
from labrum.cases.player.playing import LIVING_ONLY
from labrum.cases.player.sheet import Sheet
from labrum.simulate.measures.catalogue import CATALOGUE, Measures


@dataclass(frozen=True)
class Restraint:
    """A measure that may not move the way of ``sign`` (0: either way) by more than ``amount``, or that ``share``."""

    measure: str
    sign: float
    amount: float
    share: bool = False

    def words(self) -> str:
        """Say it: ``crest more by at most 0.05 mm``."""
        way = {1.0: "more", -1.0: "less", 0.0: "moved"}[self.sign]
        return f"{CATALOGUE[self.measure].label} {way} by at most {_amount(self)}"


@dataclass(frozen=True)
class Want:
    """A measure that is to be more (``sign`` 1) or less (-1) by ``amount``, in its unit, or as a ``share`` of it.

    With ``most`` that is enough: no more than ``most`` is wanted. ``terms`` are restraints of its own, in place of the
    usual one on a measure where there is one.
    """

    name: str
    measure: str
    sign: float
    amount: float
    share: bool = False
    most: float | None = None
    terms: tuple[Restraint, ...] = ()

    def words(self) -> str:
        """Say it: ``peak pressure less by 10 %``."""
        return f"{CATALOGUE[self.measure].label} {'more' if self.sign > 0 else 'less'} by {_amount(self)}"


LESS_RIM = (
    Restraint("bearing_area_mm2", -1.0, 0.15, share=True),
    Restraint("peak_pressure_kpa", 1.0, 0.10, share=True),
    Restraint("felt_diameter_mm", 0.0, 0.025, share=True),
    Restraint("contact_inner_radius_mm", -1.0, 0.05),
)
"""What a narrower rim costs: it bears on less, presses harder, and about the same bite it is felt smaller. A lip is not
freed by taking room from it, so the room inside the rim is held."""
WANTS = {
    want.name: want
    for want in (
        Want("cuts", "peak_pressure_kpa", -1.0, 0.10, share=True),
        Want("tires", "bearing_area_mm2", 1.0, 0.06, share=True),
        Want("pins", "closing_travel_ratio", 1.0, 0.02, terms=LESS_RIM),
        Want("falls in", "height_past_high_point_mm", -1.0, 0.10),
        Want("touches the cup", "cup_clearance_mm", 1.0, 0.20),
        Want("feels small", "felt_diameter_mm", 1.0, 0.20, most=0.50),
        Want("feels large", "felt_diameter_mm", -1.0, 0.20, most=0.50),
        Want("unsteady", "edge_drift_mm_per_10n", -1.0, 0.10),
        Want("more room", "contact_inner_radius_mm", 1.0, 0.10, most=0.50),
    )
}
"""What would answer a complaint or the wish for room."""
INSTEAD = {
    "edge_drift_mm_per_10n": ("felt_drift_mm_per_10n", 0.02),
    "cup_clearance_mm": ("cup_wall_reach_mm", -0.10),
}
"""What is looked at, and by how much it counts, where a measure does not apply or has nothing left to give; a negative
amount turns the sign."""
EMPTY_AT_NOUGHT = ("cup_clearance_mm",)
"""At nought there is none left, however much more would be wanted."""
RESTRAINTS = (
    Restraint("peak_pressure_kpa", 1.0, 0.03, share=True),
    Restraint("skin_stretch_max", 1.0, 0.02, share=True),
    Restraint("bearing_area_mm2", -1.0, 0.03, share=True),
    Restraint("felt_diameter_mm", 0.0, 0.25),
    Restraint("height_past_high_point_mm", 1.0, 0.10),
    Restraint("closing_travel_ratio", -1.0, 0.03),
    Restraint("edge_drift_mm_per_10n", 1.0, 0.10),
)
"""What is held whatever is wanted, but for the way that is wanted itself."""
SAME_FEEL_MM = 0.10
"""How far the felt diameter may move where the feel is to be kept."""
HELD_BY_WISH = {"keep the diameter": ("inner_diameter_mm",), "keep the feel": ("bite_radius_mm",)}
"""Dimensions that a wish takes as they are."""


@dataclass(frozen=True)
class Brief:
    """All that is asked of another rim; ``held`` are dimensions by the wish that holds them."""

    wants: tuple[Want, ...]
    restraints: tuple[Restraint, ...]
    held: Mapping[str, str]


def brief_of(sheet: Sheet) -> Brief:
    """Turn the complaints and wishes of a sheet into what is asked."""
    wants = tuple(WANTS[name] for name in (*sheet.complaints, *sheet.wishes) if name in WANTS)
    moved = {want.measure: want.sign for want in wants}
    kept = [_eased(one, moved.get(one.measure)) for one in _on_terms(wants)]
    restraints = tuple(one for one in kept if one is not None)
    if "keep the feel" in sheet.wishes:
        felt = "felt_diameter_mm"
        restraints = tuple(
            replace(one, amount=SAME_FEEL_MM, share=False) if one.measure == felt else one for one in restraints
        )
    restraints += tuple(Restraint(one.measure, one.sign, one.most) for one in wants if one.most is not None)
    held = {key: wish for wish in sheet.wishes for key in HELD_BY_WISH.get(wish, ())}
    return Brief(wants, restraints, held)


def _on_terms(wants: Sequence[Want]) -> list[Restraint]:
    """What is held whatever is wanted, but on the terms of what is wanted."""
    own = {one.measure: one for want in wants for one in want.terms}
    return [*(one for one in RESTRAINTS if one.measure not in own), *own.values()]


def _eased(one: Restraint, wanted: float | None) -> Restraint | None:
    """A restraint without the way that is wanted; None where nothing is left of it."""
    if wanted is None:
        return one
    return replace(one, sign=-wanted) if one.sign in (0.0, -wanted) else None


def that_can_be_told(brief: Brief, still: Measures, playing: Measures) -> tuple[Brief, tuple[str, ...]]:
    """The brief by measures that the present rim has, and what of it had to be left out.

    Measures are those of the lip held ``still``, and of the ``playing`` lip for those that only it has.

    Raises
    ------
    labrum.cases.exits.NoEquilibrium
        Where nothing that is wanted can be told.
    """

    def value(measure: str) -> float | None:
        found: float | None = getattr(playing if measure in LIVING_ONLY else still, measure)
        return found

    looked = [_as_told(want, value(want.measure)) for want in brief.wants]
    wants = tuple(want for want in looked if value(want.measure) is not None)
    restraints = tuple(one for one in brief.restraints if value(one.measure) is not None)
    if not wants:
        raise NoEquilibrium("what is complained of cannot be told of the present rim in this lip: no measure applies")
    left = [want.name for want in looked if want not in wants]
    left += [one.words() for one in brief.restraints if one not in restraints]
    return replace(brief, wants=wants, restraints=restraints), tuple(left)


def _as_told(want: Want, value: float | None) -> Want:
    """The want by another measure, where its own does not apply or has nothing left to give."""
    if want.measure not in INSTEAD or (value is not None and not (value == 0.0 and want.measure in EMPTY_AT_NOUGHT)):
        return want
    measure, amount = INSTEAD[want.measure]
    return replace(want, measure=measure, amount=abs(amount), sign=want.sign if amount > 0.0 else -want.sign)


def _amount(one: Want | Restraint) -> str:
    unit = "%" if one.share else CATALOGUE[one.measure].typeset_unit
    return f"{100.0 * one.amount if one.share else one.amount:g} {unit}".rstrip()
